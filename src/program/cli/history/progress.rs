//! `hushtally progress ANIMAL`

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::{View, Who, body_of, chart, now, present_plan, print_json_with_alarms};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::body::Body;
use crate::history::captured::{self, Captured};
use crate::history::change::{self, Change};
use crate::history::closer::{self, Closer, Minutes};
use crate::history::course::Course;
use crate::history::cue::{self, Control, Grid, State};
use crate::history::effects::Shown;
use crate::history::length::{self, Length};
use crate::history::level::Measure;
use crate::history::people::{self, Person};
use crate::history::planned::{self, Planned, Stands};
use crate::history::progress::{self, StepProgress, Verdict};
use crate::history::record::{self, FallBack, StepRecord};
use crate::history::{Found, Ladder, capital, counted};
use crate::known::Known;
use crate::stats::Estimate;
use crate::terminal::say_part;
use crate::wording::Wording;

/// Columns of a step's line of blocks.
const COLUMNS: usize = 60;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally progress Pepino                        the behaviour trained last
  hushtally progress Pepino --behaviour \"targets\"
  hushtally progress Pepino --plan pepino.toml     by the plan as it is now
  hushtally progress Pepino --why                  with numbers, method and source of each statement
  hushtally progress Pepino --json                 all of it, exact")]
pub(crate) struct ProgressArgs {
    #[command(flatten)]
    who: Who,
    /// Another behaviour than the one trained last
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Say why: numbers, method and source
    #[arg(long)]
    why: bool,
    #[command(flatten)]
    view: View,
}

#[derive(Serialize)]
struct Whole {
    animal: String,
    behaviour: String,
    invented: bool,
    sessions: usize,
    working: Option<u8>,
    steps: Vec<StepProgress>,
    record: Vec<StepRecord>,
    gone: std::collections::BTreeMap<String, u32>,
    fall_back: Option<FallBack>,
    change: Option<Change>,
    length: Length,
    closer: Closer,
    people: Vec<Person>,
    control: Control,
    grid: Grid,
    captured: Vec<Captured>,
    tests: Vec<(Planned, Stands)>,
    body: Body,
}

pub(crate) fn run(args: &ProgressArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let known = Known::read(&store, &args.who.find(&store)?)?;
    let today = now(&Clock::real()).date();
    let plan = present_plan(&known, args.behaviour.as_deref(), args.plan.as_deref())?;
    let present = Ladder::of(0, &plan);
    let course = Course::new(&known.history, &plan.behaviour, &present);
    let working = course.working();
    let records = record::steps(&course, today, plan.advice.raise_at);
    let probes = known.probes.get(&plan.behaviour).map_or(&[][..], Vec::as_slice);
    let whole = Whole {
        animal: known.history.animal.clone(),
        behaviour: plan.behaviour.clone(),
        invented: course.sessions.iter().any(|trained| trained.session.invented),
        sessions: course.sessions.len(),
        working,
        steps: progress::steps(&course, &plan.advice),
        fall_back: working.and_then(|step| record::fall_back(&records, step)),
        change: working.and_then(|step| change::advise(&course, step, &plan.advice, today)),
        length: length::advise(&known.history, &plan.behaviour, &plan.limits),
        closer: closer::look(&course, &plan),
        people: people::compare(&course),
        control: cue::control(probes),
        grid: cue::grid(&course, probes),
        captured: captured::of(&known.captured, today),
        tests: planned::of(&course, &known.planned, &plan.behaviour),
        body: body_of(&known, today),
        gone: course.gone.clone(),
        record: records,
    };
    if args.view.json {
        let (animal, alarms) = (&whole.animal, &whole.body.alarms);
        return print_json_with_alarms(&whole, "/body/alarms", animal, alarms);
    }
    say_part!("{}", text(&whole, args.why));
    Ok(())
}

