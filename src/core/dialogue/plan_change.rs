//! Changing a plan by a sentence: what was understood is read back, and done when the command is said once more.

use std::time::Duration;

use super::tags::{is_no, is_yes};
use super::{Choice, Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::interpret::Said;
use crate::plan::{Described, PlanChange};

/// What a sentence about a plan came to.
#[derive(Debug, Clone, PartialEq)]
pub enum ChangeRead {
    /// It names no change.
    NotUnderstood {
        /// What was said.
        text: String,
    },
    /// It cannot be made.
    Impossible {
        /// What was said.
        text: String,
        /// Why.
        why: String,
    },
    /// It can.
    Possible {
        /// What was said.
        text: String,
        /// The change.
        change: PlanChange,
        /// The same with the names of the steps that it is about.
        described: Described,
    },
}

impl Dialogue {
    /// The command: asks what to change, and once more it says yes.
    pub(super) fn change_plan(
        &mut self,
        now: Duration,
        asked: Option<Question>,
        out: &mut Vec<DialogueEffect>,
    ) {
        match (self.place, asked) {
            (Place::Training(_), _) => out.push(DialogueEffect::Say(DialogueLine::AfterSession)),
            (Place::Ready(_), Some(Question::PlanChangeIs { change, .. })) => {
                out.push(DialogueEffect::ChangePlan(change));
            }
            (Place::Ready(_), _) => self.dictate(now, Question::PlanChange, out),
            _ => self.ask_which(now, 0, Then::ChangePlan, out),
        }
    }

    pub(super) fn change_read(
        &mut self,
        now: Duration,
        read: ChangeRead,
        out: &mut Vec<DialogueEffect>,
    ) {
        let attention = self.attention.clone();
        match read {
            ChangeRead::Possible { text, change, described } => {
                out.push(DialogueEffect::Say(DialogueLine::PlanChangeIs { described, attention }));
                self.ask(now, Question::PlanChangeIs { change, text });
            }
            ChangeRead::Impossible { text, why } => {
                out.push(DialogueEffect::Note(text));
                out.push(DialogueEffect::Say(DialogueLine::PlanUnchanged { why }));
            }
            ChangeRead::NotUnderstood { text } => {
                out.push(DialogueEffect::Note(text.clone()));
                out.push(DialogueEffect::Say(DialogueLine::NotAChange { text, attention }));
            }
        }
    }

    /// A tag that may answer whether this is the change; whether it did.
    pub(super) fn answers_plan_change(
        &mut self,
        now: Duration,
        open: Option<&Question>,
        said: &Said,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let Some(Question::PlanChangeIs { change, text }) = open else { return false };
        self.question = None;
        if is_yes(said) {
            out.push(DialogueEffect::ChangePlan(change.clone()));
            return true;
        }
        // It was dictated, so it is kept.
        out.push(DialogueEffect::Note(text.clone()));
        let no = is_no(said);
        if no {
            self.dictate(now, Question::PlanChange, out);
        }
        no
    }

    /// The plan was changed, or why it was not.
    pub(super) fn plan_changed(
        &mut self,
        changed: Result<Choice, String>,
        out: &mut Vec<DialogueEffect>,
    ) {
        match (changed, self.place) {
            (Ok(choice), Place::Ready(index)) => {
                self.choices[index] = choice;
                out.push(DialogueEffect::Say(DialogueLine::PlanChanged));
                out.push(DialogueEffect::Reload);
            }
            (Ok(_), _) => {}
            (Err(why), _) => out.push(DialogueEffect::Say(DialogueLine::PlanUnchanged { why })),
        }
    }
}
