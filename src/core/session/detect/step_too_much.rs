//! The step is too hard: [`crate::decide`] says so, here as everywhere else.

use super::{Alarm, Detector, Scene, Seen};
use crate::session::NudgeKind;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct StepTooMuch {
    /// After how many tries at the step it was told.
    told: Option<u32>,
    look: bool,
}

impl Detector for StepTooMuch {
    fn see(&mut self, seen: &Seen, _: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => self.told = None,
            Seen::Rep(_) => self.look = true,
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let (advice, tries) = (&scene.plan.advice, scene.tally.at_step);
        // The first tries at a step may slip, and say by themselves how it goes today.
        if !std::mem::take(&mut self.look) || tries < advice.settle_tries {
            return None;
        }
        match self.told {
            // Told once, until it was not so after as many tries again.
            Some(told) => {
                let again = tries >= told.saturating_add(advice.tries);
                if again && !scene.is_too_hard() {
                    self.told = None;
                }
                None
            }
            None => {
                let reason = scene.too_hard()?;
                self.told = Some(tries);
                Some(Alarm { nudge: NudgeKind::StepTooMuch, reason })
            }
        }
    }
}
