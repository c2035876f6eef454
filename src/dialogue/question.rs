//! Questions that wait for an answer, and what becomes of them without one.

use std::time::Duration;

use super::{Dialogue, Effect, Line, Numbered, PAGE, Place};
use crate::plan::Command;

/// How long a question waits. Reading the longest list takes some 20 s of it.
const CHOOSE_FOR: Duration = Duration::from_secs(60);
const CONFIRM_FOR: Duration = Duration::from_secs(12);
/// Dictation ends by silence; this only ends one in which nothing was ever said.
const DICTATE_FOR: Duration = Duration::from_secs(120);

/// A question that waits for an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Which plan?
    Which {
        /// Index of the first on this page.
        first: usize,
        /// What follows.
        then: Then,
    },
    /// This plan next?
    Next(usize),
    /// End the session and the program? Answered by the command once more.
    Quit,
    /// End the session and choose another plan? Answered by the command once more.
    Leave,
    /// Train all the same, although a health concern is open? Answered by the command once more.
    Train(Command),
    /// What shall be noted?
    Note,
    /// What does it weigh?
    Weight,
    /// Is this the weight?
    WeightIs {
        /// In grams.
        grams: f64,
        /// As it was said.
        said: String,
    },
}

/// What follows when a plan is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// Nothing: wait for the begin.
    Wait,
    /// A weight is asked for.
    Weight,
    /// A captured behaviour is kept.
    Capture,
}

#[derive(Debug, Clone)]
pub(super) struct Open {
    pub(super) question: Question,
    pub(super) until: Duration,
}

impl Dialogue {
    pub(super) fn ask(&mut self, now: Duration, question: Question) {
        let wait = match question {
            // What is open is read first.
            Question::Which { .. } | Question::Next(_) | Question::Train(_) => CHOOSE_FOR,
            Question::Note | Question::Weight => DICTATE_FOR,
            Question::Quit | Question::Leave | Question::WeightIs { .. } => CONFIRM_FOR,
        };
        self.question = Some(Open { question, until: now + wait });
    }

    /// An open question waits from `now` on, as long as it did at first.
    pub fn wait_anew(&mut self, now: Duration) {
        if let Some(open) = self.question.take() {
            self.ask(now, open.question);
        }
    }

    /// Reads the choices from `first` on; none when there are none.
    pub(super) fn ask_which(
        &mut self,
        now: Duration,
        first: usize,
        then: Then,
        out: &mut Vec<Effect>,
    ) {
        if self.choices.is_empty() {
            return out.push(Effect::Say(Line::NoPlans));
        }
        let first = if first < self.choices.len() { first } else { 0 };
        let numbered = |(index, choice): (usize, &super::Choice)| Numbered {
            number: index + 1,
            choice: choice.clone(),
        };
        let choices: Vec<Numbered> =
            self.choices.iter().enumerate().skip(first).take(PAGE).map(numbered).collect();
        let more = self.choices.len() - first - choices.len();
        let attention = self.attention.clone();
        out.push(Effect::Say(Line::Which { choices, more, attention }));
        self.ask(now, Question::Which { first, then });
    }

    /// Whether this command may begin or go on with a session now: where a health concern is open, that is said, and
    /// the command must come once more. A tag begins none.
    pub(super) fn may_train(
        &mut self,
        now: Duration,
        command: Option<Command>,
        asked: Option<&Question>,
        out: &mut Vec<Effect>,
    ) -> bool {
        let Place::Ready(index) = self.place else { return true };
        let confirmed = command.is_some_and(|command| asked == Some(&Question::Train(command)));
        if self.choices[index].concerns.is_empty() || confirmed {
            return true;
        }
        let (choice, attention) = (self.choices[index].clone(), self.attention.clone());
        let what = if command == Some(Command::GoOn) { "go_on" } else { "begin" };
        out.push(Effect::Say(Line::Hold { choice, attention, what }));
        if let Some(command) = command {
            self.ask(now, Question::Train(command));
        }
        false
    }

    /// Takes a plan.
    pub(super) fn choose(
        &mut self,
        now: Duration,
        index: usize,
        then: Then,
        out: &mut Vec<Effect>,
    ) {
        self.question = None;
        if self.place != Place::Ready(index) {
            self.place = Place::Ready(index);
            self.recapped = None;
            self.resumable = false;
            out.push(Effect::Load(index));
        }
        match then {
            Then::Wait => {
                let choice = self.choices[index].clone();
                let attention = self.attention.clone();
                out.push(Effect::Say(Line::Chosen { choice, attention }));
            }
            Then::Weight => self.dictate(now, Question::Weight, out),
            Then::Capture => self.capture(index, out),
        }
    }

    pub(super) fn dictate(&mut self, now: Duration, question: Question, out: &mut Vec<Effect>) {
        // A note may follow its command at once, so nothing is spoken into it.
        let (weight, note) = (Line::Dictate { what: "weight" }, Line::Dictate { what: "note" });
        let ask = question == Question::Weight;
        out.push(if ask { Effect::Say(weight) } else { Effect::Show(note) });
        out.push(Effect::Dictate);
        self.ask(now, question);
    }

    pub(super) fn capture(&self, index: usize, out: &mut Vec<Effect>) {
        out.push(Effect::Capture);
        let behaviour = self.choices[index].behaviour.clone();
        out.push(Effect::Say(Line::Captured { behaviour }));
    }

    /// A question without an answer changes nothing, and what was said for it is not lost.
    pub(super) fn ran_out(&self, question: Question, out: &mut Vec<Effect>) {
        match question {
            // It was dictated, so it is kept, marked as what it is.
            Question::WeightIs { grams, said } => {
                out.push(Effect::Note(said));
                out.push(Effect::Say(Line::WeightNoted { grams }));
            }
            Question::Note | Question::Weight => out.push(Effect::Say(Line::NothingHeard)),
            // In a session a voice would only disturb; in the lobby it would talk to an empty room.
            Question::Quit
            | Question::Leave
            | Question::Train(_)
            | Question::Which { .. }
            | Question::Next(_) => {
                out.push(Effect::Show(Line::NothingChanged));
            }
        }
    }

    pub(super) fn dictated(&mut self, now: Duration, text: String, out: &mut Vec<Effect>) {
        let text = text.trim().to_owned();
        let asked = self.question.take().map(|open| open.question);
        if text.is_empty() {
            return out.push(Effect::Say(Line::NothingHeard));
        }
        let weight = asked == Some(Question::Weight);
        if let (true, Place::Ready(choice)) = (weight, self.place) {
            let Some(grams) = self.numerals.weight(&text) else {
                out.push(Effect::Note(text.clone()));
                return out.push(Effect::Say(Line::NoWeight { text }));
            };
            let animal = self.choices[choice].animal.clone();
            let yes = self.yes.clone();
            out.push(Effect::Say(Line::WeightIs { animal, grams, yes }));
            return self.ask(now, Question::WeightIs { grams, said: text });
        }
        // Whatever it was asked for, what was dictated is kept.
        out.push(Effect::Note(text.clone()));
        out.push(Effect::Say(Line::Noted { text }));
    }
}
