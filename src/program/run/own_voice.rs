//! What of our own voice sounds when, and whether the microphone hears it: so that a read-out is never taken
//! for a tag, and a tag said during a read-out into an earphone is never taken for the read-out. Pure.

use std::collections::VecDeque;
use std::time::Duration;

/// After a sentence, the room may still hold it for this long.
const ECHO: Duration = Duration::from_millis(700);
/// Times of the microphone and of the output are this well known to each other.
const SLACK: Duration = Duration::from_millis(300);
/// Levels just before a sentence, ten a second, that show noise which has only now begun.
const BEFORE: usize = 15;
/// Sentences further back can not be heard any more.
const KEPT: usize = 32;
/// Our voice stands this much over the noise where the microphone hears it.
const OVER_NOISE_DB: f32 = 6.0;
/// Levels of a sentence, ten a second, that are enough to judge by.
const ENOUGH: usize = 6;
/// The same to find that the microphone hears it: a single word that the trainer is asked to repeat, and repeats at
/// once, is shorter than this.
const ENOUGH_TO_HEAR: usize = 15;
/// This many sentences in a row that the microphone seems to hear are not there by chance: one alone may be the trainer
/// talking over it.
const IN_A_ROW: usize = 3;

#[derive(Debug, Clone)]
struct Sentence {
    text: String,
    from: Duration,
    /// `None` while it sounds.
    to: Option<Duration>,
    /// Levels while it sounded: over the noise, and all.
    over: usize,
    all: usize,
}

/// Sentences of our own voice.
#[derive(Debug, Clone, Default)]
pub(super) struct OwnVoice {
    waiting: VecDeque<String>,
    spoken: VecDeque<Sentence>,
    /// Whether the microphone hears it; `None` before that is known.
    in_room: Option<bool>,
    /// The latest levels while we were silent.
    silent: VecDeque<f32>,
    /// Sentences in a row during which the microphone heard something.
    heard_in_a_row: usize,
}

impl OwnVoice {
    /// Will be said, in words throughout: what is heard has no digits.
    pub(super) fn will_say(&mut self, sentence: &str) {
        self.waiting.push_back(sentence.to_lowercase());
    }

    /// The next one begins.
    pub(super) fn begins(&mut self, at: Duration) {
        let Some(text) = self.waiting.pop_front() else { return };
        if self.spoken.len() == KEPT {
            self.spoken.pop_front();
        }
        self.spoken.push_back(Sentence { text, from: at, to: None, over: 0, all: 0 });
    }

    /// The one that sounds ends. One that was cut off early tells nothing about the room.
    pub(super) fn ends(&mut self, at: Duration) {
        let Some(last) = self.spoken.iter_mut().rev().find(|sentence| sentence.to.is_none()) else {
            return;
        };
        last.to = Some(at);
        if last.all >= ENOUGH {
            let heard = last.over * 10 >= last.all * 6;
            if !heard {
                self.heard_in_a_row = 0;
            } else if last.all >= ENOUGH_TO_HEAR {
                self.heard_in_a_row += 1;
            }
            if last.over == 0 {
                self.in_room = Some(false);
            } else if self.heard_in_a_row >= IN_A_ROW {
                self.in_room = Some(true);
            }
        }
    }

    /// What has not begun will not be said.
    pub(super) fn hushed(&mut self) {
        self.waiting.clear();
    }

    /// The microphone's level at that moment.
    pub(super) fn level(&mut self, at: Duration, dbfs: f32, noise_dbfs: Option<f32>) {
        let Some(noise) = noise_dbfs else { return };
        // Known noise follows slowly; a fan that was just switched on is in the softest level before.
        let before = self.silent.iter().copied().reduce(f32::min).unwrap_or(noise);
        let sounds = |sentence: &&mut Sentence| sentence.to.is_none() && sentence.from <= at;
        let Some(sentence) = self.spoken.back_mut().filter(sounds) else {
            if self.silent.len() == BEFORE {
                self.silent.pop_front();
            }
            return self.silent.push_back(dbfs);
        };
        sentence.all += 1;
        sentence.over += usize::from(dbfs > noise.max(before) + OVER_NOISE_DB);
    }

    /// Whether the microphone hears our voice; `None` before that is known.
    pub(super) fn in_room(&self) -> Option<bool> {
        self.in_room
    }

    /// Whether these words, heard from `from` to `to`, may be our own: every one of them stands in what
    /// sounded at that time, and the microphone does hear us, or may.
    pub(super) fn may_be(&self, words: &str, from: Duration, to: Duration) -> bool {
        self.in_room != Some(false)
            && self.spoken.iter().any(|sentence| {
                let begins = sentence.from.saturating_sub(SLACK);
                let ends = sentence.to.map_or(Duration::MAX, |to| to + ECHO);
                from <= ends && to >= begins && contains(&sentence.text, words)
            })
    }
}

