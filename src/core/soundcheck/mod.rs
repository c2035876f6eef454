//! The sound check: microphone, levels, output, words and voice, one after the other, by voice or by a key. Pure:
//! time, levels and what was heard in, effects out; opens nothing, plays nothing, saves nothing.
//!
//! What runs out of time changes nothing and goes on to the next step; what is saved is read out first, and
//! confirmed by the word for yes. A question waits from the moment at which our own voice is silent.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::Machine;
//! use hushtally_core::soundcheck::{Check, SoundcheckEffect, SoundcheckInput, Setup};
//! let setup = Setup { mics: vec!["headset".into()], ..Setup::default() };
//! let (mut check, effects) = Check::begin(setup);
//! assert!(effects.contains(&SoundcheckEffect::OpenMic(0)));
//! let effects = check.handle(Duration::ZERO, SoundcheckInput::MicFailed { why: "busy".into() });
//! assert!(effects.contains(&SoundcheckEffect::End));
//! assert!(!check.report().saved);
//! ```

mod answers;
mod choices;
mod level;
mod line;
mod prompt;
mod report;
mod word_check;

use std::collections::BTreeMap;
use std::time::Duration;

pub use line::{Advice, Missed, NotSure, SoundcheckEffect, SoundcheckLine};
pub use prompt::{Prompt, prompts};
pub use report::{EarKind, Report, WordOutcome, WordResult};

use crate::loudness::NoiseFloor;
use crate::machine::{Answer, Choices, Machine};
use crate::plan::Role;

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
    /// Words that may take the place of one that is not heard, by its role, the best first.
    pub instead: BTreeMap<Role, Vec<String>>,
    /// Voices that read, as the settings name them; the first one reads now.
    pub voices: Vec<String>,
}

/// What happens to the check.
#[derive(Debug, Clone, PartialEq)]
pub enum SoundcheckInput {
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
    /// The word asked for, how often it was asked for before, and how many in a row before it came in silence.
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
    last_line: Option<SoundcheckLine>,
    report: Report,
}

impl Check {
    /// Begins with the first microphone.
    pub fn begin(setup: Setup) -> (Self, Vec<SoundcheckEffect>) {
        let there = SoundcheckLine::There { mics: setup.mics.clone(), ears: setup.ears.clone() };
        let mut out = vec![SoundcheckEffect::Show(there)];
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
            check.end(SoundcheckLine::NoMic, &mut out);
        } else {
            out.push(SoundcheckEffect::OpenMic(0));
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
    type Input = SoundcheckInput;
    type Effect = SoundcheckEffect;

    fn handle(&mut self, now: Duration, input: SoundcheckInput) -> Vec<SoundcheckEffect> {
        let mut out = Vec::new();
        // It said that it ends, so nothing is begun any more, whatever a device still tells.
        if self.is_over() {
            return out;
        }
        match input {
            SoundcheckInput::MicOpen => self.mic_open(now, &mut out),
            SoundcheckInput::MicFailed { why } => {
                let name = self.setup.mics[self.mic].clone();
                out.push(SoundcheckEffect::Say(SoundcheckLine::MicFailed { name, why }));
                self.next_mic(now, &mut out);
            }
            SoundcheckInput::Quiet => {
                if let Some(wait) = self.wait.as_mut().filter(|wait| wait.until.is_none()) {
                    wait.until = Some(now + wait.length);
                }
            }
            SoundcheckInput::Level { rms_dbfs, clipped } => {
                self.level(now, rms_dbfs, clipped, &mut out)
            }
            // Said before the question: it belongs to the one before.
            SoundcheckInput::Answer(_) if now < self.asked_at => {}
            SoundcheckInput::Answer(Answer::Said { said, words, keyed }) => {
                self.said(now, said, words, keyed, &mut out)
            }
            SoundcheckInput::Answer(Answer::Unsure { words }) => self.unsure(now, words, &mut out),
            SoundcheckInput::EarFailed { why } => self.ear_failed(now, why, &mut out),
            SoundcheckInput::Saved => {
                self.report.saved = true;
                self.end(SoundcheckLine::Kept, &mut out);
            }
            SoundcheckInput::SaveFailed { why } => {
                self.end(SoundcheckLine::Unsaved { why }, &mut out)
            }
        }
        out
    }

    /// Lets time pass up to `now`: no answer with an earlier onset can still come.
    fn pass(&mut self, now: Duration) -> Vec<SoundcheckEffect> {
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

    fn choices(&self) -> Choices<SoundcheckInput> {
        self.taken_now()
    }

    fn choosing(&mut self, until: Duration) {
        // What is measured takes its time; only what is asked waits.
        if let (false, Some(wait)) = (matches!(self.step, Step::Noise(_)), &mut self.wait) {
            wait.until = Some(until + wait.length);
        }
    }
}

impl Check {
    fn ran_out(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        match &self.step {
            Step::Noise(floor) => {
                self.report.noise_dbfs = floor.dbfs();
                match floor.dbfs() {
                    Some(dbfs) => {
                        out.push(SoundcheckEffect::Show(SoundcheckLine::Noise { dbfs }));
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
                out.push(SoundcheckEffect::Show(SoundcheckLine::KindOpen));
                self.begin_words(now, out);
            }
            Step::Words { .. } => self.word_missed(now, None, out),
            Step::Voice(_) => self.ask_keep(now, out),
            Step::Keep => self.end(SoundcheckLine::NotKept, out),
            Step::Opening | Step::Saving | Step::Over => {}
        }
    }

    /// Asks something, and waits for this long once it is said.
    fn ask(
        &mut self,
        now: Duration,
        line: SoundcheckLine,
        length: Duration,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        self.last_line = Some(line.clone());
        out.push(SoundcheckEffect::Say(line));
        self.asked_at = now;
        self.spoke = false;
        self.wait = Some(Wait { length, until: None });
    }

    fn end(&mut self, line: SoundcheckLine, out: &mut Vec<SoundcheckEffect>) {
        self.step = Step::Over;
        self.wait = None;
        out.push(SoundcheckEffect::Say(line));
        out.push(SoundcheckEffect::End);
    }
}

#[cfg(test)]
mod tests;
