//! How a behaviour goes, in words: one sentence and three numbers; everything else when it is asked for.

use std::fmt::Write as _;

use minijinja::context;
use minijinja::value::{Serde, Value};

use super::super::chart;
use super::Whole;
use crate::history::closer::Minutes;
use crate::history::cue::{self, Control, Grid};
use crate::history::effects::{PhaseEffect, Shown};
use crate::history::level::Measure;
use crate::history::people::Person;
use crate::history::progress::{StepProgress, Verdict};
use crate::history::record::StepRecord;
use crate::history::{Found, capital};
use crate::wording::{Wording, filled, text as said};

/// Columns of a step's line of blocks.
const COLUMNS: usize = 60;

pub(super) fn text(all: &Whole, why: bool) -> String {
    let mut text = String::new();
    for warning in Wording::english().warnings(&all.animal, &all.body.alarms) {
        let _ = writeln!(text, "{}", filled("screen.health", context! { warning }));
    }
    let values =
        context! { animal => &all.animal, behaviour => &all.behaviour, sessions => all.sessions };
    let _ = writeln!(text, "{}", filled("screen.progress_of", values));
    if all.invented {
        let _ = writeln!(text, "{}", said("screen.some_invented"));
    }
    goes(&mut text, all);
    if let Some(change) = &all.change {
        let values = context! { step => change.step, because => &change.reason.because };
        let _ = writeln!(text, "\n{}", filled("screen.change_the_plan", values));
        for fitting in &change.ways {
            let _ = writeln!(text, "  {}: {}", fitting.way.said(), fitting.because);
        }
    }
    for (planned, stands) in &all.tests {
        let test = stands.said(&planned.change);
        let _ = writeln!(text, "{}", filled("screen.tested_by_lot", context! { test }));
    }
    if why {
        text.push('\n');
        rest(&mut text, all);
    } else {
        let values = context! { animal => &all.animal };
        let _ = writeln!(text, "\n{}", filled("screen.rest_with_why", values));
    }
    text
}

/// How it goes, in one sentence, and the three numbers that matter: how many tries are met, how quickly rewards come, how
/// long it stays good.
fn goes(text: &mut String, all: &Whole) {
    let working =
        |number: u8| all.steps.iter().zip(&all.record).find(|(one, _)| one.step == number);
    let Some((step, record)) = all.working.and_then(working) else {
        let _ = writeln!(text, "{}", said("screen.goes_untrained"));
        return;
    };
    let last = usize::from(step.step) == all.steps.len();
    let values = context! { step => step.step, name => &step.name, last };
    let _ = writeln!(text, "{}", filled(&format!("screen.goes_{}", verdict_name(step)), values));
    let now = |name: &str| {
        let found = step.reason.inputs.iter().find(|input| input.name == name);
        found.map(|input| input.value)
    };
    let share = now("share now, older tries weighing less");
    let bounds = [now("lower bound of the share"), now("upper bound of the share")];
    if let (Some(share), [Some(low), Some(high)]) = (share, bounds) {
        let _ = writeln!(text, "  {}", filled("screen.number_met", context! { share, low, high }));
    } else if let Some(level) = step.levels.last() {
        let values = Value::from(Serde(level));
        let _ = writeln!(text, "  {}", filled("screen.number_met_latest", values));
    }
    if let Some(rate) = record.rewarded_per_min {
        let _ = writeln!(text, "  {}", filled("screen.number_rate", context! { rate }));
    }
    let third = match all.length.until_decline_s {
        Found::Known(_) => Wording::english().stays_good(&all.length),
        Found::NotYet(_) => {
            filled("screen.number_sessions", context! { sessions => step.levels.len() })
        }
    };
    let _ = writeln!(text, "  {third}");
}

