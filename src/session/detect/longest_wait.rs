//! How long to wait for a better rep: past the point where the rate would fall below the floor, with
//! a better one unlikely to come in time, the lesser one is to be paid.

use super::{Alarm, Detector, Scene, Seen, reward_rate};
use crate::session::{NudgeKind, Quantity, Reason};

/// Below this chance of a better rep in time, it is "not likely soon".
const LIKELY: f64 = 0.5;
/// The wait must be at least so unusual for this animal: the chance of so long a gap.
const UNUSUAL: f64 = 0.02;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct LongestWait {
    told: bool,
}

/// The latest moment, in active seconds, at which a reward keeps the rate over the plan's window at
/// the floor: when the window loses the reward that is one too many to lose.
fn last_moment(scene: &Scene) -> f64 {
    let limits = &scene.plan.limits;
    let window = limits.rate_window.as_secs_f64();
    let floor = limits.rate_floor_per_min / 60.0;
    // Rewards that must already lie in the window when the next one comes.
    let needed = ((floor * window - 1e-9).ceil().max(1.0) - 1.0).min(1e6) as u32;
    if needed == 0 {
        return scene.tally.last_reward.as_secs_f64() + window;
    }
    if scene.tally.rewarded < needed {
        // A session younger than its window: the rate so far, with one more.
        return f64::from(scene.tally.rewarded + 1) / floor;
    }
    let rewards = scene.reps.iter().rev().filter(|rep| rep.rewarded());
    let oldest_needed = rewards.take(needed as usize).last();
    oldest_needed.map_or(0.0, |rep| rep.active.as_secs_f64() + window)
}

impl Detector for LongestWait {
    fn see(&mut self, seen: &Seen, _: &Scene) {
        match seen {
            Seen::Rep(rep) if rep.rewarded() => self.told = false,
            Seen::Began | Seen::Step(_) => self.told = false,
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let tally = scene.tally;
        // Without a lesser rep to pay there is nothing to choose.
        if self.told || tally.misses_since == 0 {
            return None;
        }
        let waited = scene.now.saturating_sub(tally.last_reward).as_secs_f64();
        if waited * scene.plan.limits.rate_floor_per_min < 60.0 {
            return None;
        }
        let unusual = reward_rate::known_rate(scene)?.nothing_for(waited).ok()?;
        let limit = last_moment(scene);
        let left = (limit - scene.seconds()).max(0.0);
        // Half a rep over half a minute stands in for what is not known yet.
        let better_per_s = (f64::from(tally.met) + 0.5) / (scene.seconds() + 30.0);
        let in_time = -(-better_per_s * left).exp_m1();
        if unusual > UNUSUAL || in_time >= LIKELY {
            return None;
        }
        self.told = true;
        Some(Alarm {
            nudge: NudgeKind::PayThisOne,
            since: None,
            reason: Reason {
                detector: "longest wait".into(),
                because: format!(
                    "{waited:.0} seconds and {} tries without a reward; a better one comes about \
                     every {:.0} seconds, and the pace allows {left:.0} more",
                    tally.misses_since,
                    1.0 / better_per_s
                ),
                inputs: vec![
                    Quantity::new("time since the last reward", waited, "s"),
                    Quantity::new("tries since", f64::from(tally.misses_since), ""),
                    Quantity::new("better reps", better_per_s * 60.0, "per min"),
                    Quantity::new("time left to keep the floor", left, "s"),
                    Quantity::new("floor", scene.plan.limits.rate_floor_per_min, "per min"),
                    Quantity::new("chance of a better one in time", in_time, ""),
                ],
                probability: Some(unusual),
                method: "last moment at which a reward keeps the window's rate at the floor; \
                         chance of a better rep before it from a Poisson process; probability: \
                         Lomax tail of the wait"
                    .into(),
                source: "rule: common practice, no source; tail: Lomax 1954, JASA 49:847".into(),
            },
        })
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use crate::at::At;
    use crate::interpret::{Details, Said};
    use crate::plan::Plan;
    use crate::session::{Derived, Event, Input, Logged, NudgeKind, Output, Session};

    #[test]
    fn a_lesser_rep_is_to_be_paid_when_no_better_one_is_near() {
        let at = At::from_secs_f64;
        let mut plan = Plan::of_default_words();
        plan.limits.planned = Duration::from_secs(3600);
        plan.limits.planned_reps = 1000;
        let mut session = Session::new(plan);
        for rep in 0..12 {
            let said = Said::Rep(Details::default());
            let _ = session.handle(at(f64::from(rep) * 5.0), Input::said(said, "yes"));
        }
        let mut told = Vec::new();
        for miss in 0..12 {
            let out =
                session.handle(at(60.0 + f64::from(miss) * 4.0), Input::said(Said::Miss, "miss"));
            told.extend(out.into_iter().filter_map(|output| match output {
                Output::Append(Logged {
                    event: Event::Derived(Derived::Nudged { nudge, reason }),
                    ..
                }) => Some((nudge, reason)),
                _ => None,
            }));
        }
        let waits: Vec<_> = told.iter().filter(|(n, _)| *n == NudgeKind::PayThisOne).collect();
        assert_eq!(waits.len(), 1, "{told:?}");
        assert!(waits[0].1.because.contains("without a reward"));
    }
}
