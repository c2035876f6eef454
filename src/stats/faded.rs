//! How often a step is met now, by its tries, older ones weighing less.
//!
//! Every try at the step makes those before it weigh a little less, so that the level may drift while it is learnt:
//! a beta distribution whose counts are discounted (West & Harrison 1997, Bayesian Forecasting and Dynamic Models,
//! 2nd ed., chapter 6; as a power prior: Ibrahim & Chen 2000, Stat Sci 15:46), with Jeffreys' prior of half a try
//! each way (Brown, Cai & DasGupta 2001, Stat Sci 16:101). Tries of earlier sessions go on weighing in, ever less.

use serde::{Deserialize, Serialize};

use super::tails::{beta_lower, beta_quantile};
use super::{Estimate, Level};

/// A try weighs a third after this many times the plan's recent tries. Chosen on tuning seeds of the bench; the trials
/// stand in tests/bench.d/RESULTS.md.
const MEMORY: f64 = 2.5;
/// Of a session that is known by its counts, this many tries are gone over.
const MOST_AT_ONCE: u64 = 10_000;
/// Jeffreys' prior.
const PRIOR: f64 = 0.5;

/// Tries at one step, older ones weighing less.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Faded {
    /// Weight of those that met the criterion.
    pub met: f64,
    /// Weight of those that did not.
    pub missed: f64,
    /// How many they are, whatever they weigh.
    pub tries: u32,
}

/// What a try weighs once another one came, where the plan's advice looks at this many recent tries.
pub fn fade(recent_tries: u32) -> f64 {
    1.0 - 1.0 / (MEMORY * f64::from(recent_tries.max(1)))
}

impl Faded {
    /// After one more try.
    #[must_use]
    pub fn and(self, met: bool, fade: f64) -> Self {
        Faded {
            met: self.met * fade + f64::from(u8::from(met)),
            missed: self.missed * fade + f64::from(u8::from(!met)),
            tries: self.tries.saturating_add(1),
        }
    }

    /// After these tries too, in order of time.
    #[must_use]
    pub fn and_all(self, met: impl IntoIterator<Item = bool>, fade: f64) -> Self {
        met.into_iter().fold(self, |known, met| known.and(met, fade))
    }

    /// After a session of which only the counts are known: as if its misses lay evenly between.
    #[must_use]
    pub fn and_counts(self, met: u32, tries: u32, fade: f64) -> Self {
        let (met, all) = (u64::from(met.min(tries)), u64::from(tries));
        // What is so far back weighs nothing.
        let from = all.saturating_sub(MOST_AT_ONCE);
        let known = Faded {
            tries: self.tries.saturating_add((from).try_into().unwrap_or(u32::MAX)),
            ..self
        };
        known.and_all((from..all).map(|i| (i + 1) * met / all > i * met / all), fade)
    }

    /// Both shapes of the beta distribution.
    fn shapes(self) -> (f64, f64) {
        (self.met + PRIOR, self.missed + PRIOR)
    }

    /// The share that is met now, with its interval.
    pub fn share(self, level: Level) -> Estimate {
        let (a, b) = self.shapes();
        let end = |p: f64| beta_quantile(p, a, b);
        Estimate {
            point: a / (a + b),
            low: end(level.tail()),
            high: end(1.0 - level.tail()),
            n: self.tries,
        }
    }

    /// The chance that the share is at least `goal`.
    pub fn at_least(self, goal: f64) -> f64 {
        let (a, b) = self.shapes();
        // Beyond nine digits rounding would decide.
        ((1.0 - beta_lower(a, b, goal)) * 1e9).round() / 1e9
    }

    /// The same after this many more tries that go as the share is now.
    #[must_use]
    pub fn going_on(self, tries: u32, fade: f64) -> Self {
        let (a, b) = self.shapes();
        let share = a / (a + b);
        (0..tries).fold(self, |known, _| Faded {
            met: known.met * fade + share,
            missed: known.missed * fade + 1.0 - share,
            tries: known.tries.saturating_add(1),
        })
    }
}
