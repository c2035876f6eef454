//! The trainer's ear: nudges and speech through one player, and what was said when.

use std::collections::VecDeque;
use std::sync::mpsc::Receiver;
use std::time::Duration;

use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::nudge::family::Family;
use crate::nudge::player::{Played, Player, PlayerThread, Sound};
use crate::session::NudgeKind;
use crate::speak::{Voice, VoiceSettings};

/// After a text was spoken, the room may still hold it for so long.
const ECHO: Duration = Duration::from_millis(700);

/// Plays nudges and says texts. Never waits.
pub struct Sounds {
    player: Player,
    played: Receiver<Played>,
    thread: Option<PlayerThread>,
    voice: Option<Voice>,
    family: Family,
    clock: Clock,
    /// Texts said lately, with the time until which they may be heard.
    said: VecDeque<(String, Duration)>,
    sounding_until: Duration,
}

impl Sounds {
    /// Sounds on the output that is meant. Without espeak-ng nothing is said, only nudged; `trouble`
    /// is told.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(
        choice: DeviceChoice,
        clock: Clock,
        mut trouble: impl FnMut(String),
    ) -> std::io::Result<Self> {
        let (player, played, thread) = Player::start(choice, clock.clone())?;
        let voice = Voice::start(VoiceSettings::default(), player.clone(), clock.clone())
            .inspect_err(|error| trouble(error.to_string()))
            .ok();
        Ok(Sounds {
            player,
            played,
            thread: Some(thread),
            voice,
            family: Family::built_in(),
            clock,
            said: VecDeque::new(),
            sounding_until: Duration::ZERO,
        })
    }

    /// Plays a nudge.
    pub fn nudge(&self, kind: NudgeKind) {
        // A full queue or a vanished output only costs this sound; the nudge is in the log.
        let _not_played = self.player.play(Sound::nudge(self.family.get(kind), 0.0));
    }

    /// Says a text.
    pub fn say(&mut self, text: &str) {
        if let Some(voice) = &self.voice {
            let _over = voice.say(text);
            self.said.push_back((text.to_lowercase(), self.clock.now()));
        }
    }

    /// Falls silent at once.
    pub fn hush(&self) {
        if let Some(voice) = &self.voice {
            voice.stop();
        }
    }

    /// Whether something is being said, or may still be heard in the room.
    pub fn speaking(&mut self) -> bool {
        while let Ok(played) = self.played.try_recv() {
            if let Played::Ended { at, .. } = played {
                self.sounding_until = self.sounding_until.max(at);
            }
        }
        let now = self.clock.now();
        let preparing = self.voice.as_ref().is_some_and(Voice::is_preparing);
        preparing || now < self.sounding_until + ECHO
    }

    /// Whether these words may be our own voice, heard by the microphone: all of them stand in what is
    /// being said.
    pub fn may_be_own(&mut self, words: &str) -> bool {
        if !self.speaking() {
            self.said.clear();
            return false;
        }
        let contains = |text: &str| {
            let in_text: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).collect();
            words.split_whitespace().all(|word| in_text.contains(&word))
        };
        self.said.iter().any(|(text, _)| contains(text))
    }

    /// Lets what was asked for be heard to its end, at most `longest`.
    pub fn finish(mut self, longest: Duration) {
        let until = self.clock.now() + longest;
        while self.voice.as_ref().is_some_and(Voice::is_preparing) && self.clock.now() < until {
            std::thread::sleep(Duration::from_millis(20));
        }
        self.voice = None;
        self.player.finish();
        if let Some(thread) = self.thread.take() {
            thread.wait(&self.clock, until.saturating_sub(self.clock.now()));
        }
    }
}
