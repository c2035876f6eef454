//! Answers to the cue come later and later.

use std::time::Duration;

use super::slowing::{Slowing, Wording};
use super::{Alarm, Detector, Scene, Seen, budget};
use crate::session::prior::response_time;
use crate::session::{MissedBecause, Outcome};

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Latency {
    watch: Option<Slowing>,
    cue: Option<Duration>,
}

impl Detector for Latency {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => {
                self.watch = Slowing::new(scene.usual().and_then(|usual| usual.latency));
                self.cue = None;
            }
            Seen::Cue => self.cue = Some(scene.now),
            Seen::Rep(rep) => {
                self.cue = None;
                let (Some(seconds), Some(watch)) = (response_time(rep), &mut self.watch) else {
                    return;
                };
                let whole = rep.outcome != Outcome::Missed(MissedBecause::HoldRanOut);
                let limits = &scene.plan.limits;
                let run = budget::run_length(
                    scene.tries_per_hour(),
                    limits.false_nudges_per_hour,
                    budget::LATENCY,
                );
                watch.take(seconds, whole, run, scene.now);
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let watch = self.watch.as_mut()?;
        if let Some(cue) = self.cue {
            watch.running(scene.now.saturating_sub(cue).as_secs_f64());
        }
        let words = Wording { detector: "latency", takes: "answers to the cue take" };
        watch.look(scene, &words, budget::LATENCY)
    }
}
