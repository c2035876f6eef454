//! Captured behaviour: what was rewarded when it came by itself, and how often over the days.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::Found;
use crate::stats::{Estimate, Level as Confidence, rates};

/// One captured behaviour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Captured {
    /// Which.
    pub behaviour: String,
    /// How often in all.
    pub times: u32,
    /// Its days, with how often on each.
    pub days: Vec<(Date, u32)>,
    /// Times a day from its first day to today, with Garwood's exact interval. How long somebody watched is
    /// not known, so that this is a rate of noting, not of the behaviour.
    pub per_day: Found<Estimate>,
}

/// Sums up by behaviour as of `today`, the most frequent first.
pub fn of(noted: &[(Date, String)], today: Date) -> Vec<Captured> {
    let mut by: BTreeMap<&str, BTreeMap<Date, u32>> = BTreeMap::new();
    for (day, behaviour) in noted {
        *by.entry(behaviour).or_default().entry(*day).or_insert(0) += 1;
    }
    let mut all: Vec<Captured> = by
        .into_iter()
        .map(|(behaviour, days)| {
            let times = days.values().sum();
            let first = days.keys().next().copied().unwrap_or(today);
            let span = today.since(first).map_or(0, |span| span.get_days()).max(0) + 1;
            Captured {
                behaviour: behaviour.to_owned(),
                times,
                days: days.into_iter().collect(),
                per_day: rates::garwood(times, f64::from(span), Confidence::NINETY_FIVE).into(),
            }
        })
        .collect();
    all.sort_by_key(|one| std::cmp::Reverse(one.times));
    all
}
