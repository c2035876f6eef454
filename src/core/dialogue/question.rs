//! Questions that wait for an answer, and what becomes of them without one.

use std::time::Duration;

use super::{
    Aside, Dialogue, DialogueEffect, DialogueLine, Health, Numbered, PAGE, Part, Place, ProbePart,
};
use crate::plan::{Command, PlanChange};

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
    /// What is to be said of its health?
    Health(Health),
    /// Is the note that has words of injury or illness a health concern?
    Concern,
    /// Is it well again? In a session answered by the command once more.
    Well,
    /// What does it weigh?
    Weight,
    /// What will be changed?
    Change,
    /// Is this the change that is to be tested?
    ChangeIs(String),
    /// Test another change? Answered by the command once more.
    Another,
    /// A part of a plan that is being made.
    Draft(Part),
    /// Is this the plan?
    DraftIs,
    /// Which part of it is wrong?
    DraftWhich,
    /// What is to be changed in the plan?
    PlanChange,
    /// Is this the change of the plan? Answered by the command once more, or by yes.
    PlanChangeIs {
        /// The change.
        change: PlanChange,
        /// As it was said.
        text: String,
    },
    /// More words? Answered by the command once more, or by yes.
    Help {
        /// How many were told.
        told: usize,
    },
    /// What is asked of a test of a cue.
    Probe(ProbePart),
    /// Was this command meant?
    Meant(Command),
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
    /// Nothing: wait for the start.
    Wait,
    /// A weight is asked for.
    Weight,
    /// A captured behaviour is kept.
    Capture,
    /// How the tests of a change of plan stand.
    Trials,
    /// The plan is changed.
    ChangePlan,
    /// What to do in the next session.
    WhatNext,
    /// What whoever trains next should know.
    HandOver,
    /// A report is written.
    Report,
    /// Something of its health is asked for.
    Health(Health),
    /// A test of a cue is asked about.
    Probe,
    /// Something else takes the stage.
    Aside(Aside),
}

#[derive(Debug, Clone)]
pub(super) struct Open {
    pub(super) question: Question,
    pub(super) until: Duration,
    /// What was spelled for it so far.
    pub(super) spelled: String,
}

impl Question {
    /// Whether its answer is free text.
    pub fn is_dictated_to(&self) -> bool {
        matches!(
            self,
            Question::Note
                | Question::Weight
                | Question::Health(_)
                | Question::Change
                | Question::PlanChange
                | Question::Draft(_)
                | Question::DraftWhich
        )
    }
}

impl Dialogue {
    pub(super) fn ask(&mut self, now: Duration, question: Question) {
        let until = now + Dialogue::waits(&question);
        self.question = Some(Open { question, until, spelled: String::new() });
    }

    fn waits(question: &Question) -> Duration {
        match question {
            // What is open is read first.
            Question::Which { .. }
            | Question::Next(_)
            | Question::Train(_)
            | Question::Concern
            | Question::Well => CHOOSE_FOR,
            dictated if dictated.is_dictated_to() => DICTATE_FOR,
            // What was understood, or how a test stands, is read first.
            Question::ChangeIs(_)
            | Question::Another
            | Question::PlanChangeIs { .. }
            | Question::Help { .. }
            | Question::Meant(_)
            | Question::Probe(_)
            | Question::DraftIs => CHOOSE_FOR,
            _ => CONFIRM_FOR,
        }
    }

    /// An open question waits from `now` on, as long as it did at first.
    pub fn wait_anew(&mut self, now: Duration) {
        if let Some(open) = &mut self.question {
            open.until = now + Dialogue::waits(&open.question);
        }
    }

