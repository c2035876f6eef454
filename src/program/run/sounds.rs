//! The trainer's ear: nudges and speech through one player, and what was said when.

use std::sync::mpsc::Receiver;
use std::time::Duration;

use super::own_voice::OwnVoice;
use super::signals::Stopped;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::{Numerals, VoiceChange};
use crate::loudness::louder_db;
use crate::nudge::signals::{Signal, Signals};
use crate::playback::player::{Lane, Played, Player, PlayerThread, Sound, SoundId};
use crate::session::NudgeKind;
use crate::speak::{Voice, VoiceSettings, sentences};

/// After a text was spoken, the room may still hold it for this long.
const ECHO: Duration = Duration::from_millis(700);
/// After a sentence in an earphone, the trainer takes about this long to begin.
const SETTLE: Duration = Duration::from_millis(150);

/// How often it is looked whether all was heard.
const LOOK: Duration = Duration::from_millis(20);
/// What is stopped may fade this long.
const FADE: Duration = Duration::from_millis(200);

/// How sounds were tuned at the sound check.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tuning {
    /// The voice.
    pub voice: VoiceSettings,
    /// Nudges are this much louder than they are defined.
    pub nudge_db: f32,
    /// The room's noise at that time, in dBFS of the microphone.
    pub noise_dbfs: Option<f32>,
    /// The output is known to be a loudspeaker.
    pub is_loudspeaker: bool,
    /// Nudges may be played where the animal hears them too.
    pub loudspeaker: bool,
}

impl Tuning {
    /// The same, with voice and nudges as asked for.
    #[must_use]
    pub fn changed(&self, change: VoiceChange) -> Self {
        let mut tuning = self.clone();
        tuning.voice = changed(&tuning.voice, change);
        tuning.nudge_db += nudge_step(change);
        tuning
    }
}

fn changed(voice: &VoiceSettings, change: VoiceChange) -> VoiceSettings {
    let mut voice = voice.clone();
    match change {
        VoiceChange::Slower => voice.words_a_minute = voice.words_a_minute * 5 / 6,
        VoiceChange::Faster => voice.words_a_minute = voice.words_a_minute * 6 / 5,
        VoiceChange::Louder | VoiceChange::Quieter => voice.level_dbfs += nudge_step(change),
    }
    voice.bounded()
}

/// Louder or quieter by this much at a time: twice the least that is surely noticed (about 1 dB for tones;
/// Moore, Introduction to the Psychology of Hearing, from memory) and more, since the room moves too.
const STEP_DB: f32 = 4.0;

fn nudge_step(change: VoiceChange) -> f32 {
    match change {
        VoiceChange::Louder => STEP_DB,
        VoiceChange::Quieter => -STEP_DB,
        VoiceChange::Slower | VoiceChange::Faster => 0.0,
    }
}

/// Plays nudges and says texts. Never waits.
pub struct Sounds {
    player: Player,
    played: Receiver<Played>,
    thread: Option<PlayerThread>,
    voice: Option<Voice>,
    signals: Signals,
    clock: Clock,
    tuning: Tuning,
    /// Nudges are louder by this much, as asked for since the start.
    louder_db: f32,
    noise_dbfs: Option<f32>,
    own: OwnVoice,
    numerals: Numerals,
    /// Nudges that are not played to their end yet.
    nudges: Vec<SoundId>,
    /// The sentence that sounds.
    sounding: Option<SoundId>,
    sounding_until: Duration,
}

