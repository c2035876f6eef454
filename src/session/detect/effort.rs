//! Tries come further and further apart: the movement slows before the animal quits.

use std::time::Duration;

use super::slowing::{Slowing, Wording};
use super::{Alarm, Detector, Scene, Seen, budget};
use crate::plan::RewardValue;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Effort {
    watch: Option<Slowing>,
    /// Where the running gap began; `None` when it says nothing (after a jackpot).
    from: Option<Duration>,
    /// Whether cues are tagged, so that the latency is watched beside this.
    cued: bool,
}

impl Effort {
    fn share(&self) -> f64 {
        if self.cued { budget::EFFORT } else { budget::EFFORT + budget::LATENCY }
    }
}

impl Detector for Effort {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => {
                self.watch = Slowing::new(scene.usual().and_then(|usual| usual.between));
                self.from = None;
            }
            Seen::Cue => self.cued = true,
            Seen::Rep(rep) => {
                let run = budget::run_length(
                    scene.tries_per_hour(),
                    scene.plan.limits.false_nudges_per_hour,
                    self.share(),
                );
                let gap = self.from.and_then(|from| scene.unbroken_since(from));
                if let (Some(gap), Some(watch)) = (gap, &mut self.watch) {
                    watch.take(gap, true, run, scene.now);
                }
                // A jackpot takes longer to eat.
                let usual = rep.paid() != Some(RewardValue::Jackpot);
                self.from = usual.then_some(rep.active);
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let share = self.share();
        let watch = self.watch.as_mut()?;
        if let Some(gap) = self.from.and_then(|from| scene.unbroken_since(from)) {
            watch.running(gap);
        }
        let words = Wording { detector: "effort", takes: "from try to try it takes" };
        watch.look(scene, &words, share)
    }
}
