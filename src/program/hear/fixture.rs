//! Segments and readings for tests, without sound.

use super::level::STEP;
use super::segmenter::{LEAD, Segment};
use super::wire::{Alternative, Placed};
use crate::at::At;
use crate::audio::RATE;

/// Steps of quiet that are heard before a segment of speech ends.
const HUNG_OVER: usize = 15;

/// A segment of loud speech between these steps, after a second of quiet.
pub(super) fn segment(began: usize, end: usize) -> Segment {
    let sample = |step: usize| (step * STEP) as u64;
    Segment {
        began,
        end,
        from: sample(began),
        to: sample(end),
        read_from: sample(began.saturating_sub(LEAD)),
        read_to: sample(end + HUNG_OVER),
        onset: At::of_sample(sample(began), RATE),
        quiet_before: 100,
        loudest_db: -20.0,
        height_db: 40.0,
        rose: false,
    }
}

/// Readings with these scores, each word of them a tenth of a second long.
pub(super) fn readings(list: &[(f32, &str)]) -> Vec<Alternative> {
    let placed = |text: &str| {
        let words = text.split_whitespace().enumerate();
        let place = |(n, word): (usize, &str)| Placed {
            text: word.to_owned(),
            start: 0.2 + 0.1 * n as f32,
            end: 0.3 + 0.1 * n as f32,
        };
        words.map(place).collect()
    };
    list.iter().map(|(score, text)| Alternative { score: *score, words: placed(text) }).collect()
}
