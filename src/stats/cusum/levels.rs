//! Normal values, such as log latencies.

use crate::run_length::{brook_evans, threshold_for};
use crate::tails::normal_cdf;
use crate::{StatsError, bad, finite, positive};

/// Normal values (log latencies, log durations) whose mean shifts by a number of standard
/// deviations; the reference value is half of it (Hawkins & Olwell 1998, Cumulative Sum Charts).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelShift {
    mean: f64,
    sd: f64,
    shift: f64,
}

impl LevelShift {
    /// From the good state's mean and standard deviation, and the shift to notice in standard
    /// deviations: above zero for a rise, below for a fall.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the sd is above zero, the mean a number and the shift not zero.
    pub fn new(mean: f64, sd: f64, shift: f64) -> Result<Self, StatsError> {
        let shift = finite("the shift", shift)?;
        if shift == 0.0 {
            return Err(bad("the shift", "other than zero", shift));
        }
        Ok(LevelShift { mean: finite("the mean", mean)?, sd: positive("the sd", sd)?, shift })
    }

    /// The step of one value, in standard deviations.
    pub fn score(&self, value: f64) -> f64 {
        let z = (value - self.mean) / self.sd;
        self.shift.signum() * z - self.shift.abs() / 2.0
    }

    /// Mean number of values to an alarm when the true mean lies `offset` standard deviations in
    /// the direction of the shift: 0 in the good state, the size of the shift in the bad one.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the threshold is above zero and the offset a number;
    /// [`StatsError::Undefined`] when an alarm practically never comes.
    pub fn run_length(&self, threshold: f64, offset: f64) -> Result<f64, StatsError> {
        normal_run_length(self.shift.abs() / 2.0, threshold, 0.0, offset)
    }

    /// The threshold, in standard deviations, with `wanted` values between false alarms on average.
    ///
    /// # Errors
    /// [`StatsError::Bad`] below 1; [`StatsError::Undefined`] when there is none.
    pub fn threshold_for(&self, wanted: f64) -> Result<f64, StatsError> {
        threshold_for(wanted, 1.0, |h| self.run_length(h, 0.0))
    }
}

/// Mean steps to alarm of `S = max(0, S + Z - k)` from `start` with threshold `h`, for normal Z
/// with mean `offset` and sd 1 (Brook & Evans 1972).
///
/// # Errors
/// [`StatsError::Bad`] unless `h` is above zero, `start` below it and the others are numbers;
/// [`StatsError::Undefined`] when an alarm practically never comes.
pub fn normal_run_length(k: f64, h: f64, start: f64, offset: f64) -> Result<f64, StatsError> {
    let k = finite("the reference value", k)?;
    let offset = finite("the offset", offset)?;
    brook_evans(h, start, |step| normal_cdf(step + k - offset))
}
