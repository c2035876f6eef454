//! The sound check: microphone, levels, output, words and voice, one after the other, by voice or by a key. Pure:
//! time, levels and what was heard in, effects out; opens nothing, plays nothing, saves nothing.
//!
//! What runs out of time changes nothing and goes on to the next step; what is saved is read out first, and
//! confirmed by the word for yes. A question waits from the moment at which our own voice is silent.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::Machine;
//! use hushtally_core::soundcheck::{Check, Effect, Input, Setup};
//! let setup = Setup { mics: vec!["headset".into()], ..Setup::default() };
//! let (mut check, effects) = Check::begin(setup);
//! assert!(effects.contains(&Effect::OpenMic(0)));
//! let effects = check.handle(Duration::ZERO, Input::MicFailed { why: "busy".into() });
//! assert!(effects.contains(&Effect::End));
//! assert!(!check.report().saved);
//! ```

mod answers;
mod level;
mod line;
mod prompt;
mod report;
mod words;

use std::time::Duration;

pub use line::{Advice, Effect, Line, Missed};
pub use prompt::{Prompt, prompts};
pub use report::{EarKind, Report, WordResult};

use crate::loudness::NoiseFloor;
use crate::machine::{Answer, Machine};

/// Time to answer by one word.
const ANSWER_FOR: Duration = Duration::from_secs(8);
/// Time to say yes to a sound: enough to be sure, short enough for several outputs.
const EAR_FOR: Duration = Duration::from_secs(4);
/// Time to say the word asked for.
const WORD_FOR: Duration = Duration::from_secs(4);
/// Time to think about the voice, or whether to keep what was found.
const THINK_FOR: Duration = Duration::from_secs(12);

/// What there is to check. Names are as a person and the settings know them; the first of a list is used first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setup {
    /// Microphones.
    pub mics: Vec<String>,
    /// Outputs.
    pub ears: Vec<String>,
    /// Words to be said.
    pub words: Vec<Prompt>,
    /// The attention word.
    pub attention: String,
    /// The word for yes.
    pub yes: String,
    /// The word for no.
    pub no: String,
    /// The phrases for slower, faster, louder, quieter.
    pub changes: Vec<String>,
    /// Words that may take the place of one that is not heard.
    pub instead: Vec<String>,
    /// Voices that read, as the settings name them; the first one reads now.
    pub voices: Vec<String>,
}

/// What happens to the check.
#[derive(Debug, Clone, PartialEq)]
pub enum Input {
    /// The microphone that was asked for is open.
    MicOpen,
    /// It does not open.
    MicFailed {
        /// Why.
        why: String,
    },
    /// A tag, a command or something that may be one, at its onset.
    Answer(Answer),
    /// The microphone's level over the last 0.3 s, some ten times a second.
    Level {
        /// RMS, in dBFS.
        rms_dbfs: f32,
        /// Whether samples are at the limit.
        clipped: bool,
    },
    /// Our own voice, or the sound asked for, is over: what was asked waits from now on.
    Quiet,
    /// The output that was asked for does not open.
    EarFailed {
        /// Why.
        why: String,
    },
    /// The settings were written.
    Saved,
    /// They could not be.
    SaveFailed {
        /// Why.
        why: String,
    },
}

/// Where the check is.
#[derive(Debug, Clone)]
enum Step {
    /// A microphone is being opened.
    Opening,
    /// Nobody speaks.
    Noise(NoiseFloor),
    /// One word, for its level.
    Level { tries: u8, heard: Option<Loudest> },
    /// The sounds are announced, or sound.
    Ear { next: usize, announced: bool },
    /// What the output is.
    Kind,
    /// This word, for the how-manieth time, after so many in a row in silence.
    Words { index: usize, tries: u8, silent: u8 },
    /// This voice.
    Voice(usize),
    /// Whether to keep all this.
    Keep,
    /// The settings are being written.
    Saving,
    /// The end.
    Over,
}

/// The loudest moment of a word.
#[derive(Debug, Clone, Copy)]
struct Loudest {
    dbfs: f32,
    clipped: bool,
    decide_at: Duration,
}

/// A question that runs out.
#[derive(Debug, Clone, Copy)]
struct Wait {
    length: Duration,
    /// Set once our own voice is silent.
    until: Option<Duration>,
}

/// A sound check under way.
#[derive(Debug, Clone)]
pub struct Check {
    setup: Setup,
    step: Step,
    mic: usize,
    ear: Option<usize>,
    wait: Option<Wait>,
    /// When the question was asked: what was said before does not answer it.
    asked_at: Duration,
    /// Whether somebody spoke since.
    spoke: bool,
    last_line: Option<Line>,
    report: Report,
}

