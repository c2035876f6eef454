//! The planned or learnt end, by time or reps: *end soon* near it, *end now* past it.

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

/// How far the session is: shares of the time (planned or learnt, whichever is shorter) and of the
/// planned reps.
pub(crate) fn shares(scene: &Scene) -> (f64, f64) {
    let limits = &scene.plan.limits;
    let length = scene.past.prior.learnt_length.map_or(limits.planned, |l| l.min(limits.planned));
    let by_time = scene.seconds() / length.as_secs_f64().max(1.0);
    (by_time, f64::from(scene.tally.rewarded) / f64::from(limits.planned_reps.max(1)))
}

impl Detector for PlannedEnd {
    fn see(&mut self, _: &Seen, _: &Scene) {}

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let limits = &scene.plan.limits;
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
        let learnt = scene.past.prior.learnt_length.filter(|learnt| *learnt < limits.planned);
        let length = learnt.unwrap_or(limits.planned).as_secs_f64();
        let rewarded = scene.tally.rewarded;
        let kind = if learnt.is_some() { "seconds that it works well" } else { "planned seconds" };
        let because = if by_time >= by_reps {
            format!("{:.0} of {length:.0} {kind}", scene.seconds())
        } else {
            format!("{rewarded} of {} planned rewarded tries", limits.planned_reps)
        };
        let mut inputs = vec![
            Quantity::new("active time", scene.seconds(), "s"),
            Quantity::new("planned time", limits.planned.as_secs_f64(), "s"),
            Quantity::new("rewarded tries", f64::from(rewarded), ""),
            Quantity::new("planned rewarded tries", f64::from(limits.planned_reps), ""),
        ];
        if learnt.is_some() {
            inputs.push(Quantity::new("learnt length", length, "s"));
        }
        Some(Alarm {
            nudge,
            reason: Reason {
                detector: "planned end".into(),
                because,
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