fn rest(text: &mut String, all: &Whole) {
    for (step, record) in all.steps.iter().zip(&all.record) {
        step_text(text, step, record, all.working == Some(step.step));
    }
    for (name, rewards) in &all.gone {
        let _ = writeln!(text, "{}\n", filled("screen.gone", context! { name, rewards }));
    }
    if let Some(back) = &all.fall_back {
        let says = capital(&Wording::english().fall_back(back));
        let _ = writeln!(text, "{says}; {}.", back.reason.because);
    }
    let _ = writeln!(text, "{}", filled("screen.how_long", Value::from(Serde(&all.length))));
    let _ = writeln!(text, "{}", Wording::english().stays_good(&all.length));
    for line in Wording::english().look(&all.closer).all() {
        let _ = writeln!(text, "{line}");
    }
    minutes_text(text, &all.closer.minutes);
    if all.people.len() > 1 {
        people_text(text, &all.people);
    }
    cue_text(text, &all.control, &all.grid);
    for one in &all.captured {
        let per_day = one.per_day.known().map(|rate| rate.point);
        let values = context! { behaviour => &one.behaviour, times => one.times, per_day };
        let _ = writeln!(text, "{}", filled("screen.captured", values));
    }
}

fn minutes_text(text: &mut String, minutes: &Minutes) {
    if minutes.latest.len() < 2 {
        return;
    }
    let took =
        if minutes.from_cue { "screen.seconds_to_answer" } else { "screen.seconds_from_try" };
    let head = ["screen.minute", "screen.met_of_100", took, "screen.met_before"];
    let mut rows = vec![head.map(said).to_vec()];
    let of = |name: &str, value: Value| filled(name, context! { of => value });
    for (index, minute) in minutes.latest.iter().enumerate() {
        let before = minutes.before.get(index);
        let hundred = |share| of("screen.hundred_between", Value::from(Serde(share)));
        let seconds = |took| of("screen.seconds_between", Value::from(Serde(took)));
        rows.push(vec![
            minute.minute.to_string(),
            hundred(&minute.share),
            minute.took_s.as_ref().map_or_else(String::new, seconds),
            before.map_or_else(String::new, |before| hundred(&before.share)),
        ]);
    }
    let title = filled("screen.minute_by_minute", context! { sessions => minutes.sessions });
    let _ = write!(text, "\n{title}\n{}", chart::table(&rows, 1));
}

fn step_text(text: &mut String, step: &StepProgress, record: &StepRecord, now: bool) {
    let values = context! { step => step.step, name => &step.name, now };
    let _ = writeln!(text, "{}", filled("screen.step", values));
    if step.verdict == Verdict::Untouched && record.paid == [0; 3] {
        let _ = writeln!(text, "  {}\n", said("screen.not_worked_on"));
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
        let _ = writeln!(text, "  {}:\n  {line}", step.measure.name());
    }
    let _ = writeln!(text, "  {}", verdict(step));
    let change = step.change_over_time.known();
    if let Some(by) = change.and_then(|change| Wording::english().change_over_time(change)) {
        let _ = writeln!(text, "  {}", filled("screen.rewarded_a_minute", context! { by }));
    }
    for effect in &step.effects {
        let _ = writeln!(text, "  {}", found(effect, step.measure));
    }
    let _ = writeln!(text, "  {}", filled("screen.record", Value::from(Serde(record))));
    let _ = writeln!(text, "  {}", filled("screen.why", Value::from(Serde(&step.reason))));
    for input in &step.reason.inputs {
        let value = chart::rounded(input.value);
        let _ = writeln!(text, "    {}: {}", input.name, format!("{value} {}", input.unit).trim());
    }
    text.push('\n');
}

/// What a change of the plan did.
fn found(effect: &PhaseEffect, measure: Measure) -> String {
    let line = effect.line.to_string();
    let (name, by) = match (effect.shown, effect.step.known()) {
        (Shown::Better, Some(by)) => ("screen.effect_better", by),
        (Shown::Worse, Some(by)) => ("screen.effect_worse", by),
        _ => {
            let because = &effect.because;
            return filled("screen.effect_not_shown", context! { line, because });
        }
    };
    filled(name, context! { line, by => sizes(measure, by.point, by.low, by.high) })
}

