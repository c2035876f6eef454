//! A rate that is known only from earlier sessions: gamma prior, Poisson counts, exact tails.
//!
//! With a gamma prior the count of a coming window is negative binomial and the time since the last
//! event is Lomax (Pareto type II), so no drop is called significant merely because the baseline
//! was measured on little (Gelman et al., Bayesian Data Analysis, section 2.6).

use super::rates::Counted;
use super::tails::{beta_lower, gamma_quantile};
use super::{Estimate, Level, StatsError, count, expected_count, finite, positive};

/// What is known of a rate: a gamma distribution with `shape` (events seen, so to speak) and
/// `exposure` (the time they were seen in). Its mean is shape / exposure.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct GammaRate {
    shape: f64,
    exposure: f64,
}

impl GammaRate {
    /// From its two parameters.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless both are above zero and the shape at most 10 million.
    pub fn new(shape: f64, exposure: f64) -> Result<Self, StatsError> {
        Ok(GammaRate {
            shape: expected_count("the shape", shape)?,
            exposure: positive("the exposure", exposure)?,
        })
    }

    /// An assumed rate that weighs as much as `exposure` of watching, such as a plan's floor.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless both are above zero.
    pub fn assumed(rate: f64, exposure: f64) -> Result<Self, StatsError> {
        GammaRate::new(positive("the rate", rate)? * positive("the exposure", exposure)?, exposure)
    }

    /// From earlier sessions, allowing for rates that differ between sessions: moments of the
    /// Poisson–gamma mixture. When the counts scatter no more than one common rate would make them,
    /// the knowledge is that of one long session (with Jeffreys' half event added).
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without a session; [`StatsError::Bad`] unless every exposure is above
    /// zero.
    pub fn from_sessions(sessions: &[Counted]) -> Result<Self, StatsError> {
        if sessions.is_empty() {
            return Err(StatsError::TooFew { what: "sessions", needed: 1, got: 0 });
        }
        let (mut events, mut time, mut squares) = (0.0, 0.0, 0.0);
        for session in sessions {
            let t = positive("the time counted over", session.exposure)?;
            events += f64::from(session.count);
            time += t;
            squares += t * t;
        }
        let pooled = GammaRate::new(events + 0.5, time)?;
        let mean = events / time;
        let scatter: f64 =
            sessions.iter().map(|s| (f64::from(s.count) - mean * s.exposure).powi(2)).sum();
        // One mean was fitted, so the scatter is short by about one session's share.
        let fitted = 1.0 - squares / (time * time);
        let between = (scatter - mean * time * fitted) / (squares * fitted.max(f64::EPSILON));
        if sessions.len() < 2 || between <= 0.0 || mean <= 0.0 {
            return Ok(pooled);
        }
        let shape = mean * mean / between;
        if shape >= pooled.shape { Ok(pooled) } else { GammaRate::new(shape, shape / mean) }
    }

    /// The expected rate.
    pub fn mean(self) -> f64 {
        self.shape / self.exposure
    }

    /// The gamma shape: how many events the knowledge is worth.
    pub fn shape(self) -> f64 {
        self.shape
    }

    /// How much watching the knowledge is worth.
    pub fn exposure(self) -> f64 {
        self.exposure
    }

    /// The rate with its equal-tailed credible interval; `n` is the shape, rounded down.
    pub fn interval(self, level: Level) -> Estimate {
        let at = |p| gamma_quantile(p, self.shape) / self.exposure;
        let n = count(self.shape as usize);
        Estimate { point: self.mean(), low: at(level.tail()), high: at(1.0 - level.tail()), n }
    }

    /// P(at most `k` events in a coming window): exact negative-binomial tail.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the window is above zero.
    pub fn at_most(self, k: u32, window: f64) -> Result<f64, StatsError> {
        let window = positive("the window", window)?;
        let success = self.exposure / (self.exposure + window);
        Ok(beta_lower(self.shape, f64::from(k) + 1.0, success))
    }

    /// P(at least `k` events in a coming window): exact negative-binomial tail.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the window is above zero.
    pub fn at_least(self, k: u32, window: f64) -> Result<f64, StatsError> {
        let window = positive("the window", window)?;
        if k == 0 {
            return Ok(1.0);
        }
        let failure = window / (self.exposure + window);
        Ok(beta_lower(f64::from(k), self.shape, failure))
    }

    /// P(nothing for at least `elapsed` after an event): exact Lomax tail,
    /// `(exposure / (exposure + elapsed)) ^ shape` (Lomax 1954, JASA 49:847).
    ///
    /// # Errors
    /// [`StatsError::Bad`] for a negative or endless time.
    pub fn nothing_for(self, elapsed: f64) -> Result<f64, StatsError> {
        let elapsed = finite("the time since the last event", elapsed)?;
        if elapsed < 0.0 {
            return Err(super::bad("the time since the last event", "zero or more", elapsed));
        }
        Ok((-self.shape * (elapsed / self.exposure).ln_1p()).exp())
    }
}
