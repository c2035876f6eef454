//! Which event of one record is which of another: one-to-one matching within a tolerance.

use super::{StatsError, bad, series};

/// How two records of event times line up.
#[derive(Debug, Clone, PartialEq)]
pub struct Matching {
    /// Matched events as indices into the first and the second record, in order of time.
    pub pairs: Vec<(usize, usize)>,
    /// Events of the first record without a partner.
    pub only_first: Vec<usize>,
    /// Events of the second record without a partner.
    pub only_second: Vec<usize>,
    /// Whether the sum of distances is the least possible for that many pairs. It always is unless
    /// the records are absurdly dense (more than [`MOST_CANDIDATES`] possible pairs).
    pub closest: bool,
}

impl Matching {
    /// Matched events over all events seen by anyone, in percent; `None` when there are none.
    pub fn agreement(&self) -> Option<f64> {
        let matched = self.pairs.len();
        let all = matched + self.only_first.len() + self.only_second.len();
        (all > 0).then(|| 100.0 * matched as f64 / all as f64)
    }
}

/// Up to this many possible pairs the closest matching is found; beyond, any largest one.
pub const MOST_CANDIDATES: usize = 20_000_000;

/// Matches as many events as possible, each at most once and at most `tolerance` apart, and among
/// such matchings picks one with the least sum of distances. On a line an uncrossed matching is as
/// good as any, so one pass of dynamic programming finds it. Both records in rising order.
///
/// # Errors
/// [`StatsError::Bad`] for a tolerance below zero, times that are not finite or not in order.
pub fn match_events(first: &[f64], second: &[f64], tolerance: f64) -> Result<Matching, StatsError> {
    if !(tolerance >= 0.0 && tolerance.is_finite()) {
        return Err(bad("the tolerance", "zero or more", tolerance));
    }
    for record in [first, second] {
        series("event times", record, 0)?;
        if let Some(pair) = record.windows(2).find(|pair| pair[0] > pair[1]) {
            return Err(bad("event times", "in rising order", pair[1]));
        }
    }
    // Rounding must not part what is exactly a tolerance away.
    let reach = tolerance + 1e-9 * tolerance.max(1e-3);
    let bands: Vec<(usize, usize)> = first
        .iter()
        .map(|t| {
            let low = second.partition_point(|s| *s < t - reach);
            (low, second.partition_point(|s| *s <= t + reach))
        })
        .collect();
    let candidates: usize = bands.iter().map(|(low, high)| high - low).sum();
    let closest = candidates <= MOST_CANDIDATES;
    let pairs = if closest { closest_pairs(first, second, &bands) } else { any_pairs(&bands) };
    let mut free = (vec![true; first.len()], vec![true; second.len()]);
    for &(i, j) in &pairs {
        (free.0[i], free.1[j]) = (false, false);
    }
    let left = |free: Vec<bool>| (0..free.len()).filter(|&i| free[i]).collect();
    Ok(Matching { pairs, only_first: left(free.0), only_second: left(free.1), closest })
}

/// How good a matching of two beginnings is: more pairs first, then less distance.
#[derive(Clone, Copy, PartialEq)]
struct Worth {
    pairs: u32,
    distance: f64,
}

impl Worth {
    fn beats(self, other: Worth) -> bool {
        self.pairs > other.pairs || self.pairs == other.pairs && self.distance < other.distance
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Move {
    SkipFirst,
    SkipSecond,
    Pair,
}

/// The best uncrossed matching. `best[j]` is that of the events so far with the first `j` of the
/// second record; a new event changes it only inside its band and, by carrying over, to the right.
fn closest_pairs(first: &[f64], second: &[f64], bands: &[(usize, usize)]) -> Vec<(usize, usize)> {
    let mut best = vec![Worth { pairs: 0, distance: 0.0 }; second.len() + 1];
    // best is valid up to here; farther right it is the same as at `valid`.
    let mut valid = 0;
    let mut moves = Vec::with_capacity(bands.len());
    for (i, &(low, high)) in bands.iter().enumerate() {
        for j in valid + 1..=high {
            best[j] = best[valid];
        }
        valid = valid.max(high);
        let mut row = Vec::with_capacity(high - low);
        let mut diagonal = best[low];
        for j in low..high {
            let mut worth = Worth {
                pairs: diagonal.pairs + 1,
                distance: diagonal.distance + (first[i] - second[j]).abs(),
            };
            let mut step = Move::Pair;
            if !worth.beats(best[j + 1]) {
                (worth, step) = (best[j + 1], Move::SkipFirst);
            }
            if best[j].beats(worth) {
                (worth, step) = (best[j], Move::SkipSecond);
            }
            diagonal = best[j + 1];
            best[j + 1] = worth;
            row.push(step);
        }
        moves.push(row);
    }
    let mut pairs = Vec::new();
    let (mut i, mut j) = (first.len(), second.len());
    while i > 0 {
        let (low, high) = bands[i - 1];
        if j > high {
            j = high;
        }
        match (j > low).then(|| moves[i - 1][j - 1 - low]) {
            Some(Move::Pair) => {
                (i, j) = (i - 1, j - 1);
                pairs.push((i, j));
            }
            Some(Move::SkipSecond) => j -= 1,
            Some(Move::SkipFirst) | None => i -= 1,
        }
    }
    pairs.reverse();
    pairs
}

/// A largest matching, earliest partner first.
fn any_pairs(bands: &[(usize, usize)]) -> Vec<(usize, usize)> {
    let mut next = 0;
    let mut pairs = Vec::new();
    for (i, &(low, high)) in bands.iter().enumerate() {
        let j = next.max(low);
        if j < high {
            pairs.push((i, j));
            next = j + 1;
        }
    }
    pairs
}