fn verdict_name(step: &StepProgress) -> &'static str {
    match step.verdict {
        Verdict::Untouched => "untouched",
        Verdict::Reached => "reached",
        Verdict::Better => "better",
        Verdict::Worse => "worse",
        Verdict::NoTrend => "no_trend",
        Verdict::TooEarly => "too_early",
    }
}

fn verdict(step: &StepProgress) -> String {
    let word = said(&format!("screen.verdict_{}", verdict_name(step)));
    let values = match &step.trend {
        Found::Known(trend) => {
            // A number whose interval is so wide says nothing.
            let says = trend.per_session.says_something();
            let by = trend.per_session.low.zip(trend.per_session.high).filter(|_| says);
            let by = by.map(|(low, high)| sizes(step.measure, trend.per_session.point, low, high));
            context! { word, by, sessions => trend.n }
        }
        Found::NotYet(why) => context! { word, why },
    };
    filled("screen.verdict", values)
}

/// A change and its interval in what a trainer counts in: points of a hundred, or percent of a time.
fn sizes(measure: Measure, point: f64, low: f64, high: f64) -> String {
    let (unit, [point, low, high]) = match measure {
        Measure::ShareMet => ("points", [point, low, high].map(|x| 100.0 * x)),
        Measure::HoldS | Measure::LatencyS => {
            ("percent", [point, low, high].map(|x| 100.0 * x.exp_m1()))
        }
    };
    let [point, low, high] = [point, low, high].map(|x| format!("{x:+.1}"));
    filled(&format!("screen.by_{unit}"), context! { point, low, high })
}

fn people_text(text: &mut String, people: &[Person]) {
    let head = ["person", "sessions", "met", "rewards_a_minute", "compared"];
    let mut rows = vec![head.map(|name| said(&format!("screen.people_{name}"))).to_vec()];
    for person in people {
        rows.push(vec![
            person.name.clone(),
            person.sessions.to_string(),
            person.share_met.map_or_else(String::new, |share| format!("{:.0} %", 100.0 * share)),
            person.rewards_per_min.map_or_else(String::new, chart::tidy),
            person.reason.because.clone(),
        ]);
    }
    let _ = write!(text, "\n{}\n{}", said("screen.who_trained"), chart::table(&rows, 1));
}

fn cue_text(text: &mut String, control: &Control, grid: &Grid) {
    if control.rows.iter().any(|row| row.probes > 0) {
        let head = ["screen.condition", "screen.held", "screen.state"].map(said);
        let mut rows = vec![head.to_vec()];
        rows.extend(control.rows.iter().map(|row| {
            let state = serde_json::to_value(row.state).unwrap_or_default();
            let state = format!("page.state_{}", state.as_str().unwrap_or_default());
            let held = context! { met => row.held, tries => row.probes };
            vec![row.name.clone(), filled("screen.met_of", held), said(&state)]
        }));
        let next = filled("screen.next_is", context! { what => &control.next });
        let title = said("screen.on_cue");
        let _ = write!(text, "\n{title}\n{}{next}\n", chart::table(&rows, 1));
    }
    if grid.places.len() * grid.persons.len() > 1 {
        let place = std::iter::once(said("screen.place"));
        let mut rows = vec![place.chain(grid.persons.iter().cloned()).collect::<Vec<_>>()];
        for (place, cells) in grid.places.iter().zip(&grid.cells) {
            let cell = |cell: &cue::Cell| match cell.tries {
                0 => String::new(),
                tries => filled("screen.met_of", context! { met => cell.met, tries }),
            };
            rows.push(
                std::iter::once(place.clone()).chain(cells.iter().map(cell)).collect::<Vec<_>>(),
            );
        }
        let title = said("screen.where_and_with_whom");
        let _ = write!(text, "\n{title}\n{}", chart::table(&rows, 1));
        if let Some(next) = &grid.next {
            let _ = writeln!(text, "{}", filled("screen.next_cell", Value::from(Serde(next))));
        }
    }
}
