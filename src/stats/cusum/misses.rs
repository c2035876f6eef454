//! Single trials, missed or not.

use super::grid::{grid_steps, nearest_fraction};
use crate::run_length::{chain_run_lengths, grid_threshold_for};
use crate::{StatsError, open_share, positive};

/// Single trials whose chance of a miss shifts (Reynolds & Stoumbos 1999, J Qual Technol 31:87).
/// The reference value is put on a grid of whole fractions, so that run lengths are exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MissShift {
    good: f64,
    bad: f64,
    reference: (u32, u32),
}

impl MissShift {
    /// From the chance of a miss in the good and in the bad state.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless both lie between 0 and 1 and differ.
    pub fn new(good: f64, bad: f64) -> Result<Self, StatsError> {
        let good = open_share("the good chance of a miss", good)?;
        let worse = open_share("the bad chance of a miss", bad)?;
        if good == worse {
            return Err(crate::bad("the bad chance of a miss", "other than the good one", worse));
        }
        let r1 = ((1.0 - good) / (1.0 - worse)).ln();
        let r2 = (worse * (1.0 - good) / (good * (1.0 - worse))).ln();
        Ok(MissShift { good, bad: worse, reference: nearest_fraction(r1 / r2, 20) })
    }

    /// The reference value: between the good and the bad chance.
    pub fn reference(&self) -> f64 {
        f64::from(self.reference.0) / f64::from(self.reference.1)
    }

    /// The step of one trial.
    pub fn score(&self, missed: bool) -> f64 {
        let up = f64::from(u8::from(missed)) - self.reference();
        if self.bad > self.good { up } else { -up }
    }

    /// Mean number of trials to an alarm, when misses have chance `miss`. Exact for a threshold on
    /// the grid; one in between is as good as the next grid value.
    ///
    /// # Errors
    /// [`StatsError::Bad`] for a threshold not above zero or beyond the solver, or a chance not
    /// between 0 and 1; [`StatsError::Undefined`] when the alarm never comes.
    pub fn run_length(&self, threshold: f64, miss: f64) -> Result<f64, StatsError> {
        let threshold = positive("the threshold", threshold)?;
        let states = grid_steps(threshold, self.reference.1);
        self.grid_run_length(states, open_share("the chance of a miss", miss)?)
    }

    /// The lowest threshold with at least `wanted` trials between false alarms on average.
    ///
    /// # Errors
    /// [`StatsError::Bad`] below 1; [`StatsError::Undefined`] beyond the solver.
    pub fn threshold_for(&self, wanted: f64) -> Result<f64, StatsError> {
        let steps = grid_threshold_for(wanted, |states| self.grid_run_length(states, self.good))?;
        Ok(steps as f64 / f64::from(self.reference.1))
    }

    fn grid_run_length(&self, states: usize, miss: f64) -> Result<f64, StatsError> {
        let (a, b) = (i64::from(self.reference.0), i64::from(self.reference.1));
        // A step is up after a miss (or, watching for fewer misses, after a success).
        let (rise, fall, chance) =
            if self.bad > self.good { (b - a, -a, miss) } else { (a, a - b, 1.0 - miss) };
        let lengths = chain_run_lengths(states, |d| match i64::from(d) {
            d if d >= rise => 1.0,
            d if d >= fall => 1.0 - chance,
            _ => 0.0,
        })?;
        Ok(lengths[0])
    }
}
