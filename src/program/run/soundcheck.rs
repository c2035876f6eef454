//! Carries out a sound check: opens and closes devices, listens, speaks, and hands on what comes of it.

use std::time::Duration;

use anyhow::Context;

use super::answers::{self, Answer, What};
use super::ears_thread::{FromEars, Passed};
use super::mic::Mic;
use super::signals::Signals;
use super::trial::{Trial, TrialSound};
use super::{Desk, Sounds, Tuning, Typing};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::VoiceChange;
use crate::hear::{Ears, Heard};
use crate::interpret::pedal::Switches;
use crate::interpret::switch::Timing;
use crate::nudge::loudness::NoiseFloor;
use crate::plan::Words;
use crate::soundcheck::{Check, Effect, Input, Report};

/// What a sound check is made of. Microphones and outputs are in the order of the check's setup.
pub struct CheckUp<'a> {
    /// The check, and what it asks for first.
    pub check: Check,
    /// See `check`.
    pub effects: Vec<Effect>,
    /// Microphones.
    pub mics: Vec<DeviceChoice>,
    /// Outputs.
    pub outputs: Vec<DeviceChoice>,
    /// Voices.
    pub voices: Vec<String>,
    /// How the voice sounds to begin with.
    pub tuning: Tuning,
    /// Words that are listened for.
    pub words: Words,
    /// Ears for these words, again for each microphone.
    pub ears: &'a mut dyn FnMut() -> anyhow::Result<Ears>,
    /// Puts what was found into the settings.
    pub save: &'a mut dyn FnMut(&Report, &Tuning) -> anyhow::Result<()>,
    /// What is typed in place of words.
    pub typed: Typing,
    /// What tells presses of a switch apart.
    pub timing: Timing,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedUp {
    /// What was found.
    pub report: Report,
    /// How the voice sounds now.
    pub tuning: Tuning,
    /// Whether it went on to its end, and was not told to stop.
    pub ended: bool,
    /// Why the settings could not be written.
    pub unsaved: Option<String>,
    /// How long it took.
    pub took: Duration,
}

/// Checks until the end, or until the program is told to stop.
///
/// # Errors
/// No speech model, or a word that it does not know; devices that fail are passed over and told.
pub fn soundcheck(
    check_up: CheckUp<'_>,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<CheckedUp> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the system gives no event loop")?;
    let began = clock.now();
    let mut running = Running {
        tuning: check_up.tuning.clone(),
        desk,
        clock: clock.clone(),
        mic: None,
        trial: None,
        noise: NoiseFloor::default(),
        awaits_quiet: false,
        over: false,
        unsaved: None,
        began,
        switches: Switches::new(check_up.timing),
        up: check_up,
    };
    let ended = runtime.block_on(running.run())?;
    Ok(running.finish(ended))
}

struct Running<'a, 'd> {
    up: CheckUp<'a>,
    desk: &'d mut Desk,
    clock: Clock,
    tuning: Tuning,
    mic: Option<Mic>,
    trial: Option<TrialSound>,
    noise: NoiseFloor,
    /// Something is being said, after which the check waits for an answer.
    awaits_quiet: bool,
    over: bool,
    unsaved: Option<String>,
    began: Duration,
    switches: Switches,
}

impl Running<'_, '_> {
    async fn run(&mut self) -> anyhow::Result<bool> {
        let mut signals = Signals::new()?;
        self.talk_through(0);
        let effects = std::mem::take(&mut self.up.effects);
        self.carry_out(effects)?;
        while !self.over {
            tokio::select! { biased;
                () = signals.stop() => return Ok(false),
                Some(typed) = self.up.typed.next() => {
                    let (words, now) = (&self.up.words, self.clock.now());
                    let switches = &mut self.switches;
                    let answers = answers::typed(self.desk, typed, words, switches, now);
                    self.answers(answers)?;
                }
                message = Mic::next(&mut self.mic) => match message {
                    Some(message) => self.take(message)?,
                    None => self.mic_failed("it stopped".to_owned())?,
                },
            }
        }
        Ok(true)
    }

    fn finish(mut self, ended: bool) -> CheckedUp {
        if let Some(mic) = self.mic.take() {
            mic.stop();
        }
        self.desk.goodbye(ended);
        CheckedUp {
            report: self.up.check.report().clone(),
            tuning: self.tuning,
            ended,
            unsaved: self.unsaved,
            took: self.clock.now().saturating_sub(self.began),
        }
    }

    fn handle(&mut self, now: Duration, input: Input) -> anyhow::Result<()> {
        let effects = self.up.check.handle(now, input);
        self.carry_out(effects)
    }

    fn carry_out(&mut self, effects: Vec<Effect>) -> anyhow::Result<()> {
        for effect in effects {
            match effect {
                Effect::Say(line) => {
                    let text = self.desk.wording().check(&line);
                    self.desk.tell(self.now_at(), text);
                    self.awaits_quiet = true;
                }
                Effect::Show(line) => {
                    let text = self.desk.wording().check(&line);
                    self.desk.printer.remark(&text);
                }
                Effect::OpenMic(index) => self.open_mic(index)?,
                Effect::Play(index) => self.play(index)?,
                Effect::UseEar(index) => self.talk_through(index),
                Effect::Voice(change) => self.change(change),
                Effect::UseVoice(index) => self.use_voice(index),
                Effect::Save => {
                    let saved = (self.up.save)(self.up.check.report(), &self.tuning);
                    let input = match saved {
                        Ok(()) => Input::Saved,
                        Err(error) => Input::SaveFailed { why: format!("{error:#}") },
                    };
                    if let Input::SaveFailed { why } = &input {
                        self.unsaved = Some(why.clone());
                    }
                    self.handle(self.clock.now(), input)?;
                }
                Effect::End => self.over = true,
            }
        }
        Ok(())
    }

