//! Detectors: each a small type that watches one thing and says when it needs attention, and why.
//! To add one, write a type with [`Detector`], and name it in [`Detectors`].
//!
//! A session is looked at every second, so a test at a fixed level would alarm by chance sooner or
//! later. Everything that says by inference that the animal declines is therefore one detector,
//! `decline`, which holds what the plan stands: this many false nudges an hour of good work. The others
//! say what the plan or the trainer said, or speak of something else.

mod better_rep;
pub(crate) mod decline;
mod high_point;
mod mood_words;
mod planned_end;
pub mod reward_rate;
mod step_ready;
mod step_too_much;
#[cfg(test)]
mod tests;
mod treats;

use std::collections::BTreeMap;
use std::time::Duration;

use super::at_step::AtStep;
use super::prior::{Prior, Usual};
use super::tally::Tally;
use super::watch::Watch;
use super::{Elsewhere, NudgeKind, Reason, Rep};
use crate::decide;
use crate::plan::{Mood, Plan};
pub(crate) use treats::jackpots_often;

/// Name of the watcher for declining.
pub(crate) const DECLINE: &str = "decline";
/// The live word that the step is too hard may be wrong this often, by all tries known (chosen on the tuning half of the
/// simulated worlds, so that it adds next to nothing to the false nudges an hour).
const TOO_HARD_WRONG: f64 = 0.05;

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
    /// A tag of the plan's own.
    Own(&'a str),
    /// The pouch was filled again; the time since the last try was spent on that.
    Refilled,
    /// The step worked on changed from this one to `scene.working`.
    Step(u8),
    /// Work goes on here, after another session of the sitting or after nothing.
    GoesOn,
}

/// What is known at the moment of a look.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What earlier sessions say.
    pub earlier: Earlier<'a>,
    /// All reps so far, in order.
    pub reps: &'a [Rep],
    /// Running counts of them.
    pub tally: &'a Tally,
    /// Step worked on, counted from 1.
    pub working: u8,
    /// Active time now.
    pub now: Duration,
    /// Since when it declines, by what was told and not taken back.
    pub declining_since: Option<Duration>,
    pub(super) watch: &'a Watch,
    /// What is known of the step worked on, with all tries so far taken in.
    pub(super) at_step: &'a AtStep,
    /// What the animal did in other sessions of the sitting.
    pub(super) elsewhere: &'a Elsewhere,
}

/// Earlier sessions, and what they say of each step.
#[derive(Debug, Clone, Copy)]
pub struct Earlier<'a> {
    /// As they were.
    pub prior: &'a Prior,
    /// What is usual, by step.
    pub usual: &'a BTreeMap<u8, Usual>,
}

impl<'a> Scene<'a> {
    /// What is usual at the step worked on, when anything is known.
    pub fn usual(&self) -> Option<&'a Usual> {
        self.earlier.usual.get(&self.working)
    }

    /// Seconds from `from` until now, unless a pause lies between: then they say nothing of the animal.
    pub fn unbroken_since(&self, from: Duration) -> Option<f64> {
        let broken = self.watch.paused_between(from, self.now);
        (!broken).then(|| self.now.saturating_sub(from).as_secs_f64())
    }

    /// Why the step worked on is ready, where it is.
    fn ready(&self) -> Option<Reason> {
        let advice = &self.plan.advice;
        decide::is_ready(self.at_step.faded(), advice)
            .then(|| decide::ready(&self.at_step.known(self.plan, self.earlier.prior), advice))?
    }

    /// Whether the step worked on is surely too hard.
    fn is_too_hard(&self) -> bool {
        let links = self.reps.iter().map(|rep| (rep.working, rep.links));
        decide::is_too_hard(self.at_step.faded(), &self.plan.advice, TOO_HARD_WRONG)
            && decide::breaks(self.plan, self.working, links)
    }

    /// Why the step worked on is too hard, where it surely is: more is asked than for an answer that is given once, since
    /// what is looked at after every try passes "more likely than not" by chance soon.
    fn too_hard(&self) -> Option<Reason> {
        self.is_too_hard().then(|| {
            let known = self.at_step.known(self.plan, self.earlier.prior);
            decide::too_hard(&known, &self.plan.advice, TOO_HARD_WRONG)
        })?
    }

    /// Active seconds of the animal in the sitting now.
    pub fn animal_seconds(&self) -> f64 {
        self.now.saturating_add(self.elsewhere.active).as_secs_f64()
    }

    /// Rewarded tries of the animal in the sitting.
    pub fn animal_rewarded(&self) -> u32 {
        self.tally.rewarded.saturating_add(self.elsewhere.rewarded)
    }

    /// Active seconds now.
    pub fn seconds(&self) -> f64 {
        self.now.as_secs_f64()
    }
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
    decline: decline::Decline,
    mood_words: mood_words::MoodWords,
    planned_end: planned_end::PlannedEnd,
    high_point: high_point::HighPoint,
    step_ready: step_ready::StepReady,
    step_too_much: step_too_much::StepTooMuch,
    better_rep: better_rep::BetterRep,
    treats: treats::Treats,
}

impl Detectors {
    fn each(&mut self) -> [&mut dyn Detector; 9] {
        [
            &mut self.reward_rate,
            &mut self.decline,
            &mut self.mood_words,
            &mut self.planned_end,
            &mut self.high_point,
            &mut self.step_ready,
            &mut self.step_too_much,
            &mut self.better_rep,
            &mut self.treats,
        ]
    }

    /// The watcher for declining.
    pub(crate) fn decline(&self) -> &decline::Decline {
        &self.decline
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
