//! Segments of sound, one by one, as what can be learnt from or compared. Pure.

use crate::at::At;
use crate::audio::{Frame, RATE};
use crate::hear::level::STEP;
use crate::hear::recent::RecentSound;
use crate::hear::segmenter::{Cut, Segment, Segmenter};

use super::features::Features;

/// The room is heard from this many samples before a segment up to this many: 300 to 30 ms.
const ROOM: (u64, u64) = (4_800, 480);

/// A segment that was heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Take {
    /// When it began and ended by its level.
    pub from: At,
    /// See `from`.
    pub to: At,
    /// What it was like; `None` when it is too short or too long for a tag.
    pub features: Option<Features>,
    /// Some of it was louder than the microphone can tell.
    pub clipped: bool,
}

/// Cuts sound into takes, by the same segmenter that hearing has.
#[derive(Default)]
pub struct Takes {
    segmenter: Segmenter,
}

impl Takes {
    /// Takes a frame; gives the segments that ended in it.
    pub fn hear(&mut self, frame: &Frame) -> Vec<Take> {
        let mut takes = Vec::new();
        if frame.first_sample != self.segmenter.next_sample() {
            takes.extend(self.finish());
            self.segmenter.go_on_at(frame.first_sample);
        }
        for sample in &frame.samples {
            let cut = self.segmenter.hear(*sample);
            takes.extend(cut.and_then(|cut| self.take(cut)));
        }
        takes
    }

    /// The sound has ended: what was going on.
    pub fn finish(&mut self) -> Option<Take> {
        let cut = self.segmenter.finish()?;
        self.take(cut)
    }

    fn take(&self, cut: Cut) -> Option<Take> {
        let Cut::Ended(segment) = cut else { return None };
        let (samples, room) = of_segment(self.segmenter.sound(), &segment);
        Some(Take {
            from: At::of_sample(segment.from, RATE),
            to: At::of_sample(segment.to, RATE),
            features: segment
                .is_as_long_as_a_tag()
                .then(|| Features::of(&samples, &room))
                .filter(|features| !features.is_empty()),
            clipped: samples.iter().filter(|sample| sample.unsigned_abs() >= 32_700).count() > 3,
        })
    }
}

/// The samples that stand for a segment, and for the room before it: the same for learning and for hearing.
pub(in crate::hear) fn of_segment(sound: &RecentSound, segment: &Segment) -> (Vec<i16>, Vec<i16>) {
    let (from, to) = (segment.from, segment.to);
    let room = sound.between(from.saturating_sub(ROOM.0), from.saturating_sub(ROOM.1)).1;
    (sound.between(from, to + STEP as u64).1, room)
}
