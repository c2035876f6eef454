//! Mice whose rewarded side is reversed now and then: how soon a fall of success is called, and how
//! often falsely.

use std::error::Error;
use std::path::Path;

use hushtally::stats::cusum::{Cusum, MissShift};
use hushtally::stats::lapse::Lapse;

use super::read::{rows, seeds_of};
use super::score::share;
use crate::population::Seeds;

/// A reversal counts as called within this many pokes.
const WITHIN: usize = 40;

/// The pokes of one recording: whether it was the rewarded side, and whether the side was just reversed.
struct Pokes(Vec<(bool, bool)>);

/// How one rule did.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Calls {
    reversals: u32,
    called: u32,
    falsely: u32,
    /// Pokes at which a call would have been false.
    quiet: u32,
}

impl Calls {
    pub(crate) fn share(&self) -> f64 {
        f64::from(self.called) / f64::from(self.reversals.max(1))
    }

    pub(crate) fn false_per_thousand(&self) -> f64 {
        1000.0 * f64::from(self.falsely) / f64::from(self.quiet.max(1))
    }

    fn told(&self) -> String {
        format!(
            "{} called within {WITHIN} pokes, {:.1} false calls in 1,000 pokes",
            share(self.called, self.reversals),
            self.false_per_thousand()
        )
    }
}

/// Every poke with a side, whether it could earn anything or not: they all show which side is believed in.
fn pokes(folder: &Path) -> Result<Vec<(Seeds, Pokes)>, Box<dyn Error>> {
    let mut recordings: Vec<(Seeds, Pokes)> = Vec::new();
    let (mut name, mut active) = (String::new(), String::new());
    for row in rows(folder, "fed3_events.csv.gz")? {
        let first = row["event"].chars().next();
        if !row["group"].starts_with("reversal") || !matches!(first, Some('L' | 'R')) {
            continue;
        }
        let this = format!("{}/{}", row["group"], row["session"]);
        if this != name {
            recordings.push((seeds_of(&this), Pokes(Vec::new())));
            name = this;
            active.clone_from(&row["active"]);
        }
        let reversed = row["active"] != active;
        active.clone_from(&row["active"]);
        if let Some((_, pokes)) = recordings.last_mut() {
            pokes.0.push((first == active.chars().next(), reversed));
        }
    }
    Ok(recordings)
}

fn calls<'a, F: FnMut(bool) -> bool>(
    recordings: impl Iterator<Item = &'a Pokes>,
    mut rule: impl FnMut() -> F,
) -> Calls {
    let mut calls = Calls::default();
    for Pokes(pokes) in recordings {
        let mut speaks = rule();
        let mut since = None;
        let mut called = false;
        for (place, (success, reversed)) in pokes.iter().enumerate() {
            if *reversed {
                calls.reversals += 1;
                (since, called) = (Some(place), false);
            }
            let fresh = since.is_some_and(|since| place - since < WITHIN);
            calls.quiet += u32::from(!fresh);
            if speaks(*success) {
                if fresh {
                    calls.called += u32::from(!std::mem::replace(&mut called, true));
                } else {
                    calls.falsely += 1;
                }
            }
        }
    }
    calls
}

/// The plain sum of misses against the share of the last hundred tries or so.
fn plain_sum(threshold: f64) -> impl FnMut(bool) -> bool {
    let (mut met, mut tries) = (4.0, 5.0);
    let mut sum = Cusum::new(threshold).ok();
    move |success| {
        let miss = (1.0_f64 - met / tries).clamp(0.05, 0.5);
        let worse = 2.0 * miss / (1.0 + miss);
        let step = MissShift::new(miss, worse).map_or(0.0, |shift| shift.score(!success));
        met = met * 0.98 + f64::from(u8::from(success));
        tries = tries * 0.98 + 1.0;
        let Some(sum) = &mut sum else { return false };
        let speaks = sum.add(step);
        if speaks {
            sum.reset();
        }
        speaks
    }
}

/// Measures; prints the halves on stderr. Gives the half that is asked for.
pub(crate) fn measure(folder: &Path, seeds: Seeds) -> Result<(Calls, f64), Box<dyn Error>> {
    let recordings = pokes(folder)?;
    let half = |seeds: Seeds| {
        recordings.iter().filter(move |(of, _)| *of == seeds).map(|(_, pokes)| pokes)
    };
    let ours = |seeds| {
        calls(half(seeds), || {
            let mut lapse = Lapse::default();
            move |success| lapse.add(success)
        })
    };
    for seeds in [Seeds::Tuning, Seeds::Reported] {
        eprintln!(
            "reversals, {} recordings {seeds:?}: {}",
            half(seeds).count(),
            ours(seeds).told()
        );
    }
    // The plain sum at its best threshold that is quiet enough on this half itself, which is kind to it.
    let sums = (10..250).map(|tenths| calls(half(seeds), || plain_sum(f64::from(tenths) / 10.0)));
    let quiet = sums.filter(|calls| calls.false_per_thousand() <= 5.0);
    let best = quiet.max_by(|a, b| a.share().total_cmp(&b.share())).unwrap_or_default();
    eprintln!("  a plain sum with a moving baseline: {}", best.told());
    Ok((ours(seeds), best.share()))
}
