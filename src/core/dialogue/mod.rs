//! Everything outside the reps themselves: choosing animal and plan, notes, weights, captured behaviour,
//! the voice's speed and loudness, the end. Pure: time and what was heard in, effects out; reads no clock,
//! opens nothing, plays nothing.
//!
//! An open health concern of the animal is said before all else, and then a session takes its command twice.
//!
//! Three habits keep it safe for a person who looks at an animal and not at a screen:
//! a question runs out by itself, and then nothing has changed; in a session no tag ever answers a
//! question (what must be confirmed is confirmed by saying the command once more); and nothing that was
//! said goes without an effect, be it only a line on the screen.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::Machine;
//! use hushtally_core::dialogue::{Choice, Dialogue, DialogueEffect, DialogueInput, Place};
//! use hushtally_core::plan::Command;
//! let pepino = Choice { animal: "Pepino".into(), ..Choice::default() };
//! let (mut dialogue, _) = Dialogue::open(vec![pepino], "juniper", "yes");
//! let effects = dialogue.handle(Duration::from_secs(1), DialogueInput::command(Command::Quit));
//! assert!(effects.contains(&DialogueEffect::Quit));
//! assert_eq!(dialogue.place(), Place::Over);
//! ```

mod aside;
mod audibility;
mod choices;
mod commands;
mod draft;
mod effect;
mod health;
mod help;
mod line;
mod number;
mod plan_change;
mod probe;
mod question;
mod spell;
mod tags;
mod trial;

use std::time::Duration;

pub use aside::Aside;
pub use audibility::{Audibility, AudibilityVerdict};
pub use draft::{Draft, Part};
pub use effect::{Choice, DialogueEffect, VoiceChange, Weeks};
pub use health::{Health, How};
pub use line::{DialogueLine, Numbered};
pub use number::Numerals;
pub use plan_change::ChangeRead;
pub use probe::ProbePart;
pub use question::{Question, Then};
pub use trial::Trials;

use crate::history::body::Alarm;
use crate::interpret::Said;
use crate::machine::{Choices, Machine};
use crate::plan::{Command, Words};
use crate::sentences::Signs;

/// A session in which nothing was heard for this long is paused.
pub const FORGOTTEN: Duration = Duration::from_secs(600);
/// Asked for soon after a recap, another one brings the details.
pub const DETAILS_WITHIN: Duration = Duration::from_secs(120);
/// This many choices are read at once; more are more than one keeps in mind (Miller 1956, Psychol Rev
/// 63:81-97 and Cowan 2001, Behav Brain Sci 24:87-114, both from memory, put it at about four to seven).
pub const PAGE: usize = 5;

/// Where in the day's work the trainer is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// No plan is chosen.
    Lobby,
    /// A plan is chosen; no session is under way. Its index among the choices.
    Ready(usize),
    /// A session is under way by this plan.
    Training(usize),
    /// The program ends.
    Over,
}

/// What happens to the dialogue.
#[derive(Debug, Clone, PartialEq)]
pub enum DialogueInput {
    /// A tag or command was heard or keyed.
    Said {
        /// What it means.
        said: Said,
        /// Its words.
        words: String,
        /// By a key, a switch or a line, and so meant; what is heard may be ordinary talk.
        keyed: bool,
    },
    /// This plan is taken.
    Choose(usize),
    /// The question is left: nothing changes, and what was given for it is kept.
    Leave,
    /// A letter or a digit of what is dictated, for whoever spells it.
    Letter(char),
    /// The last letter is taken back.
    Erase,
    /// It is spelled to its end.
    Spelled,
    /// Dictation has ended; empty when nothing was understood.
    Dictated {
        /// What was understood.
        text: String,
    },
    /// The session's time was started.
    Began,
    /// The session has ended and was read back.
    Ended,
    /// The session was paused, or goes on.
    Paused(bool),
    /// A recap was read.
    Recapped,
    /// The plan that was chosen cannot be used.
    Unusable {
        /// Why.
        reason: String,
    },
    /// A session that was cut off can be gone on with.
    Resumable,
    /// Health concerns of the animal chosen, as they stand now.
    Concerns(Vec<Alarm>),
    /// How the tests of a change of plan stand was told.
    Trials(Trials),
    /// Something was said after the attention word, and is not a command.
    NoCommand {
        /// As it was heard.
        words: String,
    },
    /// A plan was written, or why it was not.
    PlanMade(Result<Choice, String>),
    /// What a sentence changes in the plan chosen.
    ChangeRead(ChangeRead),
    /// The plan chosen was changed, or why it was not.
    PlanChanged(Result<Choice, String>),
    /// What had taken the stage is over.
    Back {
        /// Why it could not be begun, or was cut short.
        trouble: Option<String>,
    },
}

