//! The plan's pace floor. A pace that stays under it for as long as the plan's window is always told; one that is
//! clearly under it is told sooner: the gaps between rewards add up (CUSUM), so that a gap or two by chance is not a
//! breach. Once told, it is told again only after the pace was back at the floor for two windows:
//! a pace near the floor that comes back for a reward or two and sinks again is one breach. The plan states the floor, so
//! this is not a guess about the animal and lies outside of the budget of false nudges.

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen};
use crate::sentences::because;
use crate::session::{NudgeKind, Quantity, Reason, Rep};
use crate::stats::cusum::{Cusum, GapShift};
use crate::stats::prior::GammaRate;
use crate::stats::window::FadingRate;

/// The slow-down to notice: gaps this many times as long.
const SLOWER: f64 = 2.0;
/// At a pace just at the floor it speaks about once in this many hours.
const HOURS: f64 = 1.0;
/// The plan's floor stands in for unknown sessions as if it had been watched for this many seconds.
const FLOOR_WORTH_S: f64 = 60.0;
/// The pace is back when it was at the floor for this many windows. At random a pace near the floor comes and goes: told at
/// every return, it was told some 20 times an hour.
const BACK_FOR: f64 = 2.0;
/// A pace just at the floor is not under it by a rounding.
const EVEN: f64 = 1e-9;
/// Beyond this many gaps between false alarms the threshold hardly grows any more.
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
    /// Since when, in active seconds, every look found the pace under the floor.
    under_since: Option<f64>,
    /// Since when, in active seconds, no look did.
    back_since: Option<f64>,
    /// When it was told; until the pace is back at the floor for [`BACK_FOR`].
    told: Option<f64>,
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
        (self.under_since, self.back_since, self.told) = (None, None, None);
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

/// Whether the gaps between the rewards of the last two windows are longer, on average, than the floor allows; the gap
/// that is still open counts once it is longer than they are. A window holds two rewards now and three then, although
/// they come evenly; gaps do not step.
fn gaps_are_under(floor_per_s: f64, scene: &Scene) -> bool {
    let (now, window) = (scene.seconds(), scene.plan.limits.rate_window.as_secs_f64());
    let rewarded = scene.reps.iter().rev().filter(|rep| rep.rewarded());
    let mut ages =
        rewarded.map(|rep| now - rep.active.as_secs_f64()).take_while(|age| *age < 2.0 * window);
    let Some(newest) = ages.next() else { return true };
    let (gaps, oldest) = ages.fold((0_u32, newest), |(gaps, _), age| (gaps + 1, age));
    // Multiplied out, since rewards may come at the same moment.
    let closed = f64::from(gaps) < floor_per_s * (oldest - newest) * (1.0 - EVEN);
    closed || f64::from(gaps + 1) < floor_per_s * oldest * (1.0 - EVEN)
}

impl Detector for RewardRate {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            // Nobody is paid while the pouch is filled, nor here while another session is worked on.
            Seen::Began | Seen::Step(_) | Seen::Refilled | Seen::GoesOn => self.start(scene),
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
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let now = scene.seconds();
        let watch = self.watch.as_mut()?;
        let window = scene.plan.limits.rate_window;
        let floor = watch.floor_per_s * window.min(scene.now).as_secs_f64();
        let under_now = f64::from(scene.tally.window_rewards) < floor;
        if under_now || gaps_are_under(watch.floor_per_s, scene) {
            self.under_since.get_or_insert(now);
            self.back_since = None;
        } else {
            self.under_since = None;
            let back_since = *self.back_since.get_or_insert(now);
            // Rewards from before it was told do not say that it is over.
            let last_reward = scene.tally.last_reward.as_secs_f64();
            let is_back = now - back_since >= BACK_FOR * window.as_secs_f64();
            self.told = self.told.filter(|told| !is_back || last_reward <= *told);
        }
        let all_the_window =
            under_now && self.under_since.is_some_and(|since| now - since >= window.as_secs_f64());
        let clearly = now - watch.from >= watch.shift.alarm_after(&watch.sum);
        if self.told.is_some() || !(all_the_window || clearly) {
            return None;
        }
        self.told = Some(now);
        // Spent: the next alarm needs new evidence.
        watch.sum.reset();
        watch.from = now;
        let since_reward = scene.now.saturating_sub(scene.tally.last_reward).as_secs_f64();
        let window = scene.plan.limits.rate_window.min(scene.now).as_secs_f64();
        let count = scene.tally.window_rewards;
        // Nothing at all for longer than the window says more than the window.
        let probability = if since_reward > window {
            watch.before.nothing_for(since_reward)
        } else {
            watch.before.at_most(count, window)
        };
        let probability = probability.ok();
        let fading = self.fading.and_then(|fading| fading.rate(scene.seconds()).ok());
        let inputs = vec![
            Quantity::new("rewards in window", f64::from(count), ""),
            Quantity::new("window", window, "s"),
            Quantity::new("time since the last reward", since_reward, "s"),
            Quantity::new("floor", scene.plan.limits.rate_floor_per_min, "per min"),
            Quantity::new("rate with fading weights", fading.unwrap_or(0.0) * 60.0, "per min"),
            Quantity::new("hours from alarm to alarm at the floor", HOURS, "h"),
        ];
        Some(Alarm {
            nudge: NudgeKind::RateFalling,
            reason: Reason {
                detector: "pace floor".into(),
                because: because("pace_floor", &inputs, &[]),
                inputs,
                probability,
                method: "under the plan's floor for as long as its window, or sooner by the \
                         cumulative sum of the gaps between rewards against the floor; \
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