impl Check {
    /// Begins with the first microphone.
    pub fn begin(setup: Setup) -> (Self, Vec<Effect>) {
        let there = Line::There { mics: setup.mics.clone(), ears: setup.ears.clone() };
        let mut out = vec![Effect::Show(there)];
        let mut check = Check {
            setup,
            step: Step::Opening,
            mic: 0,
            ear: None,
            wait: None,
            asked_at: Duration::ZERO,
            spoke: false,
            last_line: None,
            report: Report::default(),
        };
        if check.setup.mics.is_empty() {
            check.end(Line::NoMic, &mut out);
        } else {
            out.push(Effect::OpenMic(0));
        }
        (check, out)
    }

    /// What was found so far.
    pub fn report(&self) -> &Report {
        &self.report
    }

    /// Whether it is over.
    pub fn is_over(&self) -> bool {
        matches!(self.step, Step::Over)
    }
}

impl Machine for Check {
    type Time = Duration;
    type Input = Input;
    type Effect = Effect;

    fn handle(&mut self, now: Duration, input: Input) -> Vec<Effect> {
        let mut out = Vec::new();
        match input {
            Input::MicOpen => self.mic_open(now, &mut out),
            Input::MicFailed { why } => {
                let name = self.setup.mics[self.mic].clone();
                out.push(Effect::Say(Line::MicFailed { name, why }));
                self.next_mic(now, &mut out);
            }
            Input::Quiet => {
                if let Some(wait) = self.wait.as_mut().filter(|wait| wait.until.is_none()) {
                    wait.until = Some(now + wait.length);
                }
            }
            Input::Level { rms_dbfs, clipped } => self.level(now, rms_dbfs, clipped, &mut out),
            // Said before the question: it belongs to the one before.
            Input::Answer(_) if now < self.asked_at => {}
            Input::Answer(Answer::Said { said, words, keyed }) => {
                self.said(now, said, words, keyed, &mut out)
            }
            Input::Answer(Answer::Unsure { words }) => self.unsure(now, words, &mut out),
            Input::EarFailed { why } => self.ear_failed(now, why, &mut out),
            Input::Saved => {
                self.report.saved = true;
                self.end(Line::Kept, &mut out);
            }
            Input::SaveFailed { why } => self.end(Line::Unsaved { why }, &mut out),
        }
        out
    }

    /// Lets time pass up to `now`: no answer with an earlier onset can still come.
    fn pass(&mut self, now: Duration) -> Vec<Effect> {
        let mut out = Vec::new();
        if self.wake_at().is_some_and(|until| until <= now) {
            self.wait = None;
            self.ran_out(now, &mut out);
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        self.wait.and_then(|wait| wait.until)
    }
}

impl Check {
    fn ran_out(&mut self, now: Duration, out: &mut Vec<Effect>) {
        match &self.step {
            Step::Noise(floor) => {
                self.report.noise_dbfs = floor.dbfs();
                match floor.dbfs() {
                    Some(dbfs) => {
                        out.push(Effect::Show(Line::Noise { dbfs }));
                        self.ask_level(now, 0, out);
                    }
                    // No sound at all has come in.
                    None => self.next_mic(now, out),
                }
            }
            // The level decides when it has enough; that is soon.
            Step::Level { heard: Some(heard), .. } => {
                let heard = *heard;
                self.level_taken(now, heard, out);
            }
            Step::Level { .. } => self.next_mic(now, out),
            Step::Ear { next, .. } => {
                let next = *next;
                self.play(now, next, out);
            }
            Step::Kind => {
                out.push(Effect::Show(Line::KindOpen));
                self.begin_words(now, out);
            }
            Step::Words { .. } => self.word_missed(now, None, out),
            Step::Voice(_) => self.ask_keep(now, out),
            Step::Keep => self.end(Line::NotKept, out),
            Step::Opening | Step::Saving | Step::Over => {}
        }
    }

    /// Asks something, and waits for so long once it is said.
    fn ask(&mut self, now: Duration, line: Line, length: Duration, out: &mut Vec<Effect>) {
        self.last_line = Some(line.clone());
        out.push(Effect::Say(line));
        self.asked_at = now;
        self.spoke = false;
        self.wait = Some(Wait { length, until: None });
    }

    fn end(&mut self, line: Line, out: &mut Vec<Effect>) {
        self.step = Step::Over;
        self.wait = None;
        out.push(Effect::Say(line));
        out.push(Effect::End);
    }
}

#[cfg(test)]
mod tests;
