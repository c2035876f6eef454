//! Carries out a sound check: opens and closes devices, listens, speaks, and hands on what comes of it.

use std::time::Duration;

use super::answers::answers;
use super::driver::{Driver, LOOK, block_on};
use super::ears_thread::Level;
use super::stage::{Came, Hands, Onset, Settled, Stage, Told};
use super::trial::{Trial, TrialSound};
use super::{Answering, Desk, LiveEnd, Tuning};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::VoiceChange;
use crate::hear::Ears;
use crate::plan::Words;
use crate::soundcheck::{Check, Report, SoundcheckEffect, SoundcheckInput};
use crate::wording::text;

/// Gives ears, again for each microphone.
type MoreEars = Box<dyn FnMut() -> anyhow::Result<Ears>>;
/// Puts what was found into the settings.
type SaveFound = Box<dyn FnMut(&Report, &Tuning) -> anyhow::Result<()>>;

/// What a sound check is made of. Microphones and outputs are in the order of the check's setup.
pub struct CheckUp {
    /// The check, and what it asks for first.
    pub check: Check,
    /// See `check`.
    pub effects: Vec<SoundcheckEffect>,
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
    pub ears: MoreEars,
    /// Puts what was found into the settings.
    pub save: SaveFound,
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
    check_up: CheckUp,
    answering: Answering,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<CheckedUp> {
    block_on(async {
        let mut driver = Driver::new(desk, clock, answering.typed, answering.switch)?;
        let (checked, end) = check_on(&mut driver, check_up).await?;
        driver.goodbye(end);
        Ok(checked)
    })
}

/// The same, on a stage that there is, whose ear is the one chosen afterwards.
pub(super) async fn check_on(
    driver: &mut Driver<'_>,
    check_up: CheckUp,
) -> anyhow::Result<(CheckedUp, LiveEnd)> {
    let CheckUp { mut check, effects, mics, outputs, voices, tuning, words, ears, save } = check_up;
    let began = driver.stage.clock.now();
    let mut checker = Checker {
        mics,
        outputs,
        voices,
        tuning,
        words,
        ears,
        save,
        trial: None,
        over: false,
        unsaved: None,
    };
    // Some devices open only once.
    driver.stage.desk.sounds = None;
    checker.talk_through(0, &mut driver.stage);
    let end = driver.until_over(&mut check, &mut checker, effects).await?;
    let checked = CheckedUp {
        report: check.report().clone(),
        tuning: checker.tuning,
        ended: end == LiveEnd::Finished,
        unsaved: checker.unsaved,
        took: driver.stage.clock.now().saturating_sub(began),
    };
    Ok((checked, end))
}

/// The hands of the sound check.
struct Checker {
    mics: Vec<DeviceChoice>,
    outputs: Vec<DeviceChoice>,
    voices: Vec<String>,
    tuning: Tuning,
    words: Words,
    ears: MoreEars,
    save: SaveFound,
    /// The sound on its way.
    trial: Option<TrialSound>,
    over: bool,
    unsaved: Option<String>,
}

type Tells = anyhow::Result<Vec<Told<SoundcheckInput>>>;

impl Hands<Check> for Checker {
    fn bring(&mut self, came: Came, _: &Check, stage: &mut Stage<'_>) -> Tells {
        let now = stage.clock.now();
        Ok(match came {
            Came::Quiet => vec![Told::new(now, SoundcheckInput::Quiet)],
            Came::Levels { levels, .. } => {
                let told = |level: Level| {
                    let Level { at, dbfs: rms_dbfs, clipped } = level;
                    Told::new(at, SoundcheckInput::Level { rms_dbfs, clipped })
                };
                levels.into_iter().map(told).collect()
            }
            Came::Deaf => {
                vec![Told::new(
                    now,
                    SoundcheckInput::MicFailed { why: text("screen.microphone_stopped") },
                )]
            }
            Came::Lost { why, .. } => {
                stage.tell_lost(why);
                Vec::new()
            }
            came => {
                let answers = answers(came, &self.words, stage.desk, now).into_iter();
                answers.map(|(at, answer)| Told::new(at, SoundcheckInput::Answer(answer))).collect()
            }
        })
    }

