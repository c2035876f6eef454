//! Several sessions of one sitting: one is worked on, the others rest. A session is told what it cannot know by itself,
//! what the animal did in the other ones meanwhile, and keeps that as an input; so it is replayed alone as it was.
//!
//! - While a session rests its time stands still: no look, no limited hold, no decline and no breach of the pace floor.
//! - When it is worked on again, waits and gaps that were interrupted say nothing, as after the pouch was filled; a cue
//!   that was not answered is forgotten.
//! - The planned end and the treats go by all that the animal did in the sitting.
//! - Tiredness goes along with the animal: what speaks for a decline is carried over whole ([`Carried`]), and a decline
//!   that was told or said stays until it is taken back.
//! - No detail reaches past a switch.

use std::collections::BTreeMap;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::detect::Seen;
use super::hands::TookOver;
use super::{NudgeKind, Session};
use crate::at::At;
use crate::interpret::Said;
use crate::stats::decline::Carried;

/// What the animal did in the other sessions of a sitting.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Elsewhere {
    /// Active time.
    pub active: Duration,
    /// Rewarded tries.
    pub rewarded: u32,
    /// Pieces given since the pouch was last filled.
    pub pieces: u32,
    /// Whether it was filled since this session was last worked on.
    pub refilled: bool,
    /// Energy given, in kcal.
    pub kcal: f64,
    /// Whether it declines, by what was told or said and not taken back.
    pub declining: bool,
    /// What speaks for a decline that was not told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Carried>,
    /// The furthest of the planned end that sounded for this animal.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_told: Option<NudgeKind>,
    /// When each nudge last sounded, for any animal: it is the same trainer who hears them.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub sounded: BTreeMap<NudgeKind, At>,
    /// Who trains now, where that is news here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hands: Option<Hands>,
}

/// In whose hands the animal is.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Hands {
    /// Who took over; `None` for whoever began.
    pub person: Option<String>,
}

/// Something between tags that is replayed when a tag is taken back.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Between {
    pub(super) at: At,
    /// The number of the input.
    pub(super) input: u32,
    pub(super) what: What,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// It was told of elsewhere.
    Told(Elsewhere),
    /// It is worked on again, or for the first time.
    GoesOn,
}

/// What a session that is alone is told.
static NOTHING: std::sync::LazyLock<Elsewhere> = std::sync::LazyLock::new(Elsewhere::default);

/// The latest that counts of `between`.
pub(super) fn latest(between: &[Between], counted: usize) -> &Elsewhere {
    let told = between[..counted].iter().rev().find_map(|one| match &one.what {
        What::Told(elsewhere) => Some(elsewhere),
        What::GoesOn => None,
    });
    told.unwrap_or(&NOTHING)
}

impl Session {
    /// Whether this names what is to be worked on, and that is this session; `None` for anything else.
    pub(super) fn is_mine(&self, said: &Said) -> Option<bool> {
        match said {
            Said::Behaviour { name } => Some(*name == self.plan.behaviour),
            Said::Animal { name } => Some(*name == self.plan.animal),
            _ => None,
        }
    }

    /// Whether another session of the sitting is worked on.
    pub fn resting(&self) -> bool {
        self.watch.rests_since().is_some()
    }

    /// What the animal did elsewhere, as this session was told.
    pub fn elsewhere(&self) -> &Elsewhere {
        latest(&self.between, self.core.between)
    }

    /// Active time of the animal in the sitting, as far as this session knows.
    pub fn animal_active(&self) -> Duration {
        self.active().saturating_add(self.elsewhere().active)
    }

    /// Who took over, as far as that was not taken back; `None` while whoever began trains.
    pub fn person(&self) -> Option<&str> {
        self.core.took_over.last()?.person.as_deref()
    }

    /// What speaks for a decline and was not told.
    pub fn evidence(&self) -> Option<Carried> {
        self.core.detectors.decline().carried(self.active())
    }

    /// When each nudge last sounded here, or elsewhere as far as this session was told.
    pub fn sounded(&self) -> &BTreeMap<NudgeKind, At> {
        self.nudging.sounded()
    }

    /// The furthest of the planned end that sounded for this animal.
    pub fn end_told(&self) -> Option<NudgeKind> {
        let here = [NudgeKind::EndNow, NudgeKind::EndSoon].into_iter();
        let here = here.filter(|kind| self.nudging.gave(*kind)).max();
        here.max(self.elsewhere().end_told)
    }

    /// When the latest try was.
    pub fn latest_try(&self) -> Option<At> {
        self.reps.last().map(|rep| rep.at)
    }

    /// When its time was started.
    pub fn began_at(&self) -> Option<At> {
        self.watch.began()
    }

    /// When the pouch was last filled here.
    pub fn refilled_at(&self) -> Option<At> {
        self.watch.when(*self.refills().last()?)
    }

    /// When it was last left for another session; `None` while it is worked on, or was not yet.
    pub fn left_at(&self) -> Option<At> {
        self.watch.rests_since()
    }

    pub(super) fn told_of_elsewhere(&mut self, at: At, elsewhere: Elsewhere) {
        self.nudging.sounded_elsewhere(&elsewhere.sounded);
        let input = self.inputs;
        self.between.push(Between { at, input, what: What::Told(elsewhere) });
        self.go_through_between();
    }

    pub(super) fn goes_on(&mut self, at: At) {
        self.watch.go_on(at);
        let input = self.inputs;
        self.between.push(Between { at, input, what: What::GoesOn });
        self.go_through_between();
    }

    pub(super) fn rest(&mut self, at: At) {
        self.watch.rest(at);
        self.forget_play();
        self.nudging.rests(at);
        self.bare_correction = None;
    }

    /// Takes in the next that does not count yet.
    pub(super) fn go_through_between(&mut self) {
        let Some(Between { at, input, what }) = self.between.get(self.core.between).cloned() else {
            return;
        };
        self.core.between += 1;
        match what {
            What::Told(elsewhere) => {
                if elsewhere.refilled {
                    self.core.tally.refill();
                }
                if let Some(Hands { person }) = elsewhere.hands {
                    self.core.took_over.push(TookOver { at, input, person });
                }
            }
            What::GoesOn => {
                (self.core.cue_since, self.core.hold_since) = (None, None);
                self.show(&Seen::GoesOn, at);
            }
        }
    }

    /// Whether it was worked on again after this moment.
    pub(super) fn went_on_after(&self, at: At) -> bool {
        let goes_on = |one: &&Between| one.what == What::GoesOn;
        self.between.iter().rev().find(goes_on).is_some_and(|one| one.at > at)
    }
}
