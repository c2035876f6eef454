//! What is said of the animal's health: open concerns, signs in a note, ill, sore, well again, food. It keeps and
//! asks; it judges nothing.

use std::time::Duration;

use serde::Serialize;

use super::tags::{is_no, is_yes};
use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::history::body::{Alarm, waiting};
use crate::interpret::Said;
use crate::plan::Command;

/// What is kept of an animal's health.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Health {
    /// Ill from now on.
    Ill,
    /// Sore, wounded, limping.
    Sore,
    /// A health concern, as it was noted.
    Concern,
    /// What was noted so far is not a health concern.
    NoConcern,
    /// Well again.
    Well,
    /// What was eaten outside sessions.
    Food,
}

/// How a question about health is answered here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// By the word for yes.
    Yes,
    /// In a session, where no tag answers: by the command.
    Command,
    /// Not before an animal is chosen.
    Choose,
    /// Not by voice: it came from a recording.
    Later,
}

impl Health {
    /// What this command is about.
    pub(super) fn of(command: Command) -> Option<Health> {
        match command {
            Command::Ill => Some(Health::Ill),
            Command::Sore => Some(Health::Sore),
            Command::Concern => Some(Health::Concern),
            Command::Well => Some(Health::Well),
            Command::Food => Some(Health::Food),
            _ => None,
        }
    }
}

impl Dialogue {
    /// A command about health. `asked` is the question that was open.
    pub(super) fn health(
        &mut self,
        now: Duration,
        what: Health,
        asked: Option<&Question>,
        out: &mut Vec<DialogueEffect>,
    ) {
        let (Place::Ready(index) | Place::Training(index)) = self.place else {
            return self.ask_which(now, 0, Then::Health(what), out);
        };
        match what {
            // It answers the note that was asked about, whenever that was.
            Health::Concern if self.unanswered.is_some() => self.answer_note(true, out),
            Health::Well if asked == Some(&Question::Well) => self.keep(what, String::new(), out),
            Health::Well if self.choices[index].concerns.is_empty() => {
                self.keep(what, String::new(), out);
            }
            // It closes what is open, so it is asked back.
            Health::Well => {
                let (choice, yes) = (self.choices[index].clone(), self.yes.clone());
                let attention = self.attention.clone();
                out.push(DialogueEffect::Say(DialogueLine::WellAgain {
                    choice,
                    how: self.how(),
                    yes,
                    attention,
                }));
                self.ask(now, Question::Well);
            }
            _ => self.dictate(now, Question::Health(what), out),
        }
    }

    /// Keeps what was said of the animal's health; empty where nothing more was understood than the command.
    pub(super) fn keep(&mut self, what: Health, text: String, out: &mut Vec<DialogueEffect>) {
        let training = matches!(self.place, Place::Training(_));
        out.push(DialogueEffect::Health { what, text: text.clone() });
        out.push(DialogueEffect::Say(DialogueLine::HealthKept { what, text, training }));
    }

    /// What was dictated is kept as a note; words of injury or illness in it are shown back and asked about.
    pub(super) fn noted(&mut self, now: Duration, text: String, out: &mut Vec<DialogueEffect>) {
        out.push(DialogueEffect::Note(text.clone()));
        if self.signs.find(&text).is_empty() {
            out.push(DialogueEffect::Say(DialogueLine::Noted { text }));
        } else {
            self.unanswered = Some(text);
            self.ask_of_note(now, out);
        }
    }

    /// Asks whether the note that nobody answered is a health concern.
    pub(super) fn ask_of_note(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        let Some(text) = &self.unanswered else { return };
        let (words, how) = (self.signs.find(text), self.how());
        let (attention, yes) = (self.attention.clone(), self.yes.clone());
        out.push(DialogueEffect::Say(DialogueLine::SignsNoted { words, how, attention, yes }));
        if how != How::Choose {
            self.ask(now, Question::Concern);
        }
    }