    fn carry_out(
        &mut self,
        effect: SoundcheckEffect,
        _: Option<Onset>,
        check: &Check,
        stage: &mut Stage<'_>,
    ) -> Tells {
        let became = match effect {
            SoundcheckEffect::Say(line) => {
                let text = stage.desk.wording().check(&line);
                stage.ask(text);
                None
            }
            SoundcheckEffect::Show(line) => {
                let text = stage.desk.wording().check(&line);
                stage.desk.printer.remark(&text);
                None
            }
            SoundcheckEffect::OpenMic(index) => Some(self.open_mic(index, stage)?),
            SoundcheckEffect::Play(index) => self.play(index, stage),
            SoundcheckEffect::UseEar(index) => {
                self.talk_through(index, stage);
                None
            }
            SoundcheckEffect::Voice(change) => {
                self.change(change, stage);
                None
            }
            SoundcheckEffect::UseVoice(index) => {
                self.use_voice(index, stage);
                None
            }
            SoundcheckEffect::Save => Some(self.keep(check.report())),
            SoundcheckEffect::End => {
                self.over = true;
                None
            }
        };
        let now = stage.clock.now();
        Ok(became.into_iter().map(|input| Told::new(now, input)).collect())
    }

    fn pass(&mut self, _: Settled, _: &Check, stage: &mut Stage<'_>) -> Tells {
        let became = match self.trial.as_mut().map(TrialSound::look) {
            None | Some(Trial::Sounding) => return Ok(Vec::new()),
            Some(Trial::Played) => SoundcheckInput::Quiet,
            Some(Trial::Failed(why)) => SoundcheckInput::EarFailed { why },
        };
        self.trial = None;
        Ok(vec![Told::new(stage.clock.now(), became)])
    }

    fn wake_at(&self, now: Duration) -> Option<Duration> {
        self.trial.as_ref().map(|_| now + LOOK)
    }

    fn wants_levels(&self, _: &Stage<'_>) -> bool {
        true
    }

    fn is_over(&self, _: &Check) -> bool {
        self.over
    }
}

impl Checker {
    fn open_mic(&mut self, index: usize, stage: &mut Stage<'_>) -> anyhow::Result<SoundcheckInput> {
        // The one before must be closed first: some devices open only once.
        let ears = match stage.mic.take().and_then(|mic| mic.stop().0) {
            Some(ears) => ears,
            None => (self.ears)()?,
        };
        Ok(match stage.listen(self.mics[index].clone(), ears) {
            Ok(()) => SoundcheckInput::MicOpen,
            Err(error) => SoundcheckInput::MicFailed { why: error.to_string() },
        })
    }

    fn play(&mut self, index: usize, stage: &mut Stage<'_>) -> Option<SoundcheckInput> {
        // Only this output sounds now, and some devices open only once.
        stage.desk.sounds = None;
        stage.awaits_quiet = false;
        match TrialSound::start(self.outputs[index].clone(), &stage.clock) {
            Ok(trial) => {
                self.trial = Some(trial);
                None
            }
            Err(error) => Some(SoundcheckInput::EarFailed { why: error.to_string() }),
        }
    }

    fn talk_through(&mut self, index: usize, stage: &mut Stage<'_>) {
        self.trial = None;
        let choice = self.outputs.get(index).cloned().unwrap_or_default();
        stage.desk.talk_through(choice, self.tuning.clone());
    }

    fn keep(&mut self, report: &Report) -> SoundcheckInput {
        match (self.save)(report, &self.tuning) {
            Ok(()) => SoundcheckInput::Saved,
            Err(error) => {
                let why = format!("{error:#}");
                self.unsaved = Some(why.clone());
                SoundcheckInput::SaveFailed { why }
            }
        }
    }

    fn use_voice(&mut self, index: usize, stage: &mut Stage<'_>) {
        self.tuning.voice.voice = self.voices.get(index).cloned();
        if let Some(sounds) = &mut stage.desk.sounds {
            sounds.use_voice(self.tuning.voice.voice.clone());
        }
    }

    fn change(&mut self, change: VoiceChange, stage: &mut Stage<'_>) {
        self.tuning = self.tuning.changed(change);
        stage.change(change);
    }
}
