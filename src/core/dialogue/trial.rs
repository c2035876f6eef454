//! Testing a change of plan by voice: how the tests stand, and beginning one.

use std::time::Duration;

use super::tags::{is_no, is_yes};
use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::interpret::Said;

/// What was told of the tests of a change of plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trials {
    /// There are none.
    None,
    /// One goes on: another change now would spoil it.
    GoOn,
    /// All are over, and their results were told.
    Over,
}

impl Dialogue {
    /// The command: how the tests stand is told first; said once more after a result, another one is begun.
    pub(super) fn trials(
        &mut self,
        now: Duration,
        asked: Option<&Question>,
        out: &mut Vec<DialogueEffect>,
    ) {
        match (self.place, asked) {
            (Place::Ready(_), Some(Question::Another)) => self.dictate(now, Question::Change, out),
            (Place::Ready(_), _) => out.push(DialogueEffect::Trials),
            _ => self.ask_which(now, 0, Then::Trials, out),
        }
    }

    pub(super) fn trials_told(
        &mut self,
        now: Duration,
        trials: Trials,
        out: &mut Vec<DialogueEffect>,
    ) {
        if !matches!(self.place, Place::Ready(_)) {
            return;
        }
        match trials {
            Trials::None => self.dictate(now, Question::Change, out),
            Trials::GoOn => {}
            Trials::Over => {
                out.push(DialogueEffect::Say(DialogueLine::TestAnother {
                    attention: self.attention.clone(),
                }));
                self.ask(now, Question::Another);
            }
        }
    }

    /// A lot cannot be drawn again, so what was understood is read back first.
    pub(super) fn ask_change(
        &mut self,
        now: Duration,
        change: String,
        out: &mut Vec<DialogueEffect>,
    ) {
        out.push(DialogueEffect::Say(DialogueLine::ChangeIs {
            change: change.clone(),
            yes: self.yes.clone(),
        }));
        self.ask(now, Question::ChangeIs(change));
    }

    /// The answer to it: yes draws; else it is kept as a note, and no asks again.
    pub(super) fn answer_change(
        &mut self,
        now: Duration,
        change: String,
        (said, words): (Said, String),
        out: &mut Vec<DialogueEffect>,
    ) {
        self.question = None;
        if is_yes(&said) {
            return out.push(DialogueEffect::BeginTrial { change });
        }
        self.noted(now, change, out);
        if is_no(&said) {
            return self.dictate(now, Question::Change, out);
        }
        self.waiting_tag(now, said, words, out);
    }
}
