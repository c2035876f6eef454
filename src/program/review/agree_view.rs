//! Two records of one session compared, as a page shows it.

use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::agree::{self, Agreement, How, Seen};
use super::labels;
use crate::plan::RewardValue;
use crate::session::{Outcome, Rep};
use crate::stats::StatsError;
use crate::stats::agreement::Kappa;
use crate::store::{Change, Content, EventId, Folded, Stored};
use crate::wording::{filled, text};

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
    pub name: String,
    /// Its value, or why there is none.
    pub value: String,
    /// What it means.
    pub means: String,
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
        by: by.unwrap_or_else(|| text("page.somebody")),
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
        value.map_or_else(|| text("page.nothing_to_compare"), |value| format!("{value:.1} %"))
    };
    let index = |name: &str, value| Index {
        name: text(&format!("page.index_{name}")),
        value,
        means: text(&format!("page.index_{name}_means")),
    };
    let counts = &found.counts;
    vec![
        index("total_count", percent(counts.total_count)),
        index("exact_count", percent(Some(counts.exact_count_per_interval))),
        index("mean_count", percent(Some(counts.mean_count_per_interval))),
        index("by_interval", percent(Some(counts.interval_by_interval))),
        index("scored_interval", percent(counts.scored_interval)),
        index("by_event", percent(found.events)),
        index("mean_duration", percent(found.held)),
        index("kappa_occurrence", kappa(&found.occurrence)),
        index("kappa_value", kappa(&found.value)),
    ]
}

fn kappa(found: &Result<Kappa, StatsError>) -> String {
    match found {
        Ok(kappa) => filled("page.kappa", Value::from(Serde(&kappa.kappa))),
        Err(_) => text("page.no_kappa"),
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
    second(events, scoring)
        .1
        .into_iter()
        .map(|(id, seen)| OwnRep {
            id: id.to_string(),
            at_s: seen.at_s,
            at: crate::at::At::from_secs_f64(seen.at_s).to_string(),
            step: seen.step,
            paid: seen.paid.map_or("miss", RewardValue::name),
            text: labels::seen(seen.step, seen.paid),
        })
        .collect()
}
