//! The step is ready to rise, and it has a history to fall back on.

use super::{Alarm, Detector, Scene, Seen};
use crate::session::NudgeKind;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct StepReady {
    told: bool,
    look: bool,
}

impl Detector for StepReady {
    fn see(&mut self, seen: &Seen, _: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => self.told = false,
            Seen::Rep(rep) => self.look = rep.met_criterion(),
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        // Only a try that met the criterion can make it ready.
        if !std::mem::take(&mut self.look) || self.told {
            return None;
        }
        let last_step = usize::from(scene.working) >= scene.plan.steps.len();
        let history = scene.usual().map_or(0, |usual| usual.sessions);
        // A step keeps its animal for a session at least, so that there is something to go back to.
        if last_step || (history == 0 && scene.tally.at_step < 2 * scene.plan.advice.tries) {
            return None;
        }
        if scene.earlier.prior.easy {
            return None;
        }
        // What rested for long is tried, and tries of this session say that it was.
        let reason = scene.ready()?;
        self.told = true;
        Some(Alarm { nudge: NudgeKind::StepReady, reason })
    }
}