fn contains(text: &str, words: &str) -> bool {
    let in_text: Vec<&str> = text.split(|c: char| !c.is_alphanumeric()).collect();
    words.split_whitespace().all(|word| in_text.contains(&word))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// After every sentence has begun.
    const LATER: Duration = Duration::from_secs(100);

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    fn speaking() -> OwnVoice {
        let mut voice = OwnVoice::default();
        voice.will_say("Say juniper, begin;");
        voice.will_say("or mark the first one.");
        voice.begins(ms(1000));
        voice
    }

    #[test]
    fn a_number_in_a_read_out_is_our_own_when_it_is_heard_as_a_word() {
        let mut voice = OwnVoice::default();
        voice.will_say(&crate::dialogue::Numerals::english().read_aloud("Step 2, touches it."));
        voice.begins(ms(1000));
        assert!(voice.may_be("two", ms(1500), ms(2000)));
        assert!(!voice.may_be("three", ms(1500), ms(2000)));
    }

    #[test]
    fn only_what_sounds_at_that_time_is_our_own() {
        let mut voice = speaking();
        assert!(voice.may_be("juniper begin", ms(1500), ms(2000)));
        assert!(!voice.may_be("yes", ms(1500), ms(2000)), "the trainer interrupts");
        assert!(!voice.may_be("one", ms(1500), ms(2000)), "that sentence has not begun");
        voice.ends(ms(2500));
        voice.begins(ms(2600));
        assert!(voice.may_be("one", ms(3000), ms(3300)));
        assert!(!voice.may_be("juniper begin", ms(3500), ms(4000)));
        voice.ends(ms(4000));
        assert!(voice.may_be("one", ms(4500), ms(4700)), "an echo");
        assert!(!voice.may_be("one", ms(5000), ms(5200)));
    }

    #[test]
    fn an_earphone_is_noticed_and_so_is_a_loudspeaker() {
        let mut voice = speaking();
        (0..10).for_each(|_| voice.level(LATER, -59.0, Some(-60.0)));
        voice.ends(ms(2500));
        assert_eq!(voice.in_room(), Some(false));
        for round in 0..3 {
            assert_eq!(voice.in_room(), Some(false), "one alone may be the trainer talking");
            assert!(!voice.may_be("one", ms(3000), ms(3300)), "the microphone does not hear us");
            voice.will_say("One.");
            voice.begins(ms(2600 + round * 2000));
            (0..15).for_each(|_| voice.level(LATER, -40.0, Some(-60.0)));
            voice.ends(ms(4000 + round * 2000));
        }
        assert_eq!(voice.in_room(), Some(true));
        assert!(voice.may_be("one", ms(3000), ms(3300)));
    }

    #[test]
    fn levels_of_before_a_sentence_are_none_of_it_however_late_they_are_told() {
        let mut voice = speaking();
        (0..10).for_each(|n| voice.level(ms(n * 100), -40.0, Some(-60.0)));
        (0..10).for_each(|n| voice.level(ms(1_000 + n * 100), -59.0, Some(-60.0)));
        voice.ends(ms(2500));
        assert_eq!(voice.in_room(), Some(false));
    }

    #[test]
    fn words_repeated_after_us_at_once_are_not_our_voice() {
        let mut voice = speaking();
        (0..10).for_each(|_| voice.level(LATER, -59.0, Some(-60.0)));
        voice.ends(ms(2500));
        for round in 0..10 {
            voice.will_say("One.");
            voice.begins(ms(2600 + round * 2000));
            (0..10).for_each(|_| voice.level(LATER, -40.0, Some(-60.0)));
            voice.ends(ms(3600 + round * 2000));
        }
        assert_eq!(voice.in_room(), Some(false));
    }

    #[test]
    fn noise_that_begins_before_a_sentence_is_not_our_voice() {
        let mut voice = OwnVoice::default();
        for round in 0..4 {
            (0..20).for_each(|_| voice.level(LATER, -35.0, Some(-60.0)));
            voice.will_say("One.");
            voice.begins(ms(2600 + round * 2000));
            (0..10).for_each(|_| voice.level(LATER, -35.0, Some(-60.0)));
            voice.ends(ms(4000 + round * 2000));
            assert_eq!(voice.in_room(), Some(false));
        }
    }

    #[test]
    fn what_was_hushed_is_not_waited_for() {
        let mut voice = speaking();
        voice.ends(ms(1200));
        voice.hushed();
        voice.will_say("Two reps.");
        voice.begins(ms(3000));
        assert!(voice.may_be("two", ms(3200), ms(3400)));
    }
}
