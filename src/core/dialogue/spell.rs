//! Answers that only a switch gives: a plan by its place, leaving a question, and text letter by letter.

use std::time::Duration;

use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};

impl Dialogue {
    /// What was spelled so far.
    pub(super) fn spelled(&self) -> &str {
        self.question.as_ref().map_or("", |open| open.spelled.as_str())
    }

    /// Whether a text is being spelled, so that silence does not answer.
    pub(super) fn is_spelled(&self) -> bool {
        self.by_switch && self.takes_text()
    }

    fn takes_text(&self) -> bool {
        self.question().is_some_and(Question::is_dictated_to)
    }

    /// A letter more, or one less.
    pub(super) fn letter(
        &mut self,
        now: Duration,
        letter: Option<char>,
        out: &mut Vec<DialogueEffect>,
    ) {
        if !self.takes_text() {
            return out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
        }
        let Some(open) = &mut self.question else { return };
        match letter {
            Some(letter) => open.spelled.push(letter),
            None => drop(open.spelled.pop()),
        }
        out.push(DialogueEffect::Say(DialogueLine::Spelled { text: open.spelled.clone() }));
        self.wait_anew(now);
    }

    /// It is all there.
    pub(super) fn spelled_out(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        if !self.takes_text() {
            return out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
        }
        let text = self.spelled().to_owned();
        self.dictated(now, text, out);
    }

    /// The question gets no answer. What was spelled for it is kept.
    pub(super) fn leave(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        if !self.spelled().trim().is_empty() {
            return self.spelled_out(now, out);
        }
        match self.question.take() {
            Some(open) => self.ran_out(now, open.question, out),
            None => out.push(DialogueEffect::Show(DialogueLine::NothingChanged)),
        }
    }

    /// This plan, for what it was asked for.
    pub(super) fn chosen(&mut self, now: Duration, index: usize, out: &mut Vec<DialogueEffect>) {
        let free = matches!(self.place, Place::Lobby | Place::Ready(_));
        if !free || index >= self.choices.len() {
            return out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
        }
        let then = match self.question() {
            Some(Question::Which { then, .. }) => *then,
            _ => Then::Wait,
        };
        self.choose(now, index, then, out);
    }
}
