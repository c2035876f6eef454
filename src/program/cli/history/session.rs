//! `hushtally session ID`

use std::fmt::Write as _;

use clap::Args;
use minijinja::context;
use serde::Serialize;

use super::sessions::Shown;
use super::{View, chart, print_json, wrong};
use crate::cli::Failure;
use crate::history::lapses;
use crate::plan::{RewardValue, Side, Words};
use crate::session::{MissedBecause, Outcome, Rep};
use crate::store::{Filter, Folded, Mark, MarkKind, SessionRow, Store};
use crate::terminal::say_part;
use crate::wording::{Wording, filled, text as said};

/// Seconds of a column of the rate line.
const BIN_S: f64 = 10.0;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally session last                    rep by rep
  hushtally session 0198c0de                by the start of its key, as `hushtally sessions` shows it
  hushtally session last --json")]
pub(crate) struct SessionArgs {
    /// Key of the session, its start, or `last`
    #[arg(value_name = "ID")]
    session: String,
    #[command(flatten)]
    view: View,
}

#[derive(Serialize)]
struct Whole<'a> {
    #[serde(flatten)]
    session: Shown,
    steps: Vec<String>,
    reps: Vec<RepShown<'a>>,
    /// Numbers of the reps, from 1, at which success had fallen below what was usual.
    lapses: Vec<usize>,
    marks: Vec<MarkShown<'a>>,
}

#[derive(Serialize)]
struct RepShown<'a> {
    #[serde(flatten)]
    rep: &'a Rep,
    edited: bool,
}

#[derive(Serialize)]
struct MarkShown<'a> {
    active_s: f64,
    kind: &'static str,
    name: &'a str,
}

pub(crate) fn run(args: &SessionArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let row = find(&store, &args.session)?;
    let folded = store.fold(row.id)?;
    let plan = store.plan_of(row.id)?;
    let (steps, words) = crate::plan::Plan::parse(&plan.file, &plan.text)
        .map(|plan| (plan.steps.into_iter().map(|step| step.name).collect(), plan.words))
        .unwrap_or_else(|_| (Vec::new(), Words::english()));
    if !args.view.json {
        say_part!("{}", chart::fitted(&text(&row, &folded, &steps, &words)));
        return Ok(());
    }
    print_json(&Whole {
        session: Shown::of(&row),
        steps,
        reps: folded
            .reps
            .iter()
            .map(|rep| RepShown { rep: &rep.rep, edited: rep.edited })
            .collect(),
        lapses: lapses_of(&folded).into_iter().map(|place| place + 1).collect(),
        marks: folded
            .marks
            .iter()
            .map(|mark| MarkShown {
                active_s: mark.active.as_secs_f64(),
                kind: mark.kind.name(),
                name: &mark.name,
            })
            .collect(),
    })
}

/// The session by its key, by the start of its key when only one begins so, or the latest.
fn find(store: &Store, asked: &str) -> Result<SessionRow, Failure> {
    let filter = if asked == "last" {
        Filter::latest()
    } else {
        asked.parse().map_or_else(|_| Filter::default(), Filter::session)
    };
    let mut rows = store.sessions(&filter)?;
    if asked != "last" {
        rows.retain(|row| row.id.to_string().starts_with(&asked.to_lowercase()));
    }
    match rows.len() {
        1 => Ok(rows.remove(0)),
        0 if asked == "last" => Err(wrong(said("screen.no_session_yet"))),
        0 => Err(wrong(format!(
            "no session has a key that begins with {asked}; see `hushtally sessions`"
        ))),
        n => Err(wrong(format!("{n} sessions have keys that begin with {asked}; give more of it"))),
    }
}

fn text(row: &SessionRow, folded: &Folded, steps: &[String], words: &Words) -> String {
    let mut text = String::new();
    let values = context! {
        day => row.day.to_string(),
        animal => &row.animal,
        behaviour => &row.behaviour,
        by => &row.person,
        place => &row.place,
    };
    let _ = writeln!(text, "{}", filled("screen.session_of", values));
    if row.source == crate::store::Source::Simulated {
        let _ = writeln!(text, "{}", said("screen.session_invented"));
    }
    let active = folded.active.as_secs_f64();
    let sum = &folded.summary;
    let (tries, time) = (Wording::english().tries(sum.tries), chart::clock(active));
    let _ = writeln!(text, "{}", filled("screen.session_tries", context! { tries, time }));
    let mut begun_by = sum.clone();
    begun_by.was_begun_by(row.person.as_deref());
    for also in Wording::english().also(&begun_by) {
        let _ = writeln!(text, "{also}");
    }
    let bins = (active / BIN_S).ceil().clamp(1.0, 50.0) as usize;
    let width = (active / bins as f64).max(f64::MIN_POSITIVE);
    let mut rewards = vec![0.0; bins];
    for rep in folded.reps.iter().filter(|rep| rep.rep.rewarded()) {
        let bin = (rep.rep.active.as_secs_f64() / width) as usize;
        rewards[bin.min(bins - 1)] += 1.0;
    }
    let most = rewards.iter().copied().fold(1.0, f64::max);
    let shown: Vec<Option<f64>> = rewards.into_iter().map(Some).collect();
    let _ = writeln!(
        text,
        "{}  {}  {}",
        said("screen.session_rewards"),
        chart::sparkline(&shown, 0.0, most, &[]),
        filled("screen.session_column", context! { width_s => width })
    );
    let mut lines: Vec<(f64, String)> = folded
        .reps
        .iter()
        .map(|rep| (rep.rep.active.as_secs_f64(), rep_line(&rep.rep, rep.edited, steps, words)))
        .collect();
    lines.extend(lapses_of(folded).into_iter().map(|place| {
        let at = folded.reps[place].rep.active.as_secs_f64();
        (at, format!("  {}", said("screen.session_fell")))
    }));
    lines.extend(
        folded.marks.iter().filter_map(|mark| Some((mark.active.as_secs_f64(), mark_line(mark)?))),
    );
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (at, line) in lines {
        let _ = writeln!(text, "{:>5}  {line}", chart::clock(at));
    }
    text
}

