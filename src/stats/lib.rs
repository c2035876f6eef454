//! Numbers in, estimates out. Pure: never formats, prints or reads anything.
//!
//! Every function checks what it is given and answers with a [`Result`]: no input panics, and no
//! answer is NaN. An answer may be infinite where that is the true answer (a rate ratio over an
//! empty baseline), and says so. What does not exist is `None` or [`StatsError::Undefined`], never
//! an invented number.
//!
//! ```
//! use hushtally_stats::{Level, rates};
//! let rate = rates::garwood(137, 24.198_93, Level::NINETY_FIVE)?; // 137 rewards in 24.2 minutes
//! assert!((rate.point - 5.661).abs() < 1e-3 && (rate.low - 4.753).abs() < 1e-3);
//! # Ok::<(), hushtally_stats::StatsError>(())
//! ```

pub mod agreement;
pub mod anytime;
pub mod cusum;
pub mod decline;
pub mod effect;
pub mod energy;
pub mod ewma;
pub mod faded;
pub mod gain;
pub mod good_time;
pub mod lapse;
pub mod lasting;
pub mod lookback;
pub mod matching;
pub mod over_time;
pub mod percentile;
pub mod permutation;
pub mod prior;
pub mod proportions;
pub mod ranks;
pub mod rates;
pub mod run_length;
pub mod runs;
pub mod smooth;
pub mod summary;
pub mod survival;
mod tails;
pub mod trend;
pub mod window;

pub use tails::{binomial_at_least, student_upper_quantile};

#[cfg(test)]
mod tests;

/// A number with its interval and the count it rests on. Never NaN; the ends may be infinite.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Estimate {
    /// The best single value.
    pub point: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// How many observations it rests on (events for a rate, trials for a share).
    pub n: u32,
}

/// A confidence level strictly between 0 and 1.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Level(f64);

impl Level {
    /// 90 %.
    pub const NINETY: Level = Level(0.90);
    /// 95 %, the usual one.
    pub const NINETY_FIVE: Level = Level(0.95);

    /// A level such as 0.95.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless it lies strictly between 0 and 1.
    pub fn new(level: f64) -> Result<Self, StatsError> {
        if level > 0.0 && level < 1.0 {
            Ok(Level(level))
        } else {
            Err(bad("a confidence level", "between 0 and 1", level))
        }
    }

    /// The level as a number.
    pub fn value(self) -> f64 {
        self.0
    }

    /// What is left over on each side: 0.025 at 95 %.
    pub(crate) fn tail(self) -> f64 {
        (1.0 - self.0) / 2.0
    }

    /// The two-sided normal quantile: 1.96 at 95 %.
    pub fn z(self) -> f64 {
        -tails::normal_quantile(self.tail())
    }
}

/// Why a number could not be given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StatsError {
    /// An input that cannot be: a negative time, a share above 1, a number that is not a number.
    #[error("{what} must be {wanted}, not {got}")]
    Bad {
        /// The input.
        what: &'static str,
        /// What it should have been.
        wanted: &'static str,
        /// What it was.
        got: f64,
    },
    /// Not enough observations yet, and how many would do.
    #[error("not enough {what} yet: {needed} needed, {got} so far")]
    TooFew {
        /// What is counted.
        what: &'static str,
        /// The least that will do.
        needed: usize,
        /// How many there are.
        got: usize,
    },
    /// More successes than trials, and the like.
    #[error("{part} of {whole} cannot be")]
    PartAboveWhole {
        /// The part.
        part: u64,
        /// The whole.
        whole: u64,
    },
    /// Two series that should be of one length.
    #[error("the two series differ in length: {left} and {right}")]
    Lengths {
        /// Length of the first.
        left: usize,
        /// Length of the second.
        right: usize,
    },
    /// The answer does not exist for these data.
    #[error("undefined: {why}")]
    Undefined {
        /// Why not.
        why: &'static str,
    },
}

pub(crate) fn bad(what: &'static str, wanted: &'static str, got: f64) -> StatsError {
    StatsError::Bad { what, wanted, got }
}

/// Largest size of a number that is taken for a measurement: squares and ratios of such numbers
/// stay far from the end of the doubles, so that nothing turns into NaN on the way.
const LARGEST: f64 = 1e100;

/// The most events or trials one number may rest on; beyond, exact tails take too long.
pub const MOST_EVENTS: u32 = 10_000_000;

/// Whether a number is zero or of a size that can be a measurement.
pub(crate) fn measurable(x: f64) -> bool {
    x == 0.0 || (1.0 / LARGEST..=LARGEST).contains(&x.abs())
}

/// A measurable number above zero, or the complaint.
pub(crate) fn positive(what: &'static str, x: f64) -> Result<f64, StatsError> {
    if x > 0.0 && measurable(x) { Ok(x) } else { Err(bad(what, "above zero", x)) }
}

/// A measurable number, or the complaint.
pub(crate) fn finite(what: &'static str, x: f64) -> Result<f64, StatsError> {
    if measurable(x) { Ok(x) } else { Err(bad(what, "a finite number", x)) }
}

/// An expected count (or a gamma shape) above zero that exact tails can be had for.
pub(crate) fn expected_count(what: &'static str, x: f64) -> Result<f64, StatsError> {
    if x > f64::from(MOST_EVENTS) {
        return Err(bad(what, "at most 10 million", x));
    }
    positive(what, x)
}

/// A count of events or trials that exact tails can be had for.
pub(crate) fn events(what: &'static str, count: u32) -> Result<u32, StatsError> {
    if count > MOST_EVENTS {
        return Err(bad(what, "at most 10 million", f64::from(count)));
    }
    Ok(count)
}

/// A probability from 0 to 1, ends included, or the complaint.
pub(crate) fn share(what: &'static str, x: f64) -> Result<f64, StatsError> {
    // Adding zero makes a minus zero an ordinary one.
    if (0.0..=1.0).contains(&x) { Ok(x + 0.0) } else { Err(bad(what, "from 0 to 1", x)) }
}

/// A probability strictly between 0 and 1, or the complaint.
pub(crate) fn open_share(what: &'static str, x: f64) -> Result<f64, StatsError> {
    if x > 0.0 && x < 1.0 { Ok(x) } else { Err(bad(what, "between 0 and 1", x)) }
}

/// At least `needed` finite values, or the complaint.
pub(crate) fn series(what: &'static str, x: &[f64], needed: usize) -> Result<(), StatsError> {
    if x.len() < needed {
        return Err(StatsError::TooFew { what, needed, got: x.len() });
    }
    match x.iter().find(|v| !measurable(**v)) {
        Some(&v) => Err(bad(what, "finite numbers", v)),
        None => Ok(()),
    }
}

/// A length as the `n` of an [`Estimate`].
pub fn count(len: usize) -> u32 {
    u32::try_from(len).unwrap_or(u32::MAX)
}
