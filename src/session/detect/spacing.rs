//! Movements within a try (steps, lifts: tags of the plan's own, said one after the other) come
//! further apart.

use std::time::Duration;

use super::slowing::{Slowing, Wording};
use super::{Alarm, Detector, Scene, Seen, budget};

/// Tags further apart than this belong to different tries.
const ONE_TRY_S: f64 = 10.0;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Spacing {
    watch: Option<Slowing>,
    last: Option<(String, Duration)>,
    n: u32,
}

impl Detector for Spacing {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began | Seen::Step(_) => {
                *self = Spacing { watch: Slowing::new(None), ..Spacing::default() };
            }
            Seen::Own(name) => {
                self.n = self.n.saturating_add(1);
                if let (Some((last, at)), Some(watch)) = (&self.last, &mut self.watch) {
                    let gap = scene.unbroken_since(*at).filter(|gap| *gap < ONE_TRY_S);
                    if let Some(gap) = gap.filter(|_| last == name) {
                        let limits = &scene.plan.limits;
                        let per_hour = f64::from(self.n) * 3600.0 / (scene.seconds() + 1.0);
                        let run = budget::run_length(
                            per_hour,
                            limits.false_nudges_per_hour,
                            budget::SPACING,
                        );
                        watch.take(gap, true, run, scene.now);
                    }
                }
                match &mut self.last {
                    Some((last, at)) if last == name => *at = scene.now,
                    last => *last = Some(((*name).to_owned(), scene.now)),
                }
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let words = Wording { detector: "spacing", takes: "from movement to movement it takes" };
        self.watch.as_mut()?.look(scene, &words, budget::SPACING)
    }
}
