//! The planned or learnt end, by time or tries: *end soon* near it, *end now* past it.

use super::{Alarm, Detector, Scene, Seen};
use crate::sentences::because;
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

/// How far the session is: shares of the planned time and of the planned rewarded tries.
pub(crate) fn shares(scene: &Scene) -> (f64, f64) {
    let (length, reps) = scene.earlier.prior.planned(&scene.plan.limits);
    let by_time = scene.animal_seconds() / length.as_secs_f64().max(1.0);
    (by_time, f64::from(scene.animal_rewarded()) / f64::from(reps.max(1)))
}

impl Detector for PlannedEnd {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        if let Seen::GoesOn = seen {
            self.told = self.told.max(scene.elsewhere.end_told);
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let (by_time, by_reps) = shares(scene);
        let nudge = match by_time.max(by_reps) {
            share if share >= OVER => NudgeKind::EndNow,
            share if share >= SOON => NudgeKind::EndSoon,
            _ => return None,
        };
        if self.told.is_some_and(|told| told >= nudge) {
            return None;
        }
        self.told = Some(nudge);
        let prior = scene.earlier.prior;
        let (length, reps) = prior.planned(&scene.plan.limits);
        let inputs = vec![
            Quantity::new("active time", scene.animal_seconds(), "s"),
            Quantity::new("planned time", length.as_secs_f64(), "s"),
            Quantity::new("rewarded tries", f64::from(scene.animal_rewarded()), ""),
            Quantity::new("planned rewarded tries", f64::from(reps), ""),
        ];
        // What was learnt goes before what is written, where it is shorter.
        let learnt = length < scene.plan.limits.planned && prior.learnt_length == Some(length);
        let words = [
            ("by", if by_time >= by_reps { "time" } else { "tries" }),
            ("learnt", if learnt { "learnt" } else { "" }),
        ];
        Some(Alarm {
            nudge,
            reason: Reason {
                detector: "planned end".into(),
                because: because("planned_end", &inputs, &words),
                inputs,
                probability: None,
                method: "share of the planned (or learnt) time or of the planned rewarded \
                         tries, whichever is further"
                    .into(),
                source: "common practice, no source".into(),
            },
        })
    }
}
