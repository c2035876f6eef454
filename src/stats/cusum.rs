//! Cumulative sums: a small lasting change adds up, chance does not (Page 1954, Biometrika 41:100).
//!
//! A shift names the good and the bad state of one kind of data. It turns each observation into a
//! step of a [`Cusum`] and knows how long that sum runs before an alarm, so that a plan can say how
//! many false nudges an hour it stands and the threshold follows:
//!
//! ```
//! use hushtally::stats::cusum::{Cusum, GapShift};
//! let slower = GapShift::new(6.0, 12.0)?; // a reward every 6 s is good, every 12 s too thin
//! let h = slower.threshold_for_time(3600.0)?; // one false alarm an hour of good work
//! let mut sum = Cusum::new(h)?;
//! assert!(!sum.add(slower.score(7.0)));
//! // With nothing more, this is when to speak up, in seconds after the last reward.
//! assert!(slower.alarm_after(&sum) > 30.0);
//! # Ok::<(), hushtally::stats::StatsError>(())
//! ```

use super::run_length::{
    brook_evans, chain_run_lengths, exponential_run_length, grid_threshold_for, head_start,
    threshold_for,
};
use super::tails::{normal_cdf, poisson_at_least, poisson_at_most};
use super::{StatsError, bad, finite, open_share, positive};

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

    /// Adds one step (a shift's `score`) and tells whether the sum has reached its threshold.
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
            return Err(super::bad("the bad mean", "other than the good one", worse));
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
            return Err(super::bad("the bad gap", "other than the good one", worse));
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

    /// Mean time to an alarm that is raised in mid-gap, as soon as [`Self::alarm_after`] has
    /// passed: one mean gap less than the finished gaps would take, since what would have remained
    /// of an exponential gap is as long as a whole one.
    ///
    /// # Errors
    /// As [`Self::run_length`].
    pub fn time_to_alarm(&self, threshold: f64, mean: f64) -> Result<f64, StatsError> {
        let gaps = self.run_length(threshold, mean)?;
        let counted = if self.bad > self.good { gaps - 1.0 } else { gaps };
        Ok(counted * mean)
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
            return Err(super::bad("the bad chance of a miss", "other than the good one", worse));
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

    /// For logs of times: the shift is a time that grows by `factor` (1.5: half as long again).
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the factor is above zero and not 1, or as [`Self::new`].
    pub fn of_factor(mean_log: f64, sd_log: f64, factor: f64) -> Result<Self, StatsError> {
        let sd = positive("the sd", sd_log)?;
        LevelShift::new(mean_log, sd, positive("the factor", factor)?.ln() / sd)
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

/// The fraction with a denominator of at most `most` that is nearest to `x`, not zero.
fn nearest_fraction(x: f64, most: u32) -> (u32, u32) {
    (1..=most)
        .map(|b| ((x * f64::from(b)).round().clamp(1.0, 1e9) as u32, b))
        .min_by(|p, q| {
            let miss = |&(a, b): &(u32, u32)| (x - f64::from(a) / f64::from(b)).abs();
            miss(p).total_cmp(&miss(q))
        })
        .unwrap_or((1, 1))
}

/// A threshold in grid steps, rounded up with a margin for rounding.
fn grid_steps(threshold: f64, parts: u32) -> usize {
    (threshold * f64::from(parts) - 1e-6).ceil().clamp(1.0, 1e6) as usize
}