fn text(all: &Whole, why: bool) -> String {
    let mut text = String::new();
    for warning in Wording::english().warnings(&all.animal, &all.body.alarms) {
        let _ = writeln!(text, "Health: {warning}.");
    }
    let sessions = counted(all.sessions, "session", "sessions");
    let _ = writeln!(text, "{}, {}: {sessions}", all.animal, all.behaviour);
    if all.invented {
        let _ = writeln!(text, "Among them invented sessions of a simulated animal.");
    }
    for (step, record) in all.steps.iter().zip(&all.record) {
        step_text(&mut text, step, record, all.working == Some(step.step), why);
    }
    for (name, rewards) in &all.gone {
        let rewards = counted(*rewards as usize, "reward", "rewards");
        let _ = writeln!(text, "\nNo longer in the plan: {name}, {rewards}");
    }
    text.push('\n');
    if let Some(back) = &all.fall_back {
        let says = Wording::english().fall_back(back);
        let _ = writeln!(text, "{}; {}.", capital(&says), back.reason.because);
    }
    let length = &all.length;
    let _ = writeln!(
        text,
        "How long to go on: {} or {}; {}.",
        chart::clock(length.planned_s),
        counted(length.planned_reps as usize, "rewarded try", "rewarded tries"),
        length.reason.because
    );
    closer_text(&mut text, all);
    if let Some(change) = &all.change {
        let _ = writeln!(
            text,
            "Change the plan at step {}: {}. Ways that fit:",
            change.step, change.reason.because
        );
        for fitting in &change.ways {
            let _ = writeln!(text, "  {}: {}", fitting.way.said(), fitting.because);
        }
    }
    for (planned, stands) in &all.tests {
        let _ = writeln!(text, "Tested by lot: {}.", stands.said(&planned.change));
    }
    if all.people.len() > 1 {
        people_text(&mut text, &all.people);
    }
    cue_text(&mut text, &all.control, &all.grid);
    for one in &all.captured {
        let per_day = one.per_day.known().map_or(0.0, |rate| rate.point);
        let times = counted(one.times as usize, "time", "times");
        let _ =
            writeln!(text, "Captured: {}, {times}, {} a day", one.behaviour, chart::tidy(per_day));
    }
    text
}

/// What cannot be seen, in sentences, and the minutes as a table.
fn closer_text(text: &mut String, all: &Whole) {
    let wording = Wording::english();
    let _ = writeln!(text, "{}", wording.stays_good(&all.length));
    for line in wording.look(&all.closer).all() {
        let _ = writeln!(text, "{line}");
    }
    minutes_text(text, &all.closer.minutes);
}

fn minutes_text(text: &mut String, minutes: &Minutes) {
    if minutes.latest.len() < 2 {
        return;
    }
    let took = if minutes.from_cue { "seconds to answer" } else { "seconds from try to try" };
    let mut rows =
        vec![["minute", "met of 100", took, "met of 100 before"].map(str::to_owned).to_vec()];
    let hundred = |e: &Estimate| {
        format!("{:.0} ({:.0} to {:.0})", 100.0 * e.point, 100.0 * e.low, 100.0 * e.high)
    };
    for (index, minute) in minutes.latest.iter().enumerate() {
        rows.push(vec![
            minute.minute.to_string(),
            hundred(&minute.share),
            minute.took_s.map_or("-".into(), |took| {
                format!("{:.1} ({:.1} to {:.1})", took.point, took.low, took.high)
            }),
            minutes.before.get(index).map_or("-".into(), |before| hundred(&before.share)),
        ]);
    }
    let sessions = counted(minutes.sessions, "session", "sessions");
    let _ = write!(text, "\nMinute by minute, in the latest {sessions}\n{}", chart::table(&rows));
}

fn step_text(text: &mut String, step: &StepProgress, record: &StepRecord, now: bool, why: bool) {
    let here = if now { "  (worked on now)" } else { "" };
    let _ = writeln!(text, "\nStep {}, {}{here}", step.step, step.name);
    if step.verdict == Verdict::Untouched && record.paid == [0; 3] {
        let _ = writeln!(text, "  not worked on yet");
        return;
    }
    let from = step.levels.len().saturating_sub(COLUMNS);
    let shown = &step.levels[from..];
    let values: Vec<Option<f64>> = shown.iter().map(|level| level.value(step.measure)).collect();
    let lines: Vec<usize> = (1..shown.len())
        .filter(|index| shown[*index].version != shown[*index - 1].version)
        .collect();
    let (low, high) =
        if step.measure == Measure::ShareMet { (0.0, 1.0) } else { chart::range(&values) };
    let line = chart::sparkline(&values, low, high, &lines);
    if !line.is_empty() {
        let _ = writeln!(text, "  {line}  {}", step.measure.name());
    }
    let _ = writeln!(text, "  {}", verdict(step));
    let change = step.change_over_time.known();
    if let Some(said) = change.and_then(|change| Wording::english().change_over_time(change)) {
        let _ = writeln!(text, "  rewarded tries a minute: {said}");
    }
    for effect in &step.effects {
        let found = match (effect.shown, effect.step.known()) {
            (Shown::NotShown, _) | (_, None) => {
                format!("an effect is not shown: {}", effect.because)
            }
            (Shown::Better, Some(by)) => {
                format!("better by {}", sizes(step.measure, by.point, by.low, by.high))
            }
            (Shown::Worse, Some(by)) => {
                format!("worse by {}", sizes(step.measure, by.point, by.low, by.high))
            }
        };
        let _ = writeln!(text, "  plan changed on {}: {found}", effect.line);
    }
    let [low, high, jackpot] = record.paid;
    let rested = match record.rested_days {
        Some(0) => "today".to_owned(),
        Some(days) => format!("{} ago", counted(days.max(0) as usize, "day", "days")),
        None => "never".to_owned(),
    };
    let due = if record.due { "; due for revision" } else { "" };
    let _ = writeln!(text, "  paid {low} low, {high} high, {jackpot} jackpot, last {rested}{due}");
    if let Some(rate) = record.rewarded_per_min {
        let latency =
            record.latency_s.map_or(String::new(), |s| format!(", usual latency {s:.1} s"));
        let rate = chart::tidy(rate);
        let _ = writeln!(text, "  latest session: {rate} rewarded tries a minute{latency}");
    }
    if why {
        let _ = writeln!(
            text,
            "  why: {}. {}. Source: {}",
            step.reason.because, step.reason.method, step.reason.source
        );
        for input in &step.reason.inputs {
            let _ = writeln!(text, "    {} {} {}", input.name, input.value, input.unit);
        }
    }
}

