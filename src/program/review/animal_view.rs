//! An animal's sessions over a period, as pages and reports show them: plain data.

use std::collections::BTreeMap;

use jiff::civil::Date;
use minijinja::context;
use serde::Serialize;

use super::chart::{self, DayByDay, Piece, Scale, at_both_widths};
use super::labels;
use super::links_view::{self, LinksView};
use super::session_view::{Head, head};
use crate::history::course::Course;
use crate::history::length::{Length, Tiring};
use crate::history::{AnimalHistory, Ladder, progress};
use crate::plan::{Plan, Side};
use crate::session::Tries;
use crate::stats::{Estimate, Level, proportions, rates};
use crate::store::{RepRow, SessionId, SessionRow};
use crate::wording::{Wording, filled, text};

/// A share of sessions that are still good which is seen to be below all of them.
const LEAST_FALL: f64 = 0.95;

/// An animal and one behaviour of it.
#[derive(Debug, Clone, Serialize)]
pub struct AnimalView {
    /// Key.
    pub id: String,
    /// Name.
    pub name: String,
    /// Species.
    pub species: String,
    /// Behaviour shown.
    pub behaviour: String,
    /// First and last day shown.
    pub from: String,
    /// Last day.
    pub to: String,
    /// How many sessions.
    pub count: usize,
    /// Tries, of them rewarded and missed.
    #[serde(flatten)]
    pub tries: Tries,
    /// Minutes of practice.
    pub minutes: String,
    /// Rewards per minute with its interval.
    pub rate: Option<String>,
    /// Share of tries rewarded with its interval.
    pub share: Option<String>,
    /// Sessions, latest first.
    pub sessions: Vec<Head>,
    /// A row a day.
    pub days: Vec<DayRow>,
    /// Left and right.
    pub sides: Vec<SideRow>,
    /// Steps worked on, each once, in the order in which they came: "4 rests the foot on the file".
    pub steps: Vec<String>,
    /// Change over time at the step worked on now, from all its sessions; `None` where none is shown.
    pub change: Option<String>,
    /// Whether the day-by-day chart has a ratio scale.
    pub ratio: bool,
    /// Day-by-day chart; `None` where it would be flat.
    pub day_by_day: Option<String>,
    /// What the flat chart would have shown, in a sentence.
    pub flat: Option<String>,
    /// Rewarded tries so far; `None` where that is a straight line.
    pub cumulative: Option<String>,
    /// How many sessions stay good how long; while that is not known there is none.
    pub tiring: Option<String>,
    /// Chart of the sides, when there are any.
    pub sides_chart: Option<String>,
    /// The links of a chain over sessions.
    pub links: Option<LinksView>,
    /// How long it stays good, in a sentence, or why that is not known.
    pub stays_good: Option<String>,
}

impl AnimalView {
    /// With how long it stays good, which is the same as everywhere else: it rests on what `length` rests on, not on
    /// the period shown.
    #[must_use]
    pub fn with_length(mut self, length: &Length) -> Self {
        self.stays_good = Some(Wording::english().stays_good(length));
        // As long as next to none declines, the curve is a flat line, and the sentence says it.
        let falls =
            |tiring: &&Tiring| tiring.curve.iter().any(|(_, share)| share.point < LEAST_FALL);
        let draw = |tiring| at_both_widths(|width| chart::tiring(tiring, width));
        self.tiring = length.tiring.as_ref().filter(falls).map(draw);
        self
    }
}

/// A day in the table.
#[derive(Debug, Clone, Serialize)]
pub struct DayRow {
    /// Its date.
    pub day: String,
    /// Sessions.
    pub sessions: usize,
    /// Minutes.
    pub minutes: String,
    /// Tries, of them rewarded and missed.
    #[serde(flatten)]
    pub tries: Tries,
    /// Rewarded tries a minute; empty for a day without a minute, as the next two.
    pub rate: String,
    /// Missed tries a minute.
    pub missed_rate: String,
    /// What this much practice can show at least, a minute.
    pub least: String,
    /// The step worked on at its end.
    pub step: String,
}

/// Left against right.
#[derive(Debug, Clone, Serialize)]
pub struct SideRow {
    /// Which stretch.
    pub name: String,
    /// Tries that met the criterion, of those with a side, left.
    pub left: String,
    /// The same, right.
    pub right: String,
    /// Difference with interval.
    pub difference: String,
}

