//! Two records of one session compared, as a page shows it.

use serde::Serialize;

use super::agree::{self, Agreement, How, Seen};
use super::labels;
use crate::session::{Outcome, Rep};
use crate::stats::StatsError;
use crate::stats::agreement::Kappa;
use crate::store::{Change, Content, EventId, Folded, Stored};

/// The agreement page.
#[derive(Debug, Clone, Serialize)]
pub struct AgreeView {
    /// Who scored second.
    pub by: String,
    /// Reps in the first record.
    pub first: usize,
    /// Reps in the second.
    pub second: usize,
    /// Length of the intervals, in seconds.
    pub interval_s: f64,
    /// Tolerance of the event matching, in seconds.
    pub tolerance_s: f64,
    /// Indices with their values, and what they mean.
    pub rows: Vec<Index>,
    /// Where they differ.
    pub differences: Vec<Place>,
}

/// One index of agreement.
#[derive(Debug, Clone, Serialize)]
pub struct Index {
    /// Its name.
    pub name: &'static str,
    /// Its value, or why there is none.
    pub value: String,
    /// What it means.
    pub means: &'static str,
}

/// A difference, to jump to.
#[derive(Debug, Clone, Serialize)]
pub struct Place {
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// In words.
    pub text: String,
}

/// Everything that a second observer scored, in order of time, and their name.
pub fn second(events: &[Stored], scoring: EventId) -> (Option<String>, Vec<(EventId, Seen)>) {
    let gone = super::session_view::undone(events);
    let mut by = None;
    let mut seen = Vec::new();
    for stored in events.iter().filter(|stored| !gone.contains(&stored.id)) {
        let Content::Edit(edit) = &stored.content else { continue };
        let Change::Scored { scoring: its, at, rep } = &edit.change else { continue };
        if *its != scoring {
            continue;
        }
        by = by.or_else(|| edit.by.clone());
        let paid = match rep.outcome {
            Some(Outcome::Rewarded(value)) => Some(value),
            _ => None,
        };
        let one = Seen { at_s: at.as_secs_f64(), step: rep.step.unwrap_or(1), paid, held_s: None };
        seen.push((stored.id, one));
    }
    seen.sort_by(|a, b| a.1.at_s.total_cmp(&b.1.at_s));
    (by, seen)
}

/// A rep of the first record, as it is compared.
fn first(rep: &Rep) -> Seen {
    Seen {
        at_s: rep.at.as_secs_f64(),
        step: rep.step,
        paid: rep.paid(),
        held_s: rep.duration.map(|held| held.as_secs_f64()),
    }
}

/// Compares a session's record with a second scoring.
///
/// # Errors
/// When a time is not a time.
pub fn agreement(
    folded: &Folded,
    events: &[Stored],
    scoring: EventId,
    interval_s: f64,
    tolerance_s: f64,
) -> Result<AgreeView, StatsError> {
    let (by, theirs) = second(events, scoring);
    let theirs: Vec<Seen> = theirs.into_iter().map(|(_, seen)| seen).collect();
    let ours: Vec<Seen> = folded.reps.iter().map(|rep| first(&rep.rep)).collect();
    let length_s = ours.iter().chain(&theirs).map(|seen| seen.at_s).fold(0.0, f64::max);
    let how = How { interval_s, tolerance_s, length_s };
    let found = agree::compare(&ours, &theirs, how)?;
    let place = |difference: &agree::Difference| Place {
        at_s: difference.at_s,
        at: crate::at::At::from_secs_f64(difference.at_s).to_string(),
        text: difference.text.clone(),
    };
    Ok(AgreeView {
        by: by.unwrap_or_else(|| "somebody".into()),
        first: ours.len(),
        second: theirs.len(),
        interval_s,
        tolerance_s,
        rows: rows(&found),
        differences: found.differences.iter().map(place).collect(),
    })
}

fn rows(found: &Agreement) -> Vec<Index> {
    let percent = |value: Option<f64>| {
        value.map_or_else(|| "nothing to compare".into(), |value| format!("{value:.1} %"))
    };
    let index = |name, value, means| Index { name, value, means };
    let counts = &found.counts;
    vec![
        index(
            "Total count",
            percent(counts.total_count),
            "smaller count over larger; two errors can hide each other",
        ),
        index(
            "Exact count per interval",
            percent(Some(counts.exact_count_per_interval)),
            "intervals with the same count; the strictest of the count indices",
        ),
        index(
            "Mean count per interval",
            percent(Some(counts.mean_count_per_interval)),
            "smaller over larger in each interval, averaged",
        ),
        index(
            "Interval by interval",
            percent(Some(counts.interval_by_interval)),
            "intervals that both or neither scored; flatters when most are empty",
        ),
        index(
            "Scored intervals only",
            percent(counts.scored_interval),
            "the same without the intervals that both left empty",
        ),
        index(
            "Event by event",
            percent(found.events),
            "tries that both saw, over all that anyone saw",
        ),
        index(
            "Mean duration",
            percent(found.held),
            "shorter hold over longer, of tries that both timed",
        ),
        index(
            "Kappa, rewarded or not per interval",
            kappa(&found.occurrence),
            "agreement beyond chance: 0 is chance, 1 is perfect",
        ),
        index(
            "Kappa, value of the tries that both saw",
            kappa(&found.value),
            "missed, low, high, jackpot",
        ),
    ]
}

fn kappa(found: &Result<Kappa, StatsError>) -> String {
    match found {
        Ok(kappa) => format!(
            "{:.2} (95 % interval {:.2} to {:.2}, n = {})",
            kappa.kappa.point, kappa.kappa.low, kappa.kappa.high, kappa.kappa.n
        ),
        Err(why) => format!("none: {why}"),
    }
}

/// A scored rep in the second observer's own list.
#[derive(Debug, Clone, Serialize)]
pub struct OwnRep {
    /// Its event, to take it back.
    pub id: String,
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// Step reached.
    pub step: u8,
    /// low, high, jackpot or miss.
    pub paid: &'static str,
    /// In words.
    pub text: String,
}

/// The second observer's own list, in order of time.
pub fn own(events: &[Stored], scoring: EventId) -> Vec<OwnRep> {
    let text = |seen: &Seen| match seen.paid {
        Some(value) => format!("step {}, {}", seen.step, labels::value(value)),
        None => "missed".into(),
    };
    second(events, scoring)
        .1
        .into_iter()
        .map(|(id, seen)| OwnRep {
            id: id.to_string(),
            at_s: seen.at_s,
            at: crate::at::At::from_secs_f64(seen.at_s).to_string(),
            step: seen.step,
            paid: seen.paid.map_or("miss", labels::value),
            text: text(&seen),
        })
        .collect()
}