    /// Reads the choices from `first` on; none when there are none.
    pub(super) fn ask_which(
        &mut self,
        now: Duration,
        first: usize,
        then: Then,
        out: &mut Vec<DialogueEffect>,
    ) {
        if self.choices.is_empty() {
            return self.make_plan(now, out);
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
        out.push(DialogueEffect::Say(DialogueLine::Which { choices, more, attention }));
        self.ask(now, Question::Which { first, then });
    }

    /// Takes a plan.
    pub(super) fn choose(
        &mut self,
        now: Duration,
        index: usize,
        then: Then,
        out: &mut Vec<DialogueEffect>,
    ) {
        self.question = None;
        if self.place != Place::Ready(index) {
            self.place = Place::Ready(index);
            self.recapped = None;
            // It waits in the record of the animal that it is about.
            self.unanswered = None;
            self.resumable = false;
            out.push(DialogueEffect::Load(index));
        }
        match then {
            Then::Wait => {
                let choice = self.choices[index].clone();
                let attention = self.attention.clone();
                out.push(DialogueEffect::Say(DialogueLine::Chosen { choice, attention }));
                self.take_up_note(now, index, out);
            }
            Then::Health(what) => self.health(now, what, None, out),
            Then::Weight => self.dictate(now, Question::Weight, out),
            Then::Capture => self.capture(index, out),
            Then::Trials => out.push(DialogueEffect::Trials),
            Then::ChangePlan => self.dictate(now, Question::PlanChange, out),
            Then::WhatNext => out.push(DialogueEffect::WhatNext),
            Then::HandOver => out.push(DialogueEffect::HandOver),
            Then::Report => out.push(DialogueEffect::Report),
            Then::Probe => self.probe(now, out),
            Then::Aside(aside) => out.push(DialogueEffect::Aside(aside)),
        }
    }

    pub(super) fn dictate(
        &mut self,
        now: Duration,
        question: Question,
        out: &mut Vec<DialogueEffect>,
    ) {
        // A note may follow its command at once, so nothing is spoken into it.
        out.push(match question {
            Question::Weight => DialogueEffect::Say(DialogueLine::Dictate { what: "weight" }),
            Question::Change => DialogueEffect::Say(DialogueLine::Dictate { what: "change" }),
            Question::PlanChange => DialogueEffect::Say(DialogueLine::Dictate { what: "plan" }),
            Question::Health(Health::Food) => {
                DialogueEffect::Say(DialogueLine::Dictate { what: "food" })
            }
            Question::Health(_) => DialogueEffect::Say(DialogueLine::Dictate { what: "health" }),
            _ => DialogueEffect::Show(DialogueLine::Dictate { what: "note" }),
        });
        self.listen_to(out);
        self.ask(now, question);
    }

    /// Lets the answer be dictated. Whoever uses a switch spells, and a room that is listened to would only disturb.
    pub(super) fn listen_to(&self, out: &mut Vec<DialogueEffect>) {
        if !self.by_switch {
            out.push(DialogueEffect::Dictate);
        }
    }

    pub(super) fn capture(&self, index: usize, out: &mut Vec<DialogueEffect>) {
        out.push(DialogueEffect::Capture);
        let behaviour = self.choices[index].behaviour.clone();
        out.push(DialogueEffect::Say(DialogueLine::Captured { behaviour }));
    }

    /// A question without an answer changes nothing, and what was said for it is not lost.
    pub(super) fn ran_out(
        &mut self,
        now: Duration,
        question: Question,
        out: &mut Vec<DialogueEffect>,
    ) {
        match question {
            // It was dictated, so it is kept, marked as what it is.
            Question::WeightIs { grams, said } => {
                out.push(DialogueEffect::Note(said));
                out.push(DialogueEffect::Say(DialogueLine::WeightNoted { grams }));
            }
            // Its command alone says it already.
            Question::Health(what) if what != Health::Food => self.keep(what, String::new(), out),
            Question::ChangeIs(change) => self.noted(now, change, out),
            Question::PlanChangeIs { text, .. } => {
                out.push(DialogueEffect::Note(text));
                out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
            }
            Question::Draft(_) | Question::DraftWhich => self.leave_draft(out),
            Question::Note
            | Question::Weight
            | Question::Health(_)
            | Question::Change
            | Question::PlanChange => {
                out.push(DialogueEffect::Say(DialogueLine::NothingHeard));
            }
            // In a session a voice would only disturb; in the lobby it would talk to an empty room.
            Question::Quit
            | Question::Leave
            | Question::Train(_)
            | Question::Concern
            | Question::Well
            | Question::Another
            | Question::Help { .. }
            | Question::Meant(_)
            | Question::Probe(_)
            | Question::DraftIs
            | Question::Which { .. }
            | Question::Next(_) => {
                out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
            }
        }
    }

    pub(super) fn dictated(&mut self, now: Duration, text: String, out: &mut Vec<DialogueEffect>) {
        let text = text.trim().to_owned();
        if text.is_empty() && !self.question().is_some_and(Question::is_dictated_to) {
            // An answer was typed meanwhile, and nothing is dictated any more.
            return;
        }
        let asked = self.question.take().map(|open| open.question);
        match asked {
            Some(Question::Draft(part)) => return self.draft_dictated(now, part, &text, out),
            Some(Question::DraftWhich) => return self.which_part(now, &text, out),
            _ => {}
        }
        if text.is_empty() {
            return match asked {
                Some(asked @ Question::Health(_)) => self.ran_out(now, asked, out),
                _ => out.push(DialogueEffect::Say(DialogueLine::NothingHeard)),
            };
        }
        if let Some(Question::Health(what)) = asked {
            let signs = what == Health::Food && !self.signs.find(&text).is_empty();
            self.keep(what, text.clone(), out);
            if signs {
                self.unanswered = Some(text);
                self.ask_of_note(now, out);
            }
            return;
        }
        if let Some(Question::ChangeIs(change)) = &asked {
            self.noted(now, change.clone(), out);
        }
        if let Some(Question::PlanChangeIs { text, .. }) = &asked {
            out.push(DialogueEffect::Note(text.clone()));
        }
        if let Some(Question::WeightIs { grams, said }) = &asked {
            out.push(DialogueEffect::Note(said.clone()));
            out.push(DialogueEffect::Say(DialogueLine::WeightNoted { grams: *grams }));
        }
        if asked == Some(Question::Change) && matches!(self.place, Place::Ready(_)) {
            return self.ask_change(now, text, out);
        }
        if asked == Some(Question::PlanChange) && matches!(self.place, Place::Ready(_)) {
            return out.push(DialogueEffect::ReadChange(text));
        }
        let weight = asked == Some(Question::Weight);
        if let (true, Place::Ready(choice) | Place::Training(choice)) = (weight, self.place) {
            let Some(grams) = self.numerals.weight(&text) else {
                out.push(DialogueEffect::Note(text.clone()));
                return out.push(DialogueEffect::Say(DialogueLine::NoWeight { text }));
            };
            let animal = self.choices[choice].animal.clone();
            let (yes, attention) = (self.yes.clone(), self.attention.clone());
            let training = matches!(self.place, Place::Training(_));
            out.push(DialogueEffect::Say(DialogueLine::WeightIs {
                animal,
                grams,
                yes,
                attention,
                training,
            }));
            return self.ask(now, Question::WeightIs { grams, said: text });
        }
        // Whatever it was asked for, what was dictated is kept.
        self.noted(now, text, out);
    }
}
