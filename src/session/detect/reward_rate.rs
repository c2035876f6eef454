//! Rewards are getting too rare: too few in the window for the plan's floor.

use std::time::Duration;

use statrs::distribution::{DiscreteCDF, Poisson};

use super::{Alarm, Detector, Scene, Seen};
use crate::session::{NudgeKind, Quantity, Reason, Rep};

/// So unlikely must the count be, were the rate at the floor, before the nudge.
const UNLIKELY: f64 = 0.05;

/// Rewards in `(now - window, now]` and the length of that window, which in a young session is the time so far.
pub fn recent_rewards(reps: &[Rep], now: Duration, window: Duration) -> (u32, Duration) {
    let from = now.checked_sub(window);
    let count = reps
        .iter()
        .rev()
        .take_while(|rep| from.is_none_or(|from| rep.active > from))
        .filter(|rep| rep.rewarded())
        .count();
    (u32::try_from(count).unwrap_or(u32::MAX), window.min(now))
}

/// Rewards per minute over the window; `None` without time.
pub fn rate_per_min(reps: &[Rep], now: Duration, window: Duration) -> Option<f64> {
    let (count, span) = recent_rewards(reps, now, window);
    (span > Duration::ZERO).then(|| f64::from(count) * 60.0 / span.as_secs_f64())
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RewardRate {
    /// Already told; waits until the rate is back at the floor.
    told: bool,
}

impl Detector for RewardRate {
    fn see(&mut self, _: &Seen, _: &Scene) {}

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let limits = &scene.plan.limits;
        let (count, span) = recent_rewards(scene.reps, scene.now, limits.rate_window);
        let expected = limits.rate_floor_per_min * span.as_secs_f64() / 60.0;
        if f64::from(count) >= expected {
            self.told = false;
            return None;
        }
        let probability = Poisson::new(expected).ok()?.cdf(u64::from(count));
        if self.told || probability >= UNLIKELY {
            return None;
        }
        self.told = true;
        Some(Alarm {
            nudge: NudgeKind::RateFalling,
            reason: Reason {
                detector: "reward rate".into(),
                because: format!(
                    "{count} rewards in the last {:.0} seconds, where {expected:.0} keep the pace",
                    span.as_secs_f64()
                ),
                inputs: vec![
                    Quantity::new("rewards in window", f64::from(count), ""),
                    Quantity::new("window", span.as_secs_f64(), "s"),
                    Quantity::new("floor", limits.rate_floor_per_min, "per min"),
                ],
                probability: Some(probability),
                method: "lower tail of the Poisson distribution at the plan's floor".into(),
                source: "Garwood 1936, Biometrika 28:437-442".into(),
            },
        })
    }
}
