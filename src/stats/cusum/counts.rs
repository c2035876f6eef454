//! Counts of equal windows.

use super::grid::{grid_steps, nearest_fraction};
use crate::run_length::{chain_run_lengths, grid_threshold_for};
use crate::tails::{poisson_at_least, poisson_at_most};
use crate::{StatsError, positive};

/// Poisson counts of equal windows whose mean shifts (Lucas 1985, Technometrics 27:129). The
/// reference value is put on a grid of whole fractions, so that run lengths are exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountShift {
    good: f64,
    bad: f64,
    reference: (u32, u32),
}

impl CountShift {
    /// From the mean count of a window in the good and in the bad state.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless both are above zero and differ.
    pub fn new(good: f64, bad: f64) -> Result<Self, StatsError> {
        let good = positive("the good mean", good)?;
        let worse = positive("the bad mean", bad)?;
        if good == worse {
            return Err(crate::bad("the bad mean", "other than the good one", worse));
        }
        let best = (good - worse) / (good / worse).ln();
        let parts = if best < 0.5 { (10.0 / best).ceil().min(60.0) as u32 } else { 20 };
        Ok(CountShift { good, bad: worse, reference: nearest_fraction(best, parts) })
    }

    /// The reference value: steps are counted from it.
    pub fn reference(&self) -> f64 {
        f64::from(self.reference.0) / f64::from(self.reference.1)
    }

    /// The step of one window's count: upwards when it speaks for the bad state.
    pub fn score(&self, count: u32) -> f64 {
        let up = f64::from(count) - self.reference();
        if self.bad > self.good { up } else { -up }
    }

    /// Mean number of windows to an alarm, when the true mean is `mean`. Exact for a threshold on
    /// the grid; one in between is as good as the next grid value.
    ///
    /// # Errors
    /// [`StatsError::Bad`] for a threshold or mean that is not above zero, or a threshold beyond
    /// the solver; [`StatsError::Undefined`] when the alarm never comes.
    pub fn run_length(&self, threshold: f64, mean: f64) -> Result<f64, StatsError> {
        let threshold = positive("the threshold", threshold)?;
        let states = grid_steps(threshold, self.reference.1);
        self.grid_run_length(states, positive("the mean", mean)?)
    }

    /// The lowest threshold with at least `wanted` windows between false alarms on average.
    ///
    /// # Errors
    /// [`StatsError::Bad`] below 1; [`StatsError::Undefined`] beyond the solver.
    pub fn threshold_for(&self, wanted: f64) -> Result<f64, StatsError> {
        let steps = grid_threshold_for(wanted, |states| self.grid_run_length(states, self.good))?;
        Ok(steps as f64 / f64::from(self.reference.1))
    }

    fn grid_run_length(&self, states: usize, mean: f64) -> Result<f64, StatsError> {
        let (a, b) = (i64::from(self.reference.0), i64::from(self.reference.1));
        let lengths = chain_run_lengths(states, |d| {
            let d = i64::from(d);
            if self.bad > self.good {
                // b X - a <= d
                let most = (d + a).div_euclid(b);
                u32::try_from(most).map_or(0.0, |k| poisson_at_most(k, mean))
            } else {
                // a - b X <= d
                let least = -(d - a).div_euclid(b);
                u32::try_from(least).map_or(1.0, |k| poisson_at_least(k, mean))
            }
        })?;
        Ok(lengths[0])
    }
}
