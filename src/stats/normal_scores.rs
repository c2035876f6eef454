//! Where a value stands among earlier ones, as a normal score: no shape of the distribution is
//! assumed, so a long right tail does not alarm (sequential ranks, McDonald 1990, Naval Res Logist
//! 37:627; normal scores, Blom 1958).

use std::collections::VecDeque;

use super::tails::normal_quantile;

/// So many values are kept; the oldest leaves.
const MOST: usize = 48;
/// Scale of the tail past the largest value, as a share of the mean.
const TAIL: f64 = 0.5;
/// Fewer values than this give no score.
pub const FEWEST: usize = 4;

/// The values that a new one is compared with.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reference {
    values: VecDeque<f64>,
}

impl Reference {
    /// With these values to begin with, oldest first; what is not finite is left out.
    pub fn of(values: impl IntoIterator<Item = f64>) -> Self {
        let mut reference = Reference::default();
        values.into_iter().for_each(|value| reference.learn(value));
        reference
    }

    /// Takes in a value.
    pub fn learn(&mut self, value: f64) {
        if value.is_finite() {
            if self.values.len() == MOST {
                self.values.pop_front();
            }
            self.values.push_back(value);
        }
    }

    /// How many values there are.
    pub fn n(&self) -> usize {
        self.values.len()
    }

    /// Normal score of a new value: standard normal while nothing changes, up to the steps of a small
    /// reference. `None` below [`FEWEST`] values.
    pub fn score(&self, value: f64) -> Option<f64> {
        if self.n() < FEWEST || value.is_nan() {
            return None;
        }
        let (mut below, mut tied) = (0.0, 0.0);
        for seen in &self.values {
            if *seen < value {
                below += 1.0;
            } else if *seen == value {
                tied += 1.0;
            }
        }
        // Rank of the value among all with it, ties in the middle; Blom's constants.
        let rank = below + tied / 2.0 + 1.0;
        Some(normal_quantile((rank - 0.375) / (self.n() as f64 + 1.25)))
    }

    /// Median, and a scale that is the standard deviation where the middle is normal (quarter range
    /// over 1.349). `None` below [`FEWEST`] values.
    pub fn centre(&self) -> Option<(f64, f64)> {
        if self.n() < FEWEST {
            return None;
        }
        let mut sorted: [f64; MOST] = [0.0; MOST];
        let sorted = &mut sorted[..self.n()];
        sorted.iter_mut().zip(&self.values).for_each(|(to, from)| *to = *from);
        sorted.sort_unstable_by(f64::total_cmp);
        let at = |p: f64| {
            let place = p * (sorted.len() - 1) as f64;
            let (low, part) = (place as usize, place.fract());
            let high = sorted[(low + 1).min(sorted.len() - 1)];
            sorted[low] + part * (high - sorted[low])
        };
        Some((at(0.5), (at(0.75) - at(0.25)) / 1.349))
    }

    /// Chance that a new value is at least `value`, by the place among those seen (positive values
    /// such as seconds). Past the largest the chance falls exponentially, with half the mean as its
    /// scale (an assumption). `None` below [`FEWEST`] values.
    pub fn at_least(&self, value: f64) -> Option<f64> {
        if self.n() < FEWEST || value.is_nan() {
            return None;
        }
        let n = self.n() as f64;
        let (mut above, mut largest, mut sum) = (0.0, 0.0_f64, 0.0);
        for seen in &self.values {
            above += f64::from(u8::from(*seen >= value));
            largest = largest.max(*seen);
            sum += seen;
        }
        let scale = (sum / n * TAIL).max(f64::MIN_POSITIVE);
        let beyond = (-(value - largest).max(0.0) / scale).exp();
        Some((above + 0.625) / (n + 1.25) * beyond)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scores_follow_ranks_whatever_the_shape() {
        let reference = Reference::of([1.0, 2.0, 3.0, 1000.0]);
        // Third of five: the middle.
        assert!(reference.score(2.5).unwrap().abs() < 1e-12);
        assert_eq!(reference.score(1e9), reference.score(1001.0));
        assert!((reference.score(0.0).unwrap() + reference.score(2000.0).unwrap()).abs() < 1e-12);
        assert_eq!(Reference::of([1.0, f64::NAN, 2.0, 3.0]).score(2.0), None);
    }

    #[test]
    fn the_centre_of_equally_spaced_values() {
        let (middle, scale) = Reference::of((0..5).map(f64::from)).centre().unwrap();
        assert_eq!(middle, 2.0);
        assert!((scale - 2.0 / 1.349).abs() < 1e-12);
    }
}
