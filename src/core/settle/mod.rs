//! Settling by voice what was heard doubtfully: one doubt after the other is read out, and answered by a word, a key
//! or a line. Pure: answers and time in, effects out; plays nothing, saves nothing.
//!
//! Silence changes nothing: a question is asked twice, and then whatever is left stays unsettled. Only an answer
//! settles, every one can be taken back, and a voice while a question is still being read answers nothing.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::{Answer, Machine};
//! use hushtally_core::interpret::{Details, Grammar, Said};
//! use hushtally_core::plan::Words;
//! use hushtally_core::settle::{Doubt, SettleEffect, SettleInput, Settle, Settled, Spoken};
//! let words = Words::english();
//! let doubt = Doubt::new(31.4, "yes", &"yet".into(), &Grammar::new(&words));
//! let (mut settle, _said) = Settle::begin("Pepino", vec![doubt], Spoken::of(&words));
//! let yes = SettleInput::Answer(Answer::Said { said: Said::Rep(Details::default()), words: "yes".into(), keyed: true });
//! let effects = settle.handle(Duration::from_secs(9), yes);
//! let settled = Settled::Rep(Details::default());
//! assert!(effects.contains(&SettleEffect::Settle { doubt: 0, settled }));
//! ```

mod answers;
mod choices;
mod doubt;
mod line;

use std::time::Duration;

use serde::Serialize;

pub use doubt::{Before, Counts, Doubt, Reading};
pub use line::{SettleEffect, SettleLine, Settled, Spoken};

use crate::machine::{Answer, Choices, Machine};

/// Time to answer, from the moment at which our own voice is silent: enough to remember a moment of the session.
const ANSWER_FOR: Duration = Duration::from_secs(12);
/// How often something half understood lets a question wait again.
const MOST_UNSURE: u8 = 3;

/// What happens while doubts are settled.
#[derive(Debug, Clone, PartialEq)]
pub enum SettleInput {
    /// An answer that stood alone, or something that may be several tags at once, at its onset.
    Answer(Answer),
    /// Our own voice is silent: what was asked waits from now on.
    Quiet,
    /// What was asked for is on disk.
    Saved,
    /// Somebody else settled this tag, or took this answer back, in the meantime.
    Gone,
    /// It could not be put on disk.
    SaveFailed {
        /// Why.
        why: String,
    },
}

/// How many doubts came to what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct SettledCounts {
    /// Counted as reps.
    pub reps: usize,
    /// Counted as misses.
    pub misses: usize,
    /// Nothing that counts.
    pub nothing: usize,
    /// Not settled here.
    pub left: usize,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    /// The doubt at `index` is asked about, or, after the last one, whether all this is right.
    Asking,
    /// This answer is on its way to the disk.
    Settling(Settled),
    /// The answer to this doubt is being taken back.
    TakingBack(usize),
    /// The end.
    Over,
}

/// A question that runs out.
#[derive(Debug, Clone, Copy)]
struct Wait {
    /// Set once our own voice is silent.
    until: Option<Duration>,
    /// How often something half understood came.
    unsure: u8,
}

/// Doubts being settled.
#[derive(Debug, Clone)]
pub struct Settle {
    doubts: Vec<Doubt>,
    spoken: Spoken,
    index: usize,
    step: Step,
    wait: Option<Wait>,
    /// When the question was read to its end.
    quiet_at: Option<Duration>,
    /// Questions in a row that ran out.
    silent: u8,
    /// What was answered so far, in order; without a settlement when it was left for later.
    answered: Vec<(usize, Option<Settled>)>,
    unsaved: Option<String>,
}

impl Settle {
    /// Begins with the first doubt of a session with this animal.
    pub fn begin(animal: &str, doubts: Vec<Doubt>, spoken: Spoken) -> (Self, Vec<SettleEffect>) {
        let mut settle = Settle {
            doubts,
            spoken,
            index: 0,
            step: Step::Asking,
            wait: None,
            quiet_at: None,
            silent: 0,
            answered: Vec::new(),
            unsaved: None,
        };
        let mut out = Vec::new();
        let of = settle.doubts.len();
        if of == 0 {
            settle.end(SettleLine::NoneThere { animal: animal.to_owned() }, &mut out);
        } else {
            let spoken = settle.spoken.clone();
            out.push(SettleEffect::Say(SettleLine::Begin {
                animal: animal.to_owned(),
                of,
                spoken,
            }));
            settle.ask(&mut out);
        }
        (settle, out)
    }

