//! Detectors: each a small type that watches one thing and says when it needs attention, and why.
//! To add one, write a type with [`Detector`], and name it in [`Detectors`].

mod mood_words;
mod planned_end;
pub mod reward_rate;

use std::time::Duration;

use super::{NudgeKind, Reason, Rep};
use crate::plan::{Mood, Plan};

/// Something a detector may want to know of, in active time (pauses left out).
#[derive(Debug, Clone, PartialEq)]
pub enum Seen<'a> {
    /// The session's time started.
    Began,
    /// A rep was logged, rewarded or missed.
    Rep(&'a Rep),
    /// The cue was given.
    Cue,
    /// A state word was said.
    Mood(Mood),
    /// The step worked on changed to this.
    Step(u8),
}

/// What is known at the moment of a look.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// All reps so far, in order.
    pub reps: &'a [Rep],
    /// Step worked on, counted from 1.
    pub working: u8,
    /// Active time now.
    pub now: Duration,
}

/// Something that needs the trainer's attention.
#[derive(Debug, Clone, PartialEq)]
pub struct Alarm {
    /// Which nudge.
    pub nudge: NudgeKind,
    /// Why.
    pub reason: Reason,
}

/// Watches one thing. Sees everything that happens, in order; looks once a second of active time.
pub trait Detector {
    /// Takes note of something that happened at `scene.now`.
    fn see(&mut self, seen: &Seen, scene: &Scene);
    /// Looks whether something needs attention now. Speaks once for one cause.
    fn look(&mut self, scene: &Scene) -> Option<Alarm>;
}

/// How often detectors look, in active time.
pub const LOOK_EVERY: Duration = Duration::from_secs(1);

/// All detectors of a session.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Detectors {
    reward_rate: reward_rate::RewardRate,
    planned_end: planned_end::PlannedEnd,
    mood_words: mood_words::MoodWords,
}

impl Detectors {
    fn each(&mut self) -> [&mut dyn Detector; 3] {
        [&mut self.reward_rate, &mut self.planned_end, &mut self.mood_words]
    }

    pub(crate) fn see(&mut self, seen: &Seen, scene: &Scene) {
        for detector in self.each() {
            detector.see(seen, scene);
        }
    }

    pub(crate) fn look(&mut self, scene: &Scene) -> Vec<Alarm> {
        self.each().into_iter().filter_map(|detector| detector.look(scene)).collect()
    }
}
