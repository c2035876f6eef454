//! `hushtally plan next ANIMAL`

use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::{View, Who, body_of, chart, now, present_plan, print_json_with_alarms};
use crate::audio::choice::DeviceChoice;
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::body::Train;
use crate::history::counted;
use crate::history::next::{self, Next};
use crate::history::planned::Stands;
use crate::known::Known;
use crate::plan::RewardValue;
use crate::run::{Sounds, Tuning, tests_of};
use crate::session::Reason;
use crate::terminal::{say, say_part, tell};
use crate::wording::Wording;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan next Pepino                      the behaviour whose turn it is
  hushtally plan next Pepino --plan pepino.toml   by the plan as it is now
  hushtally plan next Pepino --aloud              read aloud, in two or three sentences
  hushtally plan next Pepino --why                with method and source of each advice")]
pub(crate) struct NextArgs {
    #[command(flatten)]
    who: Who,
    /// Another behaviour than the one whose turn it is
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Read it aloud, too
    #[arg(long)]
    aloud: bool,
    /// Say why: method and source
    #[arg(long)]
    why: bool,
    /// Where it is read: part of the output's name
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_EAR")]
    ear: Option<String>,
    #[command(flatten)]
    view: View,
}

pub(crate) fn run(args: &NextArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let known = Known::read(&store, &args.who.find(&store)?)?;
    let today = now(&Clock::real()).date();
    let turn = args.behaviour.as_deref().or_else(|| next::behaviour(&known.history));
    let plan = present_plan(&known, turn, args.plan.as_deref())?;
    let next = next::plan(&known.history, &plan, &body_of(&known, today), today);
    if args.view.json {
        print_json_with_alarms(&next, "/alarms", &next.animal, &next.alarms)?;
    } else {
        say_part!("{}", text(&next, args.why));
        let goes_on = |(_, stands): &&(_, Stands)| !matches!(stands, Stands::Done(_));
        for (planned, stands) in tests_of(&known, &plan).iter().filter(goes_on) {
            say!("{:9} {}", "Test", stands.said(&planned.change));
        }
    }
    if args.aloud {
        let ear = DeviceChoice::from_setting(args.ear.as_deref());
        let mut sounds =
            Sounds::start(ear, Tuning::default(), Clock::real(), |trouble| tell!("{trouble}"))
                .map_err(anyhow::Error::from)?;
        sounds.say(&Wording::english().next(&next));
        sounds.finish(Duration::from_secs(60));
    }
    Ok(())
}

fn text(next: &Next, why: bool) -> String {
    let mut text = String::new();
    let mut line = |label: &str, says: &str, reason: Option<&Reason>| {
        let because = reason.map_or(String::new(), |reason| format!("; {}", reason.because));
        let _ = writeln!(text, "{label:9} {says}{because}");
        if let Some(reason) = reason.filter(|_| why) {
            let _ = writeln!(text, "{:9}   {}. Source: {}", "", reason.method, reason.source);
        }
    };
    // Before all else.
    let warnings = Wording::english().warnings(&next.animal, &next.alarms);
    for (alarm, says) in next.alarms.iter().zip(&warnings) {
        line("Health", says, why.then_some(&alarm.reason));
    }
    line("Next", &format!("{}, {}", next.animal, next.behaviour), Some(&next.chosen));
    if next.train == Train::NotAtAll {
        line("", "Do not train today.", None);
        return text;
    }
    let wording = Wording::english();
    if next.treats.reps == 0 {
        line("Today", &wording.used_up(), Some(&next.treats.reason));
    }
    if let Some(warm) = &next.warm_up {
        let label = if warm.try_first { "Try first" } else { "Warm up" };
        line(label, &format!("step {}, {}", warm.step, warm.name), Some(&warm.reason));
    }
    let told = wording.decision(&next.decision, Some(&next.work.name));
    line("Work on", &told, Some(&next.work.reason));
    for more in wording.beside(&next.decision) {
        line("", &more, None);
    }
    for earns in &next.earns {
        let label = match earns.value {
            RewardValue::Low => "Low",
            RewardValue::High => "High",
            RewardValue::Jackpot => "Jackpot",
        };
        let pieces =
            if earns.pieces == 1 { String::new() } else { format!(", {} at once", earns.pieces) };
        line(label, &format!("{}{pieces}, for: {}", earns.what, earns.earned_by), None);
    }
    if next.treats.reps > 0 {
        how_much(next, &mut line);
    }
    if let Some(change) = &next.change {
        line(
            "Change",
            &format!("step {}: {}", change.step, change.ways_said()),
            Some(&change.reason),
        );
    }
    for due in &next.due {
        line("Revise", &format!("{}: learnt, and rested for {} days", due.name, due.days), None);
    }
    for tip in &next.watch {
        line("Watch", &tip.says, Some(&tip.reason));
    }
    for tip in &next.film {
        line("Film", &tip.says, Some(&tip.reason));
    }
    text
}

/// What to lay out, and how long.
fn how_much(next: &Next, line: &mut impl FnMut(&str, &str, Option<&Reason>)) {
    let kinds: Vec<String> = next
        .treats
        .kinds
        .iter()
        .filter(|kind| kind.pieces > 0)
        .map(|kind| {
            format!("{} of {}", counted(kind.pieces as usize, "piece", "pieces"), kind.what)
        })
        .collect();
    let kcal =
        next.treats.kcal.map_or(String::new(), |kcal| format!(", {} kcal", chart::tidy(kcal)));
    line("Lay out", &format!("{}{kcal}", kinds.join(", ")), Some(&next.treats.reason));
    let length = &next.length;
    let how_long = format!(
        "{} or {}",
        chart::clock(length.planned_s),
        counted(length.planned_reps as usize, "rewarded try", "rewarded tries")
    );
    line("How long", &how_long, Some(&length.reason));
}
