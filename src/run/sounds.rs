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
            let in_text = as_spoken(text);
            words.split_whitespace().all(|word| in_text.iter().any(|said| said == word))
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

/// The words of a text as a voice says them, numbers spelled out: the recap's "2 reps, 1 miss" comes back
/// from the room as "two" and "one".
fn as_spoken(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric() && c != '\'')
        .filter(|word| !word.is_empty())
        .flat_map(|word| match word.parse::<usize>() {
            Ok(number) => spelled(number),
            Err(_) => vec![word.to_lowercase()],
        })
        .collect()
}

fn spelled(number: usize) -> Vec<String> {
    const SMALL: [&str; 20] = [
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
    ];
    const TENS: [&str; 10] =
        ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
    match number {
        0..20 => vec![SMALL[number].to_owned()],
        20..100 if number % 10 == 0 => vec![TENS[number / 10].to_owned()],
        20..100 => vec![TENS[number / 10].to_owned(), SMALL[number % 10].to_owned()],
        100..1_000 => {
            let rest = if number % 100 == 0 { Vec::new() } else { spelled(number % 100) };
            [vec![SMALL[number / 100].to_owned(), "hundred".to_owned()], rest].concat()
        }
        // Longer ones do not come up, and no tag is made of them.
        _ => vec![number.to_string()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back_from_the_room_as_words() {
        let spoken = as_spoken("Pepino: 1 miss, 23 reps, 7.6 a minute. End soon!");
        assert_eq!(
            spoken.join(" "),
            "pepino one miss twenty three reps seven six a minute end soon"
        );
        assert_eq!(spelled(340).join(" "), "three hundred forty");
    }
}
