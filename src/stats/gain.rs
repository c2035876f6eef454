//! Does it still gain: what each session's count says of the level, and of how much the level gains from
//! session to session.
//!
//! The level and its gain are never seen; each session shows this many successes of this many tries. Of all
//! levels and a few gains the chances are kept (forward filter of a hidden Markov chain, Rabiner 1989,
//! Proc IEEE 77:257): from session to session the level moves by its gain, and a gain may stop, or a
//! standstill end. Counts scatter more than chance alone would let them, from day to day (beta-binomial,
//! Williams 1982, Appl Stat 31:144). What little says is drawn to the prior: so an early streak of luck
//! is not yet a gain, and three poor days are not yet a standstill.

use super::{StatsError, bad, count};

/// Levels that are thought of, in points of a hundred: from 1 to 98.
const LEVELS: usize = 98;
/// Gains from session to session that are thought of, in points, with their chances at the first session.
/// (Common practice, no source: half of all steps are gone on with at once, small gains are commonest.
/// The bench measures what follows from it.)
const GAINS: [(usize, f64); 5] = [(0, 0.5), (2, 0.2), (3, 0.1), (5, 0.1), (8, 0.1)];
/// Chance that a gain stops from one session to the next; that a standstill ends.
const STOPS: f64 = 0.02;
const GOES_ON: f64 = 0.01;
/// Likeness of two tries of one day beyond their common level.
const DAY: f64 = 0.02;
/// More tries than this in a session count as this many.
const MOST_TRIES: u32 = 200;

/// How it gains now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Chance that it stands still or falls.
    pub none: f64,
    /// Gain from session to session that is expected, in points.
    pub points: f64,
    /// Level of the latest session that is expected, from 0 to 1.
    pub level: f64,
    /// Sessions it rests on.
    pub n: u32,
}

/// How it gains after sessions of this many successes of this many tries, in order of time.
///
/// # Errors
/// [`StatsError::TooFew`] without a session; [`StatsError::Bad`] for one without a try;
/// [`StatsError::PartAboveWhole`] for more successes than tries.
pub fn gain(sessions: &[(u32, u32)]) -> Result<Gain, StatsError> {
    if sessions.is_empty() {
        return Err(StatsError::TooFew { what: "sessions", needed: 1, got: 0 });
    }
    let mut chances: [[f64; LEVELS]; GAINS.len()] =
        GAINS.map(|(_, chance)| [chance / LEVELS as f64; LEVELS]);
    for (number, &(met, tries)) in sessions.iter().enumerate() {
        if tries == 0 {
            return Err(bad("the tries of a session", "above zero", 0.0));
        }
        if met > tries {
            return Err(StatsError::PartAboveWhole { part: met.into(), whole: tries.into() });
        }
        if number > 0 {
            pass(&mut chances);
        }
        see(&mut chances, met, tries);
    }
    let (mut points, mut level) = (0.0, 0.0);
    for ((gain, _), row) in GAINS.iter().zip(&chances) {
        for (index, chance) in row.iter().enumerate() {
            points += chance * *gain as f64;
            level += chance * level_of(index);
        }
    }
    Ok(Gain { none: chances[0].iter().sum(), points, level, n: count(sessions.len()) })
}

fn level_of(index: usize) -> f64 {
    (index + 1) as f64 / 100.0
}

/// From one session to the next.
fn pass(chances: &mut [[f64; LEVELS]; GAINS.len()]) {
    for ((gain, _), row) in GAINS.iter().zip(chances.iter_mut()) {
        let before = *row;
        row.fill(0.0);
        for (index, chance) in before.iter().enumerate() {
            row[(index + gain).min(LEVELS - 1)] += chance;
        }
    }
    for index in 0..LEVELS {
        let goes_on = chances[0][index] * GOES_ON;
        let mut stops = 0.0;
        for row in &mut chances[1..] {
            stops += row[index] * STOPS;
            row[index] = row[index] * (1.0 - STOPS) + goes_on / (GAINS.len() - 1) as f64;
        }
        chances[0][index] += stops - goes_on;
    }
}

/// What a session showed, by Bayes' theorem.
fn see(chances: &mut [[f64; LEVELS]; GAINS.len()], met: u32, tries: u32) {
    let scale = f64::from(MOST_TRIES.min(tries)) / f64::from(tries);
    let met = (f64::from(met) * scale).round() as u32;
    let missed = MOST_TRIES.min(tries) - met;
    let worth = 1.0 / DAY - 1.0;
    // The beta-binomial chance, but for what is the same at every level.
    let log = |index: usize| -> f64 {
        let (a, b) = (level_of(index) * worth, (1.0 - level_of(index)) * worth);
        let rising =
            |from: f64, times: u32| -> f64 { (0..times).map(|i| (from + f64::from(i)).ln()).sum() };
        rising(a, met) + rising(b, missed)
    };
    let logs: Vec<f64> = (0..LEVELS).map(log).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut sum = 0.0;
    for row in chances.iter_mut() {
        for (chance, log) in row.iter_mut().zip(&logs) {
            *chance *= (log - most).exp();
            sum += *chance;
        }
    }
    chances.iter_mut().flatten().for_each(|chance| *chance /= sum);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn standing_still_and_gaining_are_told_apart_and_little_says_little() {
        let flat = gain(&[(8, 20); 8]).unwrap();
        assert!(flat.none > 0.75, "{flat:?}");
        assert!((flat.level - 0.4).abs() < 0.04, "{flat:?}");
        let rising: Vec<(u32, u32)> = (0..8).map(|i| (4 + i, 20)).collect();
        let rises = gain(&rising).unwrap();
        assert!(rises.none < 0.2 && rises.points > 2.5, "{rises:?}");
        let falling: Vec<(u32, u32)> = (0..8).map(|i| (14 - i, 20)).collect();
        assert!(gain(&falling).unwrap().none > 0.9);
        let once = gain(&[(3, 4)]).unwrap();
        assert!((once.none - 0.5).abs() < 1e-9, "{once:?}");
        // A gain that stopped is noticed in the end.
        let stops: Vec<(u32, u32)> = (0..24).map(|i| (6 + i.min(6), 20)).collect();
        assert!(gain(&stops).unwrap().none > 0.7);
    }

    #[test]
    fn hostile_counts_are_refused_or_bounded() {
        assert!(gain(&[]).is_err() && gain(&[(0, 0)]).is_err() && gain(&[(3, 2)]).is_err());
        let huge = gain(&[(u32::MAX, u32::MAX), (0, u32::MAX)]).unwrap();
        assert!(huge.none.is_finite() && huge.level.is_finite());
    }
}