struct Day {
    sessions: usize,
    minutes: f64,
    rewarded: u32,
    missed: u32,
    /// Step at the end of the day's last session, and its name then.
    step: (u8, String),
}

/// Where an animal's sessions come from and how they are shown.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// Everything known of the animal: names of steps, and what changes over time.
    pub history: &'a AnimalHistory,
    /// The present plan of the behaviour.
    pub plan: Option<&'a Plan>,
    /// Scale of the day-by-day chart.
    pub scale: Scale,
}

/// Sums up sessions of one animal and behaviour, in order of time, with their reps.
pub fn animal(sessions: &[SessionRow], reps: &[RepRow], shown: Shown) -> Option<AnimalView> {
    let (first, last) = (sessions.first()?, sessions.last()?);
    let mut days: BTreeMap<Date, Day> = BTreeMap::new();
    for row in sessions {
        let day = days.entry(row.day).or_insert(Day {
            sessions: 0,
            minutes: 0.0,
            rewarded: 0,
            missed: 0,
            step: step_of(row, shown.history),
        });
        day.sessions += 1;
        day.minutes += row.active.as_secs_f64() / 60.0;
        day.rewarded += row.rewarded;
        day.missed += row.missed;
        day.step = step_of(row, shown.history);
    }
    let since = |date: Date| (date - first.day).get_days();
    let mut steps = Vec::new();
    let mut points = Vec::new();
    let mut rows = Vec::new();
    for (date, day) in &days {
        let at = f64::from(since(*date));
        lengthen(&mut steps, &day.step, (at - 0.5, at + 0.5));
        points.push(chart::Day {
            day: since(*date),
            rewarded: day.rewarded,
            missed: day.missed,
            minutes: day.minutes,
        });
        let a_minute = |count: u32| {
            let rate = f64::from(count) / day.minutes;
            if rate.is_finite() { labels::number(rate) } else { String::new() }
        };
        rows.push(DayRow {
            day: date.to_string(),
            sessions: day.sessions,
            minutes: labels::number(day.minutes),
            tries: Tries { rewarded: day.rewarded, missed: day.missed },
            rate: a_minute(day.rewarded),
            missed_rate: a_minute(day.missed),
            least: a_minute(1),
            step: format!("{} {}", day.step.0, day.step.1),
        });
    }
    let label = |day: i32| {
        let span = jiff::Span::new().days(day);
        first
            .day
            .checked_add(span)
            .map_or_else(|_| String::new(), |d| d.strftime("%-d %b").to_string())
    };
    let lengths: Vec<(f64, u32)> =
        sessions.iter().map(|row| (row.active.as_secs_f64() / 60.0, row.rewarded)).collect();
    let mut practised = Vec::new();
    let mut so_far = 0.0;
    for (row, (length, _)) in sessions.iter().zip(&lengths) {
        lengthen(&mut practised, &step_of(row, shown.history), (so_far, so_far + length));
        so_far += length;
    }
    let minutes: f64 = lengths.iter().map(|l| l.0).sum();
    let (rewarded, missed) =
        (days.values().map(|d| d.rewarded).sum(), days.values().map(|d| d.missed).sum::<u32>());
    let (sides, drawn) = sides(sessions, reps);
    let flat = flat(&rows);
    let by_day = DayByDay { days: &points, steps: &steps, scale: shown.scale, date: &label };
    Some(AnimalView {
        id: last.animal_id.to_string(),
        name: last.animal.clone(),
        species: last.species.clone(),
        behaviour: last.behaviour.clone(),
        from: first.day.to_string(),
        to: last.day.to_string(),
        count: sessions.len(),
        tries: Tries { rewarded, missed },
        minutes: labels::number(minutes),
        rate: rates::garwood(rewarded, minutes, Level::NINETY_FIVE)
            .ok()
            .map(|rate| with_interval(rate, 1.0, "page.rate_between")),
        share: proportions::wilson(rewarded, rewarded + missed, Level::NINETY_FIVE)
            .ok()
            .map(|share| with_interval(share, 100.0, "page.percent_between")),
        sessions: sessions.iter().rev().map(head).collect(),
        days: rows,
        steps: each_once(&steps),
        change: shown.plan.and_then(|plan| change(shown.history, plan)),
        ratio: shown.scale == Scale::Ratio,
        day_by_day: flat
            .is_none()
            .then(|| at_both_widths(|width| chart::day_by_day(&by_day, width))),
        cumulative: (lengths.len() > 1 && rewarded > 0)
            .then(|| at_both_widths(|width| chart::cumulative(&lengths, &practised, width))),
        flat,
        tiring: None,
        links: shown.plan.and_then(|plan| links_view::links(plan, sessions, reps)),
        stays_good: None,
        sides_chart: (!drawn.is_empty())
            .then(|| at_both_widths(|width| chart::sides(&drawn, width))),
        sides,
    })
}

