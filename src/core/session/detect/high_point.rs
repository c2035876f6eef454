//! The high point: after a jackpot or a best so far, late in the session, is the time to stop.

use super::{Alarm, Detector, Scene, Seen, planned_end};
use crate::plan::RewardValue;
use crate::sentences::because;
use crate::session::{NudgeKind, Quantity, Reason, Rep};

/// Late begins at this share of the plan (common practice, no source).
const LATE: f64 = 0.6;
/// A hold must be this much longer than the best before it to be a new best.
const LONGER: f64 = 1.05;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct HighPoint {
    best_step: u8,
    best_hold: f64,
    alarm: Option<What>,
    told: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum What {
    Jackpot,
    Step(u8),
    Hold(f64),
}

impl HighPoint {
    fn what(&self, rep: &Rep) -> Option<What> {
        let hold = rep.duration.map_or(0.0, |hold| hold.as_secs_f64());
        if rep.paid()? == RewardValue::Jackpot {
            Some(What::Jackpot)
        } else if rep.step > self.best_step && self.best_step > 0 {
            Some(What::Step(rep.step))
        } else if self.best_hold > 0.0 && hold > self.best_hold * LONGER {
            Some(What::Hold(hold))
        } else {
            None
        }
    }
}

impl Detector for HighPoint {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => {
                let best = scene.usual().and_then(|usual| usual.longest_hold);
                self.best_hold = best.unwrap_or(0.0);
            }
            Seen::Rep(rep) => {
                let (by_time, by_reps) = planned_end::shares(scene);
                if let Some(what) = self.what(rep).filter(|_| by_time.max(by_reps) >= LATE) {
                    self.alarm = Some(what);
                }
                if rep.rewarded() {
                    self.best_step = self.best_step.max(rep.step);
                    let hold = rep.duration.map_or(0.0, |hold| hold.as_secs_f64());
                    self.best_hold = self.best_hold.max(hold);
                }
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let what = self.alarm.take()?;
        if std::mem::replace(&mut self.told, true) {
            return None;
        }
        let (by_time, by_reps) = planned_end::shares(scene);
        let mut inputs = vec![
            Quantity::new("share of the planned time", by_time, ""),
            Quantity::new("share of the planned rewarded tries", by_reps, ""),
            Quantity::new("late from", LATE, ""),
        ];
        let name = match what {
            What::Jackpot => "jackpot",
            What::Step(step) => {
                inputs.push(Quantity::new("step", f64::from(step), ""));
                "step"
            }
            What::Hold(hold) => {
                inputs.push(Quantity::new("hold", hold, "s"));
                "hold"
            }
        };
        Some(Alarm {
            nudge: NudgeKind::HighPoint,
            reason: Reason {
                detector: "high point".into(),
                because: because("high_point", &inputs, &[("what", name)]),
                inputs,
                probability: None,
                method: "jackpot, best step or longest hold, late in the session".into(),
                source: "common practice, no source (stop while ahead: Pryor, Don't Shoot the \
                         Dog, chapter 2)"
                    .into(),
            },
        })
    }
}
