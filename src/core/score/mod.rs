//! How well hearing did against what was really said. Pure: truth and what was heard in, figures out.
//!
//! A word counts as right when it was heard as a tag in the same order as it was said, in an utterance
//! that overlaps its segment by ±0.3 s. In segments that must give nothing, everything that would be
//! written into the record is false.

mod align;
mod figures;
mod scorer;
mod truth;

pub use figures::{Confusion, Figures, Spread, WordFigures};
pub use scorer::Scorer;
pub use truth::{TruthError, TruthSegment, truth_segments};

use std::time::Duration;

use crate::heard::Heard;

/// Something heard, and when the answer was there on a live microphone: the sound's own time, and the
/// computing after it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeardLive {
    /// What.
    pub heard: Heard,
    /// Seconds since the beginning of the file.
    pub answered: Duration,
}
