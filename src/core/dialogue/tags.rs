//! What a tag means outside a session, and that it is the session's inside one.

use std::time::Duration;

use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::interpret::{Details, Said};

/// The name of the plan's own tag that stands for a choice, for hearing it by the animal's name.
const CHOICE: &str = "choose ";

impl Dialogue {
    /// The tag that stands for this choice.
    pub fn choice_tag(index: usize) -> String {
        format!("{CHOICE}{index}")
    }

    /// Whether a tag that was heard is not meant for us: no session is under way, no question is open, and a session
    /// by this plan begins by "begin" alone.
    pub(super) fn may_be_talk(&self, said: &Said) -> bool {
        let Place::Ready(index) = self.place else { return false };
        self.question.is_none() && !self.choices[index].marker_begins && said.may_begin()
    }

    pub(super) fn tag(
        &mut self,
        now: Duration,
        said: Said,
        words: String,
        out: &mut Vec<DialogueEffect>,
    ) {
        if matches!(self.place, Place::Training(_)) {
            // The trainer works on: a question is dropped, the tag is the session's. What was dictated is kept.
            if let Some(Question::WeightIs { grams, said }) =
                self.question.take().map(|o| o.question)
            {
                out.push(DialogueEffect::Note(said));
                out.push(DialogueEffect::Show(DialogueLine::WeightNoted { grams }));
            }
            return out.push(DialogueEffect::Pass { said, words });
        }
        let open = self.question.as_ref().map(|open| open.question.clone());
        if self.answers_health(open.as_ref(), &said, out)
            || self.answers_draft(now, open.as_ref(), &said, out)
            || self.answers_plan_change(now, open.as_ref(), &said, out)
            || self.answers_help(now, open.as_ref(), &said, out)
            || self.answers_probe(now, open.as_ref(), &said, out)
        {
            return;
        }
        match open {
            Some(Question::Which { then, .. }) => self.chosen_by(now, &said, then, out),
            Some(Question::Next(index)) if is_yes(&said) => {
                self.choose(now, index, Then::Wait, out);
            }
            Some(Question::Next(_)) => self.chosen_by(now, &said, Then::Wait, out),
            Some(Question::WeightIs { grams, said: weight }) => {
                self.question = None;
                if is_yes(&said) {
                    out.push(DialogueEffect::Weight { grams, said: weight });
                    return out.push(DialogueEffect::Say(DialogueLine::WeightKept { grams }));
                }
                if is_no(&said) {
                    return self.dictate(now, Question::Weight, out);
                }
                out.push(DialogueEffect::Note(weight));
                out.push(DialogueEffect::Say(DialogueLine::WeightNoted { grams }));
                self.waiting_tag(now, said, words, out);
            }
            Some(Question::ChangeIs(change)) => self.answer_change(now, change, (said, words), out),
            _ => self.waiting_tag(now, said, words, out),
        }
    }

    /// A tag while no question is open and no session is under way.
    pub(super) fn waiting_tag(
        &mut self,
        now: Duration,
        said: Said,
        words: String,
        out: &mut Vec<DialogueEffect>,
    ) {
        match (self.place, said) {
            // What is typed or pressed begins the session, and what is heard where the plan says so.
            (
                Place::Ready(_),
                said @ (Said::Rep(_)
                | Said::Miss(_)
                | Said::State { .. }
                | Said::Cue
                | Said::HoldStart
                | Said::Own { .. }),
            ) => {
                if self.may_train(now, None, None, out) {
                    out.push(DialogueEffect::Pass { said, words });
                }
            }
            (Place::Ready(_), _) => {
                out.push(DialogueEffect::Say(DialogueLine::NoSession {
                    attention: self.attention.clone(),
                }));
            }
            // It may be ordinary talk, so it gets no spoken answer.
            _ => {
                let attention = self.attention.clone();
                out.push(DialogueEffect::Show(DialogueLine::Waiting { words, attention }));
            }
        }
    }

    fn chosen_by(&mut self, now: Duration, said: &Said, then: Then, out: &mut Vec<DialogueEffect>) {
        let last = self.choices.len();
        match said {
            Said::Own { name } => {
                let index = name.strip_prefix(CHOICE).and_then(|index| index.parse().ok());
                match index.filter(|index| *index < last) {
                    Some(index) => self.choose(now, index, then, out),
                    None => out.push(DialogueEffect::Say(DialogueLine::SayNumber)),
                }
            }
            Said::Rep(Details { step: Some(number), .. })
            | Said::Detail(Details { step: Some(number), .. }) => {
                let number = usize::from(*number);
                match number.checked_sub(1).filter(|index| *index < last) {
                    Some(index) => self.choose(now, index, then, out),
                    None => {
                        out.push(DialogueEffect::Say(DialogueLine::NoSuchNumber { number, last }))
                    }
                }
            }
            // "No" to a list means nothing is wanted.
            no if is_no(no) => {
                self.question = None;
                out.push(DialogueEffect::Say(DialogueLine::NothingChanged));
            }
            _ => out.push(DialogueEffect::Say(DialogueLine::SayNumber)),
        }
    }
}

/// The marker alone.
pub(super) fn is_yes(said: &Said) -> bool {
    matches!(said, Said::Rep(details) if details.is_empty())
}

/// A miss or taking back, whatever is said with it.
pub(super) fn is_no(said: &Said) -> bool {
    matches!(said, Said::Miss(_) | Said::TakeBack)
}
