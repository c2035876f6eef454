//! The planned end, by time or reps: *end soon* near it, *end now* past it.

use super::{Alarm, Detector, Scene, Seen};
use crate::session::{NudgeKind, Quantity, Reason};

/// Share of the plan after which to look out for a good one to end on (common practice, no source).
const SOON: f64 = 0.9;
/// Share of the plan past which to end at once (common practice, no source).
const OVER: f64 = 1.15;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct PlannedEnd {
    told: Option<NudgeKind>,
}

impl Detector for PlannedEnd {
    fn see(&mut self, _: &Seen, _: &Scene) {}

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let limits = &scene.plan.limits;
        let rewarded = scene.reps.iter().filter(|rep| rep.rewarded()).count() as f64;
        let by_time = scene.now.as_secs_f64() / limits.planned.as_secs_f64();
        let by_reps = rewarded / f64::from(limits.planned_reps);
        let share = by_time.max(by_reps);
        let nudge = match share {
            share if share >= OVER => NudgeKind::EndNow,
            share if share >= SOON => NudgeKind::EndSoon,
            _ => return None,
        };
        if self.told.is_some_and(|told| told >= nudge) {
            return None;
        }
        self.told = Some(nudge);
        let because = if by_time >= by_reps {
            format!("{:.0} of {:.0} planned seconds", scene.now.as_secs_f64(), limits.planned.as_secs_f64())
        } else {
            format!("{rewarded:.0} of {} planned reps", limits.planned_reps)
        };
        Some(Alarm {
            nudge,
            reason: Reason {
                detector: "planned end".into(),
                because,
                inputs: vec![
                    Quantity::new("active time", scene.now.as_secs_f64(), "s"),
                    Quantity::new("planned time", limits.planned.as_secs_f64(), "s"),
                    Quantity::new("rewarded reps", rewarded, ""),
                    Quantity::new("planned reps", f64::from(limits.planned_reps), ""),
                ],
                probability: None,
                method: "share of the planned time or reps, whichever is further".into(),
                source: "common practice, no source".into(),
            },
        })
    }
}