impl Sounds {
    /// Sounds on the chosen output. Without a voice nothing is said, only nudged; `trouble`
    /// is told.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(
        choice: DeviceChoice,
        tuning: Tuning,
        clock: Clock,
        mut trouble: impl FnMut(String),
    ) -> std::io::Result<Self> {
        let (player, played, thread) = Player::start(choice, clock.clone())?;
        let voice = Voice::start(tuning.voice.clone(), player.clone(), clock.clone())
            .inspect_err(|error| trouble(error.to_string()))
            .ok();
        Ok(Sounds {
            player,
            played,
            thread: Some(thread),
            voice,
            signals: Signals::built_in(),
            clock,
            louder_db: tuning.nudge_db,
            tuning,
            noise_dbfs: None,
            own: OwnVoice::default(),
            numerals: Numerals::english(),
            nudges: Vec::new(),
            sounding: None,
            sounding_until: Duration::ZERO,
        })
    }

    /// Plays a nudge.
    pub fn nudge(&mut self, kind: NudgeKind) {
        self.signal(Signal::of(kind));
    }

    /// Plays a sound.
    pub fn signal(&mut self, signal: Signal) {
        if self.nudges_are_silent() {
            return;
        }
        // A full queue or a vanished output only costs this sound; the nudge is in the log.
        let louder = self.louder_db + louder_db(self.noise_dbfs, self.tuning.noise_dbfs);
        self.nudges.extend(self.player.play(Sound::nudge(self.signals.get(signal), louder)).ok());
    }

    /// Whether nudges are kept silent, since the animal would hear them: the output is known to be a
    /// loudspeaker, or the microphone hears what is played. The log and the screen have them all the same.
    pub fn nudges_are_silent(&self) -> bool {
        let heard = self.tuning.is_loudspeaker || self.own.in_room() == Some(true);
        heard && !self.tuning.loudspeaker
    }

    /// Lets nudges be played where the animal hears them too, or not; gives back how it was.
    pub fn let_animal_hear(&mut self, hear: bool) -> bool {
        std::mem::replace(&mut self.tuning.loudspeaker, hear)
    }

    /// Speaks and nudges otherwise from now on.
    pub fn change(&mut self, change: VoiceChange) {
        let Some(voice) = &mut self.voice else {
            self.louder_db += nudge_step(change);
            return;
        };
        let settings = changed(voice.settings(), change);
        voice.set(settings);
        self.louder_db += nudge_step(change);
    }

    /// Speaks with this voice from now on, as the settings name it.
    pub fn use_voice(&mut self, name: Option<String>) {
        if let Some(voice) = &mut self.voice {
            let settings = VoiceSettings { voice: name, ..voice.settings().clone() };
            voice.set(settings);
        }
    }

    /// Says a text.
    pub fn say(&mut self, text: &str) {
        if let Some(voice) = &self.voice {
            for sentence in sentences(text) {
                // Heard back, a number is its words.
                self.own.will_say(&self.numerals.read_aloud(&sentence));
            }
            let _over = voice.say(text);
        }
    }

    /// Falls silent at once.
    pub fn hush(&mut self) {
        if let Some(voice) = &self.voice {
            voice.stop();
            self.look();
            self.own.hushed();
        }
    }

    /// Looks what was played since.
    fn look(&mut self) {
        while let Ok(played) = self.played.try_recv() {
            match played {
                Played::Started { id, at } if !self.nudges.contains(&id) => {
                    self.own.begins(at);
                    self.sounding = Some(id);
                }
                Played::Ended { id, at, .. } => {
                    self.nudges.retain(|nudge| *nudge != id);
                    if self.sounding == Some(id) {
                        self.sounding = None;
                        self.own.ends(at);
                        self.sounding_until = self.sounding_until.max(at);
                    }
                }
                Played::Dropped { id, .. } => self.nudges.retain(|nudge| *nudge != id),
                _ => {}
            }
        }
    }

    /// Whether something is being said, or may still be heard in the room.
    pub fn speaking(&mut self) -> bool {
        self.look();
        let preparing = self.voice.as_ref().is_some_and(Voice::is_preparing);
        let still = if self.own.in_room() == Some(false) { SETTLE } else { ECHO };
        preparing || self.sounding.is_some() || self.clock.now() < self.sounding_until + still
    }

    /// Tells how loud the microphone was at a moment of the steady clock and how loud the room, in dBFS: nudges follow
    /// the room's noise, and it shows whether the microphone hears our voice.
    pub fn set_level(&mut self, at: Duration, level_dbfs: f32, noise_dbfs: Option<f32>) {
        self.look();
        self.noise_dbfs = noise_dbfs;
        self.own.level(at, level_dbfs, noise_dbfs);
    }

    /// Whether these words, heard between these moments of the steady clock, may be our own voice.
    pub fn may_be_own(&mut self, words: &str, from: Duration, to: Duration) -> bool {
        self.look();
        self.own.may_be(words, from, to)
    }

    /// Lets what was asked for be heard to its end, at most `longest`, or until the program is told to stop.
    pub fn finish(mut self, longest: Duration) {
        let until = self.clock.now() + longest;
        let stopped = (!longest.is_zero()).then(|| Stopped::watch(longest));
        let told = || stopped.as_ref().is_some_and(Stopped::came);
        let over = |clock: &Clock| told() || clock.now() >= until;
        while self.voice.as_ref().is_some_and(Voice::is_preparing) && !over(&self.clock) {
            std::thread::sleep(LOOK);
        }
        if told() {
            self.hush();
        }
        self.voice = None;
        self.player.finish();
        let Some(thread) = self.thread.take() else { return };
        while !thread.is_over() && !over(&self.clock) {
            std::thread::sleep(LOOK);
        }
        if told() {
            self.player.stop(Lane::Speech);
            self.player.stop(Lane::Nudge);
            thread.wait(&self.clock, FADE);
        }
    }
}
