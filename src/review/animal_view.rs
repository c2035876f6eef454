//! An animal's sessions over a period, as pages and reports show them: plain data.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::chart::{self, DayPoint, Phase};
use super::session_view::{Head, head};
use super::words;
use crate::plan::Side;
use crate::stats::survival::Watched;
use crate::stats::{Estimate, Level, proportions, rates};
use crate::store::{RepRow, SessionId, SessionRow};

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
    /// Rewarded reps.
    pub rewarded: u32,
    /// Misses.
    pub missed: u32,
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
    /// Ratio chart.
    pub ratio: String,
    /// Cumulative record.
    pub cumulative: String,
    /// Survival curve, when there are sessions.
    pub survival: Option<String>,
    /// Chart of the sides, when there are any.
    pub sides_chart: Option<String>,
    /// Sessions in which a sign of tiring came.
    pub tired: usize,
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
    /// Rewarded reps.
    pub rewarded: u32,
    /// Misses.
    pub missed: u32,
    /// Rewards per minute.
    pub rate: String,
    /// The phase.
    pub phase: String,
}

/// Left against right.
#[derive(Debug, Clone, Serialize)]
pub struct SideRow {
    /// Which stretch.
    pub name: String,
    /// Reps that met the criterion, of those with a side, left.
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
    /// Step at the end of the day's last session.
    step: u8,
}

/// Sums up sessions of one animal and behaviour, in order of time, with their reps and the active time of the
/// first sign of tiring in each.
pub fn animal(
    sessions: &[SessionRow],
    reps: &[RepRow],
    signs: &BTreeMap<SessionId, f64>,
) -> Option<AnimalView> {
    let (first, last) = (sessions.first()?, sessions.last()?);
    let mut days: BTreeMap<Date, Day> = BTreeMap::new();
    for row in sessions {
        let day = days.entry(row.day).or_insert(Day {
            sessions: 0,
            minutes: 0.0,
            rewarded: 0,
            missed: 0,
            step: row.last_step,
        });
        day.sessions += 1;
        day.minutes += row.active.as_secs_f64() / 60.0;
        day.rewarded += row.rewarded;
        day.missed += row.missed;
        day.step = row.last_step;
    }
    let since = |date: Date| (date - first.day).get_days();
    let mut phases: Vec<Phase> = Vec::new();
    let mut points = Vec::new();
    let mut rows = Vec::new();
    let mut step = 0;
    for (date, day) in &days {
        if day.step != step {
            step = day.step;
            phases.push(Phase { from: since(*date), name: format!("step {step}") });
        }
        let rate = |count: u32| f64::from(count) / day.minutes.max(0.01);
        points.push(DayPoint {
            day: since(*date),
            rewarded: rate(day.rewarded),
            missed: rate(day.missed),
            minutes: day.minutes,
            phase: phases.len(),
        });
        rows.push(DayRow {
            day: date.to_string(),
            sessions: day.sessions,
            minutes: words::number(day.minutes),
            rewarded: day.rewarded,
            missed: day.missed,
            rate: words::number(rate(day.rewarded)),
            phase: format!("step {step}"),
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
    let changes: Vec<usize> = (1..sessions.len())
        .filter(|&i| sessions[i].start_step != sessions[i - 1].start_step)
        .collect();
    let watched: Vec<Watched> = sessions
        .iter()
        .map(|row| match signs.get(&row.id) {
            Some(time) => Watched { time: time / 60.0, declined: true },
            None => Watched { time: row.active.as_secs_f64() / 60.0, declined: false },
        })
        .collect();
    let minutes: f64 = lengths.iter().map(|l| l.0).sum();
    let (rewarded, missed) =
        (days.values().map(|d| d.rewarded).sum(), days.values().map(|d| d.missed).sum::<u32>());
    let (sides, drawn) = sides(sessions, reps);
    Some(AnimalView {
        id: last.animal_id.to_string(),
        name: last.animal.clone(),
        species: last.species.clone(),
        behaviour: last.behaviour.clone(),
        from: first.day.to_string(),
        to: last.day.to_string(),
        count: sessions.len(),
        rewarded,
        missed,
        minutes: words::number(minutes),
        rate: rates::garwood(rewarded, minutes, Level::NINETY_FIVE)
            .ok()
            .map(|rate| with_interval(rate, 1.0, "a minute")),
        share: proportions::wilson(rewarded, rewarded + missed, Level::NINETY_FIVE)
            .ok()
            .map(|share| with_interval(share, 100.0, "%")),
        sessions: sessions.iter().rev().map(head).collect(),
        days: rows,
        ratio: chart::ratio(&points, &phases, &label),
        cumulative: chart::cumulative(&lengths, &changes),
        survival: chart::survival(&watched),
        sides_chart: (!drawn.is_empty()).then(|| chart::sides(&drawn)),
        sides,
        tired: watched.iter().filter(|w| w.declined).count(),
    })
}

fn with_interval(estimate: Estimate, factor: f64, unit: &str) -> String {
    let [point, low, high] =
        [estimate.point, estimate.low, estimate.high].map(|x| words::number(x * factor));
    format!("{point} {unit} (95 % interval {low} to {high})")
}

/// Left against right over the whole period, and in its latest ten sessions: of the reps whose side was said,
/// how many met the criterion. A miss has no side unless an edit gave it one.
fn sides(sessions: &[SessionRow], reps: &[RepRow]) -> (Vec<SideRow>, Vec<(String, Estimate)>) {
    let latest: Vec<SessionId> = sessions.iter().rev().take(10).map(|row| row.id).collect();
    let (mut rows, mut drawn) = (Vec::new(), Vec::new());
    for (name, only) in [("whole period", None), ("latest 10 sessions", Some(&latest))] {
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
        let of = |(good, all): (u32, u32)| format!("{good} of {all}");
        rows.push(SideRow {
            name: name.into(),
            left: of(left),
            right: of(right),
            difference: with_interval(difference, 100.0, "points"),
        });
        drawn.push((name.into(), difference));
    }
    (rows, drawn)
}