    fn now_at(&self) -> At {
        self.desk.session_time().unwrap_or(At::ZERO)
    }

    fn open_mic(&mut self, index: usize) -> anyhow::Result<()> {
        // The one before must be closed first: some devices open only once.
        let ears = match self.mic.take().and_then(Mic::stop) {
            Some(ears) => ears,
            None => (self.up.ears)()?,
        };
        let input = match Mic::open(self.up.mics[index].clone(), ears, &self.clock) {
            Ok(mic) => {
                self.mic = Some(mic);
                self.noise = NoiseFloor::default();
                Input::MicOpen
            }
            Err(error) => Input::MicFailed { why: error.to_string() },
        };
        self.handle(self.clock.now(), input)
    }

    fn mic_failed(&mut self, why: String) -> anyhow::Result<()> {
        self.mic = None;
        self.handle(self.clock.now(), Input::MicFailed { why })
    }

    fn play(&mut self, index: usize) -> anyhow::Result<()> {
        // Only this output sounds now, and some devices open only once.
        self.desk.sounds = None;
        self.awaits_quiet = false;
        match TrialSound::start(self.up.outputs[index].clone(), &self.clock) {
            Ok(trial) => {
                self.trial = Some(trial);
                Ok(())
            }
            Err(error) => {
                self.handle(self.clock.now(), Input::EarFailed { why: error.to_string() })
            }
        }
    }

    fn talk_through(&mut self, index: usize) {
        self.trial = None;
        let choice = self.up.outputs.get(index).cloned().unwrap_or_default();
        let mut troubles = Vec::new();
        let clock = self.clock.clone();
        let started =
            Sounds::start(choice, self.tuning.clone(), clock, |trouble| troubles.push(trouble));
        match started {
            Ok(sounds) => self.desk.sounds = Some(sounds),
            Err(error) => troubles.push(format!("nothing can be played: {error}")),
        }
        troubles.iter().for_each(|trouble| self.desk.printer.remark(trouble));
    }

    fn use_voice(&mut self, index: usize) {
        self.tuning.voice.voice = self.up.voices.get(index).cloned();
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.use_voice(self.tuning.voice.voice.clone());
        }
    }

    fn change(&mut self, change: VoiceChange) {
        self.tuning = self.tuning.changed(change);
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.change(change);
        }
    }

    fn answers(&mut self, answers: Vec<Answer>) -> anyhow::Result<()> {
        for Answer { at, what } in answers {
            let input = match what {
                What::Heard { said, words } => Input::Said { said, words, keyed: false },
                What::Keyed { said, words } => Input::Said { said, words, keyed: true },
                What::Unsure { words } => Input::Unsure { words },
            };
            self.handle(at, input)?;
        }
        Ok(())
    }

    fn take(&mut self, message: FromEars) -> anyhow::Result<()> {
        match message {
            FromEars::Heard(heard @ (Heard::Tags(_) | Heard::Doubt(_))) => {
                let answers = answers::heard(self.desk, heard);
                self.answers(answers)
            }
            FromEars::Passed(passed) => self.pass(passed),
            FromEars::Open { device } => {
                self.desk.printer.remark(&format!("listening on {device}"));
                Ok(())
            }
            FromEars::Lost { why, .. } => {
                self.desk
                    .printer
                    .remark(&format!("no sound ({why:?}); looking for the microphone"));
                Ok(())
            }
            FromEars::Heard(_) | FromEars::Gap(_) | FromEars::Dictated(_) => Ok(()),
        }
    }

    /// Ten times a second: levels, deadlines, and whether our own voice is silent.
    fn pass(&mut self, passed: Passed) -> anyhow::Result<()> {
        self.desk.set_time(passed.session, passed.now);
        self.noise.hear(passed.level_dbfs);
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.set_levels(passed.level_dbfs, self.noise.dbfs());
        }
        let effects = self.up.check.level(passed.now, passed.level_dbfs, passed.clipped);
        self.carry_out(effects)?;
        match self.trial.as_mut().map(TrialSound::look) {
            Some(Trial::Sounding) => {}
            Some(Trial::Played) => {
                self.trial = None;
                self.handle(passed.now, Input::Quiet)?;
            }
            Some(Trial::Failed(why)) => {
                self.trial = None;
                self.handle(passed.now, Input::EarFailed { why })?;
            }
            None if self.awaits_quiet => {
                let speaking = self.desk.sounds.as_mut().is_some_and(Sounds::speaking);
                if !speaking {
                    self.awaits_quiet = false;
                    self.handle(passed.now, Input::Quiet)?;
                }
            }
            None => {}
        }
        let pressed = self.switches.pass(passed.now);
        let answers = answers::pressed(self.desk, pressed);
        self.answers(answers)?;
        // A question only runs out when no answer given in time can still come.
        let settled = self.desk.clock_time(passed.settled);
        let settled = self.switches.pending_since().map_or(settled, |since| since.min(settled));
        let effects = self.up.check.pass(settled);
        self.carry_out(effects)
    }
}
