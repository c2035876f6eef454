//! Rewards are getting too rare: the gaps between them add up (CUSUM), or one is too long.

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen, budget};
use crate::session::{NudgeKind, Quantity, Reason, Rep};
use crate::stats::Level;
use crate::stats::cusum::{Cusum, GapShift};
use crate::stats::prior::GammaRate;
use crate::stats::rates::Counted;
use crate::stats::window::FadingRate;

/// The slow-down to notice: gaps this many times as long.
const SLOWER: f64 = 2.0;
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

/// What is known of this session's rewards a second at its present step.
pub(crate) fn known_rate(scene: &Scene) -> Option<GammaRate> {
    let floor = scene.plan.limits.rate_floor_per_min / 60.0;
    let before = match scene.usual().and_then(|usual| usual.rate) {
        Some(rate) => rate,
        None => GammaRate::assumed(floor, FLOOR_WORTH_S).ok()?,
    };
    if scene.seconds() <= 0.0 {
        return Some(before);
    }
    before.updated(Counted { count: scene.tally.rewarded, exposure: scene.seconds() }).ok()
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RewardRate {
    watch: Option<Watch>,
    /// A gap so long is too long by itself, in seconds.
    longest_gap: f64,
    /// Rewards of late count more than those long ago.
    fading: Option<FadingRate>,
    told: bool,
}

#[derive(Debug, Clone, PartialEq)]
struct Watch {
    good_per_s: f64,
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
        self.bound_gap(scene);
    }

    fn bound_gap(&mut self, scene: &Scene) {
        let Some(rate) = known_rate(scene) else { return };
        let gaps = (rate.mean() * 3600.0).max(1.0);
        let run = budget::run_length(gaps, scene.plan.limits.false_nudges_per_hour, budget::GAP);
        self.longest_gap = rate.wait_for(1.0 / run).unwrap_or(f64::MAX);
    }
}

impl Watch {
    fn new(scene: &Scene) -> Option<Self> {
        let limits = &scene.plan.limits;
        let floor = limits.rate_floor_per_min / 60.0;
        let usual = scene.usual().and_then(|usual| usual.rate);
        let before = match usual {
            Some(rate) => rate,
            None => GammaRate::assumed(floor, FLOOR_WORTH_S).ok()?,
        };
        // A usual rate counts with the lower end of its interval: a slow day is not a decline.
        let good = usual.map_or(floor, |rate| rate.interval(Level::NINETY).low.max(floor));
        let shift = GapShift::new(1.0 / good, SLOWER / good).ok()?;
        let per_hour = limits.false_nudges_per_hour * budget::RATE;
        let between = (3600.0 / per_hour).min(MOST_GAPS / good);
        let sum = Cusum::new(shift.threshold_for_time(between).ok()?).ok()?;
        Some(Watch { good_per_s: good, shift, sum, from: scene.seconds(), before })
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
                self.bound_gap(scene);
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
        let added_up = gap >= watch.shift.alarm_after(&watch.sum);
        let since_reward = (scene.now.saturating_sub(scene.tally.last_reward)).as_secs_f64();
        if !added_up && since_reward < self.longest_gap {
            return None;
        }
        self.told = true;
        let gaps = f64::from(watch.sum.run());
        let since = scene.seconds() - gap - gaps / watch.good_per_s;
        // Spent: the next alarm needs new evidence.
        watch.sum.reset();
        watch.from = scene.seconds();
        let window = scene.plan.limits.rate_window.min(scene.now).as_secs_f64();
        let count = scene.tally.window_rewards;
        let in_window = watch.before.at_most(count, window).ok();
        let silence = known_rate(scene).and_then(|rate| rate.nothing_for(since_reward).ok());
        let expected = watch.good_per_s * window;
        let fading = self.fading.and_then(|fading| fading.rate(scene.seconds()).ok());
        Some(Alarm {
            nudge: NudgeKind::RateFalling,
            since: Some(Duration::from_secs_f64(since.max(0.0))),
            reason: Reason {
                detector: "reward rate".into(),
                because: if added_up {
                    format!(
                        "{count} rewards in the last {window:.0} seconds, where about \
                         {expected:.0} keep the pace"
                    )
                } else {
                    format!("no reward for {since_reward:.0} seconds, which is unusually long")
                },
                inputs: vec![
                    Quantity::new("rewards in window", f64::from(count), ""),
                    Quantity::new("window", window, "s"),
                    Quantity::new("time since the last reward", since_reward, "s"),
                    Quantity::new("rate to keep", watch.good_per_s * 60.0, "per min"),
                    Quantity::new(
                        "rate with fading weights",
                        fading.unwrap_or(0.0) * 60.0,
                        "per min",
                    ),
                    Quantity::new("floor", scene.plan.limits.rate_floor_per_min, "per min"),
                    Quantity::new(
                        "false nudges an hour for this part",
                        scene.plan.limits.false_nudges_per_hour * (budget::RATE + budget::GAP),
                        "per h",
                    ),
                ],
                probability: if added_up { in_window } else { silence },
                method: if added_up {
                    "cumulative sum of the gaps between rewards, its threshold solved for the \
                     plan's false nudges an hour; probability: negative-binomial tail of the \
                     window's count"
                } else {
                    "Lomax tail of the time since the last reward, one chance a gap within the \
                     plan's false nudges an hour"
                }
                .into(),
                source: if added_up {
                    "Vardeman & Ray 1985, Technometrics 27:145; Gelman et al., Bayesian Data \
                     Analysis, section 2.6"
                } else {
                    "Lomax 1954, JASA 49:847; Gelman et al., Bayesian Data Analysis, section 2.6"
                }
                .into(),
            },
        })
    }
}