    /// What came of the doubts so far.
    pub fn tally(&self) -> SettledCounts {
        let count = |fits: fn(&Settled) -> bool| {
            self.answered
                .iter()
                .filter_map(|(_, settled)| settled.as_ref())
                .filter(|s| fits(s))
                .count()
        };
        let reps = count(|settled| matches!(settled, Settled::Rep(_)));
        let misses = count(|settled| matches!(settled, Settled::Miss(_)));
        let nothing = count(|settled| matches!(settled, Settled::Nothing { .. }));
        SettledCounts { reps, misses, nothing, left: self.doubts.len() - reps - misses - nothing }
    }

    /// Why an answer could not be put on disk, if one could not.
    pub fn unsaved(&self) -> Option<&str> {
        self.unsaved.as_deref()
    }

    /// Whether it is over.
    pub fn is_over(&self) -> bool {
        self.step == Step::Over
    }
}

impl Machine for Settle {
    type Time = Duration;
    type Input = SettleInput;
    type Effect = SettleEffect;

    fn handle(&mut self, now: Duration, input: SettleInput) -> Vec<SettleEffect> {
        let mut out = Vec::new();
        match input {
            SettleInput::Answer(Answer::Said { said, words, keyed }) => {
                // The questions are full of words that would answer them. So a voice counts once they are read to
                // their end: ours must not settle anything, whatever the room does with it.
                let soon = !keyed && self.quiet_at.is_none_or(|quiet_at| now < quiet_at);
                if soon || self.step != Step::Asking {
                    out.push(SettleEffect::Show(SettleLine::NotNow { words }));
                } else {
                    self.said(said, words, &mut out);
                }
            }
            SettleInput::Answer(Answer::Unsure { words }) => self.unsure(now, words, &mut out),
            SettleInput::Quiet => {
                self.quiet_at = self.quiet_at.or(Some(now));
                if let Some(wait) = self.wait.as_mut().filter(|wait| wait.until.is_none()) {
                    wait.until = Some(now + ANSWER_FOR);
                }
            }
            SettleInput::Saved => self.saved(&mut out),
            SettleInput::Gone => self.gone(&mut out),
            SettleInput::SaveFailed { why } => {
                self.unsaved = Some(why.clone());
                self.end(SettleLine::Unsaved { why }, &mut out);
            }
        }
        out
    }

    /// Lets time pass up to `now`: no answer with an earlier onset can still come.
    fn pass(&mut self, now: Duration) -> Vec<SettleEffect> {
        let mut out = Vec::new();
        if self.wake_at().is_some_and(|until| until <= now) {
            self.silent += 1;
            if self.silent >= 2 || self.index == self.doubts.len() {
                self.over(&mut out);
            } else {
                self.ask(&mut out);
            }
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        self.wait.and_then(|wait| wait.until)
    }

    fn choices(&self) -> Choices<SettleInput> {
        self.taken_now()
    }

    fn choosing(&mut self, until: Duration) {
        if let Some(wait) = &mut self.wait {
            wait.until = Some(until + ANSWER_FOR);
        }
    }
}

impl Settle {
    /// Asks about the doubt at `index`, or, after the last, whether all is right.
    fn ask(&mut self, out: &mut Vec<SettleEffect>) {
        self.step = Step::Asking;
        let line = match self.doubts.get(self.index) {
            Some(doubt) => {
                let (number, of) = (self.index + 1, self.doubts.len());
                let (yes, no) = (self.spoken.yes.clone(), self.spoken.no.clone());
                SettleLine::Doubt { number, of, doubt: doubt.clone(), yes, no }
            }
            None => SettleLine::Last { take_back: self.spoken.take_back.clone() },
        };
        out.push(SettleEffect::Say(line));
        self.quiet_at = None;
        self.wait = Some(Wait { until: None, unsure: 0 });
    }

    fn over(&mut self, out: &mut Vec<SettleEffect>) {
        let tally = self.tally();
        self.end(SettleLine::Over { tally }, out);
    }

    fn end(&mut self, line: SettleLine, out: &mut Vec<SettleEffect>) {
        self.step = Step::Over;
        self.wait = None;
        out.push(SettleEffect::Say(line));
        out.push(SettleEffect::End);
    }
}

#[cfg(test)]
mod tests;