fn lapses_of(folded: &Folded) -> Vec<usize> {
    let reps: Vec<Rep> = folded.reps.iter().map(|rep| rep.rep.clone()).collect();
    lapses(&reps)
}

fn rep_line(rep: &Rep, edited: bool, steps: &[String], words: &Words) -> String {
    let step = match rep.outcome {
        Outcome::Missed(MissedBecause::HoldRanOut) => rep.working,
        _ => rep.step,
    };
    let values = context! {
        step,
        name => steps.get(usize::from(step.max(1)) - 1),
        jackpot => rep.outcome == Outcome::Rewarded(RewardValue::Jackpot),
        paid => rep.paid_as(words),
        ran_out => rep.outcome == Outcome::Missed(MissedBecause::HoldRanOut),
        side => rep.side.map(|side| if side == Side::Left { "left" } else { "right" }),
        latency_s => rep.latency.map(|latency| latency.as_secs_f64()),
        held_s => rep.duration.map(|held| held.as_secs_f64()),
        edited,
    };
    filled("screen.session_try", values)
}

fn mark_line(mark: &Mark) -> Option<String> {
    let name = &mark.name;
    let what = match mark.kind {
        MarkKind::Nudge => filled("screen.session_nudge", context! { name }),
        MarkKind::Mood | MarkKind::Own | MarkKind::WorksOn => name.clone(),
        MarkKind::Note => filled("screen.log_note", context! { text => name }),
        MarkKind::Step => filled("screen.session_step", context! { name }),
        MarkKind::Doubt => filled("screen.session_not_sure", context! { name }),
        MarkKind::Gap => said("screen.session_no_sound"),
        MarkKind::Trouble => filled("screen.trouble", context! { why => name }),
        MarkKind::TookOver => filled("screen.takes_over", context! { person => name }),
        MarkKind::Finished => said("screen.session_finished"),
        _ => return None,
    };
    Some(format!("  {what}"))
}

#[cfg(test)]
mod tests {
    use super::super::sessions::tests::row;
    use super::*;
    use crate::at::At;
    use crate::chain::LinkScores;
    use crate::plan::Plan;
    use crate::session::Summary;
    use crate::store::{EventId, FoldedRep};
    use std::time::Duration;

    #[test]
    fn a_session_is_told_rep_by_rep() {
        let rep = |at: u64, outcome, side| FoldedRep {
            rep: Rep {
                input: None,
                at: At::from_secs_f64(at as f64),
                active: Duration::from_secs(at),
                working: 1,
                step: 1,
                outcome,
                value_named: false,
                side,
                latency: Some(Duration::from_millis(1_240)),
                duration: None,
                links: LinkScores::default(),
            },
            event: None,
            edited: at == 19,
        };
        let reps = vec![
            rep(4, Outcome::Rewarded(RewardValue::High), Some(Side::Left)),
            rep(8, Outcome::Missed(MissedBecause::Said), None),
            rep(19, Outcome::Rewarded(RewardValue::Jackpot), None),
        ];
        let plan = Plan::of_default_words();
        let only: Vec<Rep> = reps.iter().map(|rep| rep.rep.clone()).collect();
        let at = At::from_secs_f64(12.0);
        let folded = Folded {
            summary: Summary::of(
                &plan,
                &only,
                1,
                Duration::from_secs(30),
                0,
                None,
                None,
                crate::session::Session::new(plan.clone()).decision_on(&only),
            ),
            reps,
            marks: vec![Mark {
                at,
                active: at.elapsed(),
                kind: MarkKind::Nudge,
                name: "rate_falling".into(),
                event: EventId(uuid::Uuid::from_u128(1)),
            }],
            active: Duration::from_secs(30),
            declining_since: None,
            alarms_taken_back: 0,
            ended: None,
            edits: 1,
            aimless: Vec::new(),
        };
        insta::assert_snapshot!(text(&row("2026-01-02"), &folded, &["touches the file".into()], &plan.words), @r#"
        2026-01-02, Pepino: rests a foot, by Ada
        An invented session of the simulated animal.
        3 tries: 2 rewarded, 1 missed in 0:30
        rewards  ██▁  10 s a column
         0:04  high, step 1 touches the file, left, after 1.2 s
         0:08  missed at step 1, after 1.2 s
         0:12    nudge: rate falling
         0:19  JACKPOT, step 1 touches the file, after 1.2 s, corrected later
        "#);
    }
}
