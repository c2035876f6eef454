//! What was heard, with its moments: tags and doubts out of words that the recogniser placed.

use std::time::Duration;

use super::after::Given;
use super::others::by_another;
use super::{Ears, FOLLOWS};
use crate::at::At;
use crate::audio::RATE;
use crate::hear::judge::Candidate;
use crate::hear::onset::onset;
use crate::hear::recogniser::{Placed, texts};
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::{Details, Reading, Said};

/// Word starts by the recogniser come this much early (measured).
const EARLY_S: f32 = 0.025;

impl Ears {
    /// Gives tags, after a command that still waited.
    pub(super) fn give(
        &mut self,
        began: usize,
        end: usize,
        first: u64,
        candidate: &Candidate,
    ) -> Vec<Heard> {
        let mut heard = self.no_longer_waiting();
        let words = &candidate.words;
        let doubt = self.doubt(began, first, words, String::new());
        if self.is_by_another() {
            heard.push(by_another(doubt));
            return heard;
        }
        let at = doubt.at;
        let mut tags: Vec<HeardTag> =
            candidate.readings.iter().map(|reading| self.tag(at, first, words, reading)).collect();
        if self.changing.take().is_some_and(|until| began <= until)
            && let Some(tag) = tags.first_mut()
            && let Said::Detail(details) = tag.said
        {
            tag.said = Said::Change(details);
        }
        if matches!(tags.last(), Some(tag) if tag.said == Said::Change(Details::default())) {
            self.changing = Some(end + FOLLOWS);
        }
        self.spoke_db = self.gate.loudest();
        self.last_gave_tags = true;
        self.saying.add(began, Given { end_step: end, doubt });
        heard.push(self.beside_marks(Heard::Tags(tags)));
        heard
    }

    fn tag(&self, at: At, first: u64, words: &[Placed], reading: &Reading) -> HeardTag {
        let texts = texts(&words[reading.first..reading.end]);
        HeardTag {
            at: if reading.first == 0 {
                at
            } else {
                place(first, words[reading.first].start + EARLY_S)
            },
            end: place(first, words[reading.end - 1].end),
            said: reading.said.clone(),
            words: texts.join(" "),
            decided: self.now(),
        }
    }

    pub(super) fn doubt(&self, began: usize, first: u64, words: &[Placed], other: String) -> Doubt {
        let texts = texts(words);
        let at = self.begin_of(began);
        Doubt {
            at,
            end: words.last().map_or(at, |word| place(first, word.end)),
            words: texts.join(" "),
            other,
            decided: self.now(),
        }
    }

    /// The onset of the stretch's first word, on the waveform.
    pub(super) fn begin_of(&self, began: usize) -> At {
        let noticed = self.sample_of(began);
        if self.went_on == Some(began) {
            // No quiet before it to measure against.
            return place(noticed, EARLY_S);
        }
        let half_a_second = 8_000;
        let (first, samples) =
            self.past.between(noticed.saturating_sub(half_a_second), noticed + half_a_second);
        let place = onset(&samples, (noticed - first) as usize);
        At::of_sample(first + place as u64, RATE)
    }
}

/// The moment `seconds` after sample `first`.
pub(super) fn place(first: u64, seconds: f32) -> At {
    At::of_sample(first, RATE) + Duration::from_secs_f32(seconds.max(0.0))
}