impl DialogueInput {
    /// A command, as if said.
    pub fn command(command: Command) -> Self {
        DialogueInput::Said { said: Said::Command { command }, words: String::new(), keyed: true }
    }
}

/// The dialogue with one trainer.
#[derive(Debug, Clone)]
pub struct Dialogue {
    choices: Vec<Choice>,
    /// The attention word and the word for yes, for use in sentences.
    attention: String,
    yes: String,
    numerals: Numerals,
    signs: &'static Signs,
    place: Place,
    question: Option<question::Open>,
    paused: bool,
    resumable: bool,
    last_said: Duration,
    /// Whether a switch was used last, and no voice.
    by_switch: bool,
    recapped: Option<Duration>,
    /// The words that are listened for, to be told and to be compared with.
    words: Words,
    /// A command came in place of an answer in free words, which is waited for once more.
    dictates_again: bool,
    /// A plan that is being made.
    draft: Option<Draft>,
    /// A note with words of injury or illness, until somebody says whether it is a health concern.
    unanswered: Option<String>,
}

impl Dialogue {
    /// A dialogue that begins in the lobby; with one plan only, that one is taken at once.
    /// `attention` and `yes` are the words for use in sentences.
    pub fn open(choices: Vec<Choice>, attention: &str, yes: &str) -> (Self, Vec<DialogueEffect>) {
        Dialogue::open_again(choices, None, attention, yes)
    }

    /// The same, with a plan that was half made the last time.
    pub fn open_again(
        choices: Vec<Choice>,
        draft: Option<Draft>,
        attention: &str,
        yes: &str,
    ) -> (Self, Vec<DialogueEffect>) {
        let mut dialogue = Dialogue {
            choices,
            attention: attention.to_owned(),
            yes: yes.to_owned(),
            numerals: Numerals::english(),
            signs: Signs::english(),
            place: Place::Lobby,
            question: None,
            paused: false,
            resumable: false,
            last_said: Duration::ZERO,
            by_switch: false,
            recapped: None,
            words: Words::english(),
            dictates_again: false,
            draft,
            unanswered: None,
        };
        let mut out = Vec::new();
        dialogue.tell_draft(&mut out);
        match dialogue.choices.len() {
            0 => dialogue.make_plan(Duration::ZERO, &mut out),
            1 => dialogue.choose(Duration::ZERO, 0, Then::Wait, &mut out),
            _ => dialogue.ask_which(Duration::ZERO, 0, Then::Wait, &mut out),
        }
        (dialogue, out)
    }

    /// A dialogue about one plan that was named at the start.
    pub fn with_plan(choice: Choice, attention: &str, yes: &str) -> (Self, Vec<DialogueEffect>) {
        let (mut dialogue, _) = Dialogue::open(vec![choice], attention, yes);
        dialogue.place = Place::Ready(0);
        let mut out = Vec::new();
        if !dialogue.choices[0].concerns.is_empty() {
            dialogue.tell_concerns(Duration::ZERO, 0, &mut out);
        }
        (dialogue, out)
    }

    /// These words are listened for from now on.
    pub fn listen_for(&mut self, words: &Words) {
        self.words = words.clone();
    }

    /// Where we are.
    pub fn place(&self) -> Place {
        self.place
    }

    /// The question that waits for an answer.
    pub fn question(&self) -> Option<&Question> {
        self.question.as_ref().map(|open| &open.question)
    }

    /// What can be chosen.
    pub fn choices(&self) -> &[Choice] {
        &self.choices
    }
}

impl Machine for Dialogue {
    type Time = Duration;
    type Input = DialogueInput;
    type Effect = DialogueEffect;

