//! Measured criteria (how long, how soon): which rep beat the criterion of the percentile schedule.

use super::{Alarm, Detector, Scene, Seen};
use crate::plan::Dimension;
use crate::sentences::because;
use crate::session::prior::response_time;
use crate::session::{NudgeKind, Quantity, Reason, Rep};
use crate::stats::percentile::{Better, Criterion, Fraction, Schedule, Tie, whole_window};

/// The window is at most this long, whatever the plan says.
const MOST: u32 = 60;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct BetterRep {
    schedule: Option<Schedule>,
    beaten: Option<(f64, f64)>,
}

/// The schedule of the step worked on, when it is a measured one: filled with the last holds of
/// earlier sessions.
pub(crate) fn schedule(scene: &Scene) -> Option<Schedule> {
    let better = match scene.plan.step(scene.working).dimension {
        Dimension::Duration => Better::Higher,
        Dimension::Latency => Better::Lower,
        _ => return None,
    };
    let advice = &scene.plan.advice;
    let tries = advice.tries.clamp(2, MOST);
    // The nearest window that pays exactly the share: a few tries less or more.
    let window = whole_window(tries - tries / 3, advice.pay_share).ok()?;
    let window = window.filter(|window| *window <= tries + tries / 3).unwrap_or(tries);
    let mut schedule = Schedule::new(window, advice.pay_share, better, Fraction::Down).ok()?;
    if better == Better::Higher {
        for hold in scene.usual().map_or(&[][..], |usual| &usual.holds) {
            schedule.push(*hold).ok()?;
        }
    }
    Some(schedule)
}

/// What the step worked on measures of a rep, in seconds.
pub(crate) fn measured(rep: &Rep, dimension: Dimension) -> Option<f64> {
    match dimension {
        Dimension::Duration => rep.duration.map(|hold| hold.as_secs_f64()),
        Dimension::Latency => response_time(rep),
        _ => None,
    }
}

impl Detector for BetterRep {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => {
                self.schedule = schedule(scene);
                self.beaten = None;
            }
            Seen::Rep(rep) => {
                let dimension = scene.plan.step(scene.working).dimension;
                let (Some(value), Some(schedule)) =
                    (measured(rep, dimension), self.schedule.as_mut())
                else {
                    return;
                };
                if let Ok(Criterion::Beat(criterion)) = schedule.criterion()
                    && schedule.pays(value, Tie::Pay) == Ok(true)
                    && rep.rewarded()
                {
                    self.beaten = Some((value, criterion));
                }
                // A time that is not a number cannot come from a Duration.
                let _ = schedule.push(value);
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let (value, criterion) = self.beaten.take()?;
        let share = scene.plan.advice.pay_share;
        let window = self.schedule.as_ref().map_or(0, |schedule| schedule.recent().len());
        let inputs = vec![
            Quantity::new("this one", value, "s"),
            Quantity::new("criterion", criterion, "s"),
            Quantity::new("share to pay", share, ""),
            Quantity::new("tries it rests on", window as f64, ""),
        ];
        Some(Alarm {
            nudge: NudgeKind::GoodOne,
            reason: Reason {
                detector: "better rep".into(),
                because: because("better_rep", &inputs, &[]),
                inputs,
                probability: Some(share),
                method: "percentile schedule, rank (m + 1)(1 - w) rounded down, ties paid; \
                         probability: share of tries that do so well when nothing changes"
                    .into(),
                source: "Platt 1973; Galbicka 1994, J Appl Behav Anal 27:739".into(),
            },
        })
    }
}