    /// The answer to it.
    pub(super) fn answer_note(&mut self, yes: bool, out: &mut Vec<DialogueEffect>) {
        let Some(text) = self.unanswered.take() else { return };
        let what = if yes { Health::Concern } else { Health::NoConcern };
        let training = matches!(self.place, Place::Training(_));
        out.push(DialogueEffect::Concern { yes, text: text.clone() });
        out.push(DialogueEffect::Say(DialogueLine::HealthKept { what, text, training }));
    }

    /// A tag that may answer a question about health, outside a session; whether it did.
    pub(super) fn answers_health(
        &mut self,
        open: Option<&Question>,
        said: &Said,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let (yes, no) = (is_yes(said), is_no(said));
        match open {
            Some(Question::Concern) if yes || no => {
                self.question = None;
                self.answer_note(yes, out);
            }
            Some(Question::Well) if yes => {
                self.question = None;
                self.keep(Health::Well, String::new(), out);
            }
            Some(Question::Well) if no => {
                self.question = None;
                out.push(DialogueEffect::Say(DialogueLine::NothingChanged));
            }
            _ => return false,
        }
        true
    }

    fn how(&self) -> How {
        match self.place {
            Place::Training(_) => How::Command,
            Place::Ready(_) => How::Yes,
            Place::Lobby | Place::Over => How::Choose,
        }
    }

    /// What is open of the animal chosen. What was not open before is said, unless a session is under way, or it is
    /// just being asked about: then it was the trainer who noted it.
    pub(super) fn concerned(
        &mut self,
        now: Duration,
        concerns: Vec<Alarm>,
        out: &mut Vec<DialogueEffect>,
    ) {
        let (Place::Ready(index) | Place::Training(index)) = self.place else { return };
        let animal = self.choices[index].animal.clone();
        let asking = self.question() == Some(&Question::Concern);
        let news = concerns.iter().any(|alarm| !self.choices[index].concerns.contains(alarm));
        for choice in self.choices.iter_mut().filter(|choice| choice.animal == animal) {
            choice.concerns.clone_from(&concerns);
        }
        if news && !asking && matches!(self.place, Place::Ready(_)) {
            self.tell_concerns(now, index, out);
        }
    }

    /// Says what is open, and asks about a note that nobody has answered.
    pub(super) fn tell_concerns(
        &mut self,
        now: Duration,
        index: usize,
        out: &mut Vec<DialogueEffect>,
    ) {
        out.push(DialogueEffect::Say(DialogueLine::Concerned {
            choice: self.choices[index].clone(),
        }));
        self.take_up_note(now, index, out);
    }

    /// Asks about what was noted at an earlier time and nobody has answered.
    pub(super) fn take_up_note(
        &mut self,
        now: Duration,
        index: usize,
        out: &mut Vec<DialogueEffect>,
    ) {
        let note = waiting(&self.choices[index].concerns);
        if note.is_some() {
            self.unanswered = note;
            self.ask_of_note(now, out);
        }
    }

    /// Whether this command may begin or go on with a session now. Where a health concern is open, that is said, and
    /// where the plan wants it, the animal is to be looked at; the command must then come once more. A tag begins none.
    pub(super) fn may_train(
        &mut self,
        now: Duration,
        command: Option<Command>,
        asked: Option<&Question>,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let Place::Ready(index) = self.place else { return true };
        let choice = self.choices[index].clone();
        let confirmed = command.is_some_and(|command| asked == Some(&Question::Train(command)));
        if (choice.concerns.is_empty() && !choice.look_first) || confirmed {
            return true;
        }
        let attention = self.attention.clone();
        let what = if command == Some(Command::GoOn) { "go_on" } else { "begin" };
        out.push(DialogueEffect::Say(DialogueLine::Hold { choice, attention, what }));
        if let Some(command) = command {
            self.ask(now, Question::Train(command));
        }
        false
    }
}
