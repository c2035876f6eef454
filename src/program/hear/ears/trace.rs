//! What was made of each segment, kept only for measurements that ask for it.

use super::judge::Judgement;
use crate::at::At;
use crate::audio::RATE;
use crate::hear::recogniser::Alternative;
use crate::hear::segmenter::Segment;

const STEPS_A_SECOND: f64 = 100.0;

/// What was made of one segment, for measuring.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// When it began and ended by the level.
    pub from: At,
    /// See `from`.
    pub to: At,
    /// Readings with tags alone, best first: score and words.
    pub tags: Vec<(f32, String)>,
    /// Readings among ordinary words, the same.
    pub open: Vec<(f32, String)>,
    /// By how much the best reading with an ordinary word is ahead of the tags (99: the tags were not read).
    pub gap_words: f32,
    /// The same for the reading of nothing.
    pub gap_nothing: f32,
    /// Seconds of quiet before it.
    pub quiet_before: f64,
    /// Its loudest part over the room's noise, in dB.
    pub height_db: f32,
}

impl Trace {
    pub(super) fn of(segment: &Segment, judgement: &Judgement) -> Self {
        let list = |read: &[Alternative]| read.iter().map(|a| (a.score, a.text())).collect();
        Trace {
            from: At::of_sample(segment.from, RATE),
            to: At::of_sample(segment.to, RATE),
            tags: list(&judgement.read.tags),
            open: list(&judgement.read.open),
            gap_words: judgement.gaps.words,
            gap_nothing: judgement.gaps.nothing,
            quiet_before: segment.quiet_before as f64 / STEPS_A_SECOND,
            height_db: segment.height_db,
        }
    }
}
