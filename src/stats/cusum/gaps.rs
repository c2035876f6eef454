//! Gaps between events.

use super::Cusum;
use crate::run_length::{brook_evans, exponential_run_length, threshold_for};
use crate::{StatsError, positive};

/// Gaps between events of a Poisson process, exponential, whose mean shifts (Vardeman & Ray 1985,
/// Technometrics 27:145).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GapShift {
    good: f64,
    bad: f64,
}

impl GapShift {
    /// From the mean gap in the good and in the bad state; a bad gap longer than the good one
    /// watches for a slow-down.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless both are above zero and differ.
    pub fn new(good: f64, bad: f64) -> Result<Self, StatsError> {
        let good = positive("the good gap", good)?;
        let worse = positive("the bad gap", bad)?;
        if good == worse {
            return Err(crate::bad("the bad gap", "other than the good one", worse));
        }
        Ok(GapShift { good, bad: worse })
    }

    /// The reference gap: ln(bad / good) / (1 / good - 1 / bad).
    pub fn reference(&self) -> f64 {
        (self.bad / self.good).ln() / (1.0 / self.good - 1.0 / self.bad)
    }

    /// The step of one finished gap.
    pub fn score(&self, gap: f64) -> f64 {
        let up = gap - self.reference();
        if self.bad > self.good { up } else { -up }
    }

    /// How long after the last event the running gap alone makes the sum alarm. Endless when
    /// watching for a speed-up, which silence cannot show.
    pub fn alarm_after(&self, sum: &Cusum) -> f64 {
        if self.bad > self.good { sum.room() + self.reference() } else { f64::INFINITY }
    }

    /// Mean number of gaps to an alarm (the last one included), when the true mean gap is `mean`.
    /// Exact for a slow-down with a threshold of up to 22 gaps, else a fine Markov chain.
    ///
    /// # Errors
    /// [`StatsError::Bad`] for a threshold or mean that is not above zero.
    pub fn run_length(&self, threshold: f64, mean: f64) -> Result<f64, StatsError> {
        let mean = positive("the mean gap", mean)?;
        let h = positive("the threshold", threshold)? / mean;
        let k = self.reference() / mean;
        let within = |x: f64| if x > 0.0 { -(-x).exp_m1() } else { 0.0 };
        if self.bad > self.good {
            match exponential_run_length(k, h) {
                Some(length) => Ok(length),
                None => brook_evans(h, 0.0, |step| within(step + k)),
            }
        } else {
            brook_evans(h, 0.0, |step| 1.0 - within(k - step))
        }
    }

    /// The threshold with `wanted` gaps between false alarms on average.
    ///
    /// # Errors
    /// [`StatsError::Bad`] below 1; [`StatsError::Undefined`] when there is none.
    pub fn threshold_for(&self, wanted: f64) -> Result<f64, StatsError> {
        threshold_for(wanted, self.good, |h| self.run_length(h, self.good))
    }

    /// The threshold with `wanted` time between false alarms on average, raised in mid-gap:
    /// 3600 s for one an hour of good work.
    ///
    /// # Errors
    /// As [`Self::threshold_for`].
    pub fn threshold_for_time(&self, wanted: f64) -> Result<f64, StatsError> {
        let gaps = positive("the wanted time", wanted)? / self.good;
        self.threshold_for(if self.bad > self.good { gaps + 1.0 } else { gaps.max(1.0) })
    }
}