/// The days' rates in a sentence, where a chart of them would be flat: a single day, or the same rates on each.
fn flat(days: &[DayRow]) -> Option<String> {
    let shown: Vec<&DayRow> = days.iter().filter(|day| !day.rate.is_empty()).collect();
    let rates = |day: &DayRow| (day.rate.clone(), day.missed_rate.clone());
    let first = shown.first()?;
    shown.iter().all(|day| rates(day) == rates(first)).then(|| {
        let (rate, missed) = rates(first);
        filled("page.flat_days", context! { days => shown.len(), day => &first.day, rate, missed })
    })
}

/// The step at a session's end, with the name that it had in the session's plan.
fn step_of(row: &SessionRow, history: &AnimalHistory) -> (u8, String) {
    let rung = history.ladder(row.plan_version).and_then(|ladder| ladder.rung(row.last_step));
    (row.last_step, rung.map_or_else(String::new, |rung| rung.name.clone()))
}

/// Goes on with the latest piece, or begins the next one.
fn lengthen(pieces: &mut Vec<Piece>, (number, name): &(u8, String), (from, to): (f64, f64)) {
    match pieces.last_mut() {
        Some(last) if last.number == *number && last.name == *name => last.to = to,
        _ => pieces.push(Piece { from, to, number: *number, name: name.clone() }),
    }
}

/// Every step once, in the order in which they came.
fn each_once(pieces: &[Piece]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for piece in pieces {
        let label = piece.label();
        if !names.contains(&label) {
            names.push(label);
        }
    }
    names
}

/// What changes over time at the step worked on now.
fn change(history: &AnimalHistory, plan: &Plan) -> Option<String> {
    let present = Ladder::of(0, plan);
    let course = Course::new(history, &plan.behaviour, &present);
    let step = progress::step(&course, course.working()?, &plan.advice)?;
    let said = Wording::english().change_over_time(step.change_over_time.known()?)?;
    // A number and its percent sign stay on one line.
    let said = said.replace(" %", "\u{a0}%");
    Some(filled("page.change_at_step", context! { step => step.step, name => step.name, said }))
}

fn with_interval(estimate: Estimate, factor: f64, name: &str) -> String {
    let [point, low, high] =
        [estimate.point, estimate.low, estimate.high].map(|x| labels::number(x * factor));
    filled(name, context! { point, low, high })
}

/// Left against right over the whole period, and in its latest ten sessions: of the tries whose side was said,
/// how many met the criterion. A miss has the side that was said with it, or that an edit gave it.
fn sides(sessions: &[SessionRow], reps: &[RepRow]) -> (Vec<SideRow>, Vec<(String, Estimate)>) {
    let latest: Vec<SessionId> = sessions.iter().rev().take(10).map(|row| row.id).collect();
    let (mut rows, mut drawn) = (Vec::new(), Vec::new());
    for (name, only) in [("page.whole_period", None), ("page.latest_sessions", Some(&latest))] {
        let count = |side: Side| {
            let of_side = reps.iter().filter(|row| {
                row.rep.side == Some(side) && only.is_none_or(|ids| ids.contains(&row.session))
            });
            of_side.fold((0_u32, 0_u32), |(good, all), row| {
                (good + u32::from(row.rep.met_criterion()), all + 1)
            })
        };
        let (left, right) = (count(Side::Left), count(Side::Right));
        let Ok(difference) = proportions::difference(left, right, Level::NINETY_FIVE) else {
            continue;
        };
        let of = |(good, all): (u32, u32)| {
            filled("page.met_of_tries", context! { met => good, tries => all })
        };
        rows.push(SideRow {
            name: text(name),
            left: of(left),
            right: of(right),
            difference: with_interval(difference, 100.0, "page.points_between"),
        });
        drawn.push((text(name), difference));
    }
    (rows, drawn)
}