    fn handle(&mut self, now: Duration, input: DialogueInput) -> Vec<DialogueEffect> {
        let mut out = self.pass(now);
        if self.place == Place::Over {
            if let DialogueInput::Said { words, .. } | DialogueInput::Dictated { text: words } =
                input
            {
                out.push(DialogueEffect::Show(DialogueLine::Over { words }));
            }
            return out;
        }
        match input {
            DialogueInput::Said { said, words, keyed } => {
                self.last_said = now;
                self.by_switch &= keyed;
                match said {
                    Said::Command { command } => {
                        self.command(now, command, words, &mut out);
                        if std::mem::take(&mut self.dictates_again) {
                            self.listen_to(&mut out);
                        }
                    }
                    tag if !keyed && self.may_be_talk(&tag) => {
                        out.push(DialogueEffect::Overheard { said: tag, words });
                    }
                    tag => self.tag(now, tag, words, &mut out),
                }
            }
            DialogueInput::Dictated { text } if text.trim().is_empty() && self.is_spelled() => {}
            DialogueInput::Dictated { text } => self.dictated(now, text, &mut out),
            DialogueInput::Choose(index) => self.chosen(now, index, &mut out),
            DialogueInput::Leave => self.leave(now, &mut out),
            DialogueInput::Letter(letter) => self.letter(now, Some(letter), &mut out),
            DialogueInput::Erase => self.letter(now, None, &mut out),
            DialogueInput::Spelled => self.spelled_out(now, &mut out),
            DialogueInput::Began => self.began(now),
            DialogueInput::Ended => self.ended(now, &mut out),
            DialogueInput::Paused(paused) => self.paused = paused,
            DialogueInput::Recapped => self.recapped = Some(now),
            DialogueInput::Unusable { reason } => {
                self.place = Place::Lobby;
                self.question = None;
                out.push(DialogueEffect::Say(DialogueLine::Unusable { reason }));
            }
            DialogueInput::Resumable => self.resumable = true,
            DialogueInput::Concerns(concerns) => self.concerned(now, concerns, &mut out),
            DialogueInput::Trials(trials) => self.trials_told(now, trials, &mut out),
            DialogueInput::NoCommand { words } => self.no_command(now, &words, &mut out),
            DialogueInput::PlanMade(made) => self.plan_made(now, made, &mut out),
            DialogueInput::ChangeRead(read) => self.change_read(now, read, &mut out),
            DialogueInput::PlanChanged(changed) => self.plan_changed(changed, &mut out),
            DialogueInput::Back { trouble } => self.back(now, trouble, &mut out),
        }
        out
    }

    /// Lets time pass up to `now`: questions run out, a forgotten session is paused.
    fn pass(&mut self, now: Duration) -> Vec<DialogueEffect> {
        let mut out = Vec::new();
        if self.question.as_ref().is_some_and(|open| open.until <= now) {
            self.leave(now, &mut out);
        }
        let training = matches!(self.place, Place::Training(_)) && !self.paused;
        if training && now >= self.last_said + FORGOTTEN {
            self.paused = true;
            let said = Said::Command { command: Command::Pause };
            out.push(DialogueEffect::Pass { said, words: String::new() });
            out.push(DialogueEffect::Say(DialogueLine::Forgotten {
                attention: self.attention.clone(),
            }));
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        let forgotten = (matches!(self.place, Place::Training(_)) && !self.paused)
            .then(|| self.last_said + FORGOTTEN);
        self.question.as_ref().map(|open| open.until).into_iter().chain(forgotten).min()
    }

    fn choices(&self) -> Choices<DialogueInput> {
        self.taken_now()
    }

    fn choosing(&mut self, until: Duration) {
        self.by_switch = true;
        self.last_said = self.last_said.max(until);
        self.wait_anew(until);
    }
}

impl Dialogue {
    fn began(&mut self, now: Duration) {
        if let Place::Ready(choice) = self.place {
            self.place = Place::Training(choice);
            self.question = None;
            self.paused = false;
            self.resumable = false;
            self.last_said = now;
        }
    }

    fn ended(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        let Place::Training(choice) = self.place else { return };
        self.place = Place::Ready(choice);
        self.question = None;
        self.paused = false;
        self.recapped = Some(now);
        out.push(DialogueEffect::Say(DialogueLine::After { attention: self.attention.clone() }));
        self.ask_of_note(now, out);
    }
}

#[cfg(test)]
mod tests;