fn verdict(step: &StepProgress) -> String {
    let word = match step.verdict {
        Verdict::Untouched => "never worked on, but reached",
        Verdict::Reached => "reached",
        Verdict::Better => "getting better",
        Verdict::Worse => "getting worse",
        Verdict::NoTrend => "no trend",
        Verdict::TooEarly => "too early to tell",
    };
    let trend = match &step.trend {
        Found::Known(trend) => match (trend.per_session.low, trend.per_session.high) {
            (Some(low), Some(high)) if trend.per_session.says_something() => format!(
                "; {} a session, over {}",
                sizes(step.measure, trend.per_session.point, low, high),
                counted(trend.n as usize, "session", "sessions")
            ),
            // A number whose interval is so wide says nothing.
            _ => format!("; {} so far", counted(trend.n as usize, "session", "sessions")),
        },
        Found::NotYet(why) => format!("; {why}"),
    };
    format!("{word}{trend}")
}

/// A change and its interval in what a trainer counts in: points of a hundred, or percent of a time.
fn sizes(measure: Measure, point: f64, low: f64, high: f64) -> String {
    let (unit, [point, low, high]) = match measure {
        Measure::ShareMet => ("points", [point, low, high].map(|x| 100.0 * x)),
        Measure::HoldS | Measure::LatencyS => ("%", [point, low, high].map(|x| 100.0 * x.exp_m1())),
    };
    format!("{point:+.1} {unit} (from {low:+.1} to {high:+.1})")
}

fn people_text(text: &mut String, people: &[Person]) {
    let mut rows =
        vec![["", "sessions", "criterion met", "rewards a minute", ""].map(str::to_owned).to_vec()];
    for person in people {
        rows.push(vec![
            person.name.clone(),
            person.sessions.to_string(),
            person.share_met.map_or("-".into(), |share| format!("{:.0} %", 100.0 * share)),
            person.rewards_per_min.map_or("-".into(), chart::tidy),
            person.reason.because.clone(),
        ]);
    }
    let _ = write!(text, "\nWho trained\n{}", chart::table(&rows));
}

fn cue_text(text: &mut String, control: &Control, grid: &Grid) {
    if control.rows.iter().any(|row| row.probes > 0) {
        let state = |state| match state {
            State::Untested => "not tested",
            State::Few => "too few to tell",
            State::NotYet => "not yet",
            State::Holds => "holds",
        };
        let rows: Vec<Vec<String>> = control
            .rows
            .iter()
            .map(|row| {
                vec![
                    row.name.clone(),
                    format!("{} of {}", row.held, row.probes),
                    state(row.state).into(),
                ]
            })
            .collect();
        let _ = write!(text, "\nOn cue\n{}Next: {}\n", chart::table(&rows), control.next);
    }
    if grid.places.len() * grid.persons.len() > 1 {
        let mut rows =
            vec![std::iter::once(String::new()).chain(grid.persons.iter().cloned()).collect()];
        for (place, cells) in grid.places.iter().zip(&grid.cells) {
            let cell = |cell: &cue::Cell| {
                if cell.tries == 0 { "-".into() } else { format!("{} of {}", cell.met, cell.tries) }
            };
            rows.push(
                std::iter::once(place.clone()).chain(cells.iter().map(cell)).collect::<Vec<_>>(),
            );
        }
        let _ = write!(text, "\nWhere and with whom\n{}", chart::table(&rows));
        if let Some(next) = &grid.next {
            let _ = writeln!(
                text,
                "Next: {} with {}; {}.",
                next.place, next.person, next.reason.because
            );
        }
    }
}
