//! Cumulative sums: a small lasting change adds up, chance does not (Page 1954, Biometrika 41:100).
//!
//! A shift names the good and the bad state of one kind of data. It turns each observation into a
//! step of a [`Cusum`] and knows how long that sum runs before an alarm, so that a plan can say how
//! many false nudges an hour it stands and the threshold follows:
//!
//! ```
//! use hushtally_stats::cusum::{Cusum, GapShift};
//! let slower = GapShift::new(6.0, 12.0)?; // a reward every 6 s is good, every 12 s too thin
//! let h = slower.threshold_for_time(3600.0)?; // one false alarm an hour of good work
//! let mut sum = Cusum::new(h)?;
//! assert!(!sum.add(slower.score(7.0)));
//! // With nothing more, this is when to speak up, in seconds after the last reward.
//! assert!(slower.alarm_after(&sum) > 30.0);
//! # Ok::<(), hushtally_stats::StatsError>(())
//! ```

mod counts;
mod gaps;
mod grid;
mod levels;
mod misses;

pub use counts::CountShift;
pub use gaps::GapShift;
pub use levels::{LevelShift, normal_run_length};
pub use misses::MissShift;

use super::run_length::head_start;
use super::{StatsError, positive};

/// A one-sided sum that never falls below zero and alarms when it reaches its threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    threshold: f64,
    start: f64,
    sum: f64,
    run: u32,
}

impl Cusum {
    /// A sum that starts at zero.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the threshold is above zero.
    pub fn new(threshold: f64) -> Result<Self, StatsError> {
        Cusum::with_head_start(threshold, 0.0)
    }

    /// A sum that starts part of the way up, for a fast first response (Lucas & Crosier 1982,
    /// Technometrics 24:199; they advise half the threshold).
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless `0 <= start < threshold`.
    pub fn with_head_start(threshold: f64, start: f64) -> Result<Self, StatsError> {
        let threshold = positive("the threshold", threshold)?;
        let start = head_start(start, threshold)?;
        Ok(Cusum { threshold, start, sum: start, run: 0 })
    }

    /// Adds one step (a shift's `score`) and returns whether the sum has reached its threshold.
    /// A step that is not a number changes nothing.
    pub fn add(&mut self, step: f64) -> bool {
        if !step.is_nan() {
            self.sum = (self.sum + step).clamp(0.0, f64::MAX);
            self.run = if self.sum > 0.0 { self.run.saturating_add(1) } else { 0 };
        }
        self.alarmed()
    }

    /// Whether the sum is at its threshold or above (rounding of a grid value forgiven).
    pub fn alarmed(&self) -> bool {
        self.sum >= self.threshold * (1.0 - 1e-9)
    }

    /// The sum now.
    pub fn sum(&self) -> f64 {
        self.sum
    }

    /// How many observations ago the sum left zero: the change probably began then
    /// (Montgomery, Introduction to Statistical Quality Control, section 9.1).
    pub fn run(&self) -> u32 {
        self.run
    }

    /// The threshold.
    pub fn threshold(&self) -> f64 {
        self.threshold
    }

    /// What is still missing to an alarm; never negative.
    pub fn room(&self) -> f64 {
        (self.threshold - self.sum).max(0.0)
    }

    /// Back to the start, after an alarm or a new step.
    pub fn reset(&mut self) {
        (self.sum, self.run) = (self.start, 0);
    }
}
