//! What was made of each stretch, kept only for measurements that ask for it.

use super::Ears;
use crate::at::At;

/// What was made of one stretch, for measuring.
#[derive(Debug, Clone, PartialEq)]
pub struct Look {
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

impl Ears {
    /// What was made of each stretch since this was last asked, for measurements; the first time, nothing yet.
    pub fn looks(&mut self) -> Vec<Look> {
        self.looks.replace(Vec::new()).unwrap_or_default()
    }
}
