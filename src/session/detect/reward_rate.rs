//! The plan's pace floor: rewards come clearly more rarely than it allows. The gaps between them add up
//! (CUSUM), so that a gap or two by chance is no breach. The plan states the floor, so this is no guess
//! about the animal and lies outside of the budget of false nudges.

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen};
use crate::session::{NudgeKind, Quantity, Reason, Rep};
use crate::stats::cusum::{Cusum, GapShift};
use crate::stats::prior::GammaRate;
use crate::stats::window::FadingRate;

/// The slow-down to notice: gaps this many times as long.
const SLOWER: f64 = 2.0;
/// At a pace just at the floor it speaks about once in so many hours.
const HOURS: f64 = 1.0;
/// The plan's floor stands in for unknown sessions as if it had been watched for so many seconds.
const FLOOR_WORTH_S: f64 = 60.0;
/// Beyond so many gaps between false alarms the threshold hardly grows any more.
const MOST_GAPS: f64 = 20_000.0;

/// Rewards in `(now - window, now]` and the length of that window, which in a young session is the
/// time so far.
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
    watch: Option<Watch>,
    /// Rewards of late count more than those long ago.
    fading: Option<FadingRate>,
    told: bool,
}

#[derive(Debug, Clone, PartialEq)]
struct Watch {
    floor_per_s: f64,
    shift: GapShift,
    sum: Cusum,
    /// Active seconds of the last reward, or of where watching began.
    from: f64,
    before: GammaRate,
}

impl RewardRate {
    fn start(&mut self, scene: &Scene) {
        self.watch = Watch::new(scene);
        let window = scene.plan.limits.rate_window.as_secs_f64();
        self.fading = FadingRate::new(window, scene.seconds()).ok();
        self.told = false;
    }
}

impl Watch {
    fn new(scene: &Scene) -> Option<Self> {
        let limits = &scene.plan.limits;
        let floor = limits.rate_floor_per_min / 60.0;
        let before = GammaRate::assumed(floor, FLOOR_WORTH_S).ok()?;
        let shift = GapShift::new(1.0 / floor, SLOWER / floor).ok()?;
        let between = (3600.0 * HOURS).min(MOST_GAPS / floor);
        let sum = Cusum::new(shift.threshold_for_time(between).ok()?).ok()?;
        Some(Watch { floor_per_s: floor, shift, sum, from: scene.seconds(), before })
    }
}

impl Detector for RewardRate {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => self.start(scene),
            Seen::Rep(rep) if rep.rewarded() => {
                let now = scene.seconds();
                if let Some(fading) = &mut self.fading {
                    fading.add(now);
                }
                if let Some(watch) = &mut self.watch {
                    watch.sum.add(watch.shift.score(now - watch.from));
                    if watch.sum.alarmed() {
                        // The look between would have told of it: the gap ran into its limit.
                        watch.sum.reset();
                    }
                    watch.from = now;
                }
                self.told = false;
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        if self.told {
            return None;
        }
        let watch = self.watch.as_mut()?;
        let gap = scene.seconds() - watch.from;
        if gap < watch.shift.alarm_after(&watch.sum) {
            return None;
        }
        self.told = true;
        // Spent: the next alarm needs new evidence.
        watch.sum.reset();
        watch.from = scene.seconds();
        let since_reward = scene.now.saturating_sub(scene.tally.last_reward).as_secs_f64();
        let window = scene.plan.limits.rate_window.min(scene.now).as_secs_f64();
        let count = scene.tally.window_rewards;
        let expected = watch.floor_per_s * window;
        // Nothing at all for longer than the window says more than the window.
        let probability = if since_reward > window {
            watch.before.nothing_for(since_reward)
        } else {
            watch.before.at_most(count, window)
        };
        let probability = probability.ok();
        let fading = self.fading.and_then(|fading| fading.rate(scene.seconds()).ok());
        Some(Alarm {
            nudge: NudgeKind::RateFalling,
            reason: Reason {
                detector: "pace floor".into(),
                because: format!(
                    "{count} rewards in the last {window:.0} seconds, where about {expected:.0} \
                     keep the floor"
                ),
                inputs: vec![
                    Quantity::new("rewards in window", f64::from(count), ""),
                    Quantity::new("window", window, "s"),
                    Quantity::new("time since the last reward", since_reward, "s"),
                    Quantity::new("floor", scene.plan.limits.rate_floor_per_min, "per min"),
                    Quantity::new(
                        "rate with fading weights",
                        fading.unwrap_or(0.0) * 60.0,
                        "per min",
                    ),
                    Quantity::new("hours from alarm to alarm at the floor", HOURS, "h"),
                ],
                probability,
                method: "cumulative sum of the gaps between rewards against the plan's floor; \
                         probability: at the floor, negative-binomial tail of the \
                         window's count, or Lomax tail of the time since the last reward"
                    .into(),
                source: "Vardeman & Ray 1985, Technometrics 27:145; Gelman et al., Bayesian Data \
                         Analysis, section 2.6"
                    .into(),
            },
        })
    }
}
