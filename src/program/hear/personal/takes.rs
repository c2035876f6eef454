//! Stretches of sound, one by one, as what can be learnt from or compared. Pure.

use crate::at::At;
use crate::audio::{Frame, RATE};
use crate::hear::gate::{Change, Gate, LONGEST, SHORTEST};
use crate::hear::level::STEP;
use crate::hear::past::Past;

use super::features::Features;

/// Sound kept for a stretch: as long as a tag may be, and its end.
const KEPT_STEPS: usize = 350;
/// The room is heard from so many samples before a stretch up to so many: 300 to 30 ms.
const ROOM: (u64, u64) = (4_800, 480);

/// A stretch that was heard.
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

/// Cuts sound into takes.
pub struct Takes {
    gate: Gate,
    past: Past,
    origin: u64,
}

impl Default for Takes {
    fn default() -> Self {
        Takes { gate: Gate::new(), past: Past::new(KEPT_STEPS * STEP), origin: 0 }
    }
}

impl Takes {
    /// Takes a frame; gives the stretches that ended in it.
    pub fn hear(&mut self, frame: &Frame) -> Vec<Take> {
        let mut takes = Vec::new();
        if frame.first_sample != self.past.end() {
            takes.extend(self.finish());
            self.origin += frame.first_sample - self.past.end().min(frame.first_sample);
            self.past.start_at(frame.first_sample);
        }
        for sample in &frame.samples {
            self.past.push(*sample);
            if let Some(Change::Closed(from, to)) = self.gate.hear(*sample) {
                takes.push(self.take(from, to));
            }
        }
        takes
    }

    /// The sound has ended: what was going on.
    pub fn finish(&mut self) -> Option<Take> {
        match self.gate.finish() {
            Some(Change::Closed(from, to)) => Some(self.take(from, to)),
            _ => None,
        }
    }

    /// Whether something sounds now.
    pub fn is_open(&self) -> bool {
        self.gate.began().is_some()
    }

    fn take(&self, began: usize, end: usize) -> Take {
        let sample = |step: usize| self.origin + (step * STEP) as u64;
        let (from, to) = (sample(began), sample(end));
        let (samples, room) = of_stretch(&self.past, from, to);
        let fits = (SHORTEST..=LONGEST).contains(&(end - began));
        Take {
            from: At::of_sample(from, RATE),
            to: At::of_sample(to, RATE),
            features: fits
                .then(|| Features::of(&samples, &room))
                .filter(|features| !features.is_empty()),
            clipped: samples.iter().filter(|sample| sample.unsigned_abs() >= 32_700).count() > 3,
        }
    }
}

/// The samples that stand for a stretch, and for the room before it: the same for learning and for hearing.
pub(in crate::hear) fn of_stretch(past: &Past, from: u64, to: u64) -> (Vec<i16>, Vec<i16>) {
    let room = past.between(from.saturating_sub(ROOM.0), from.saturating_sub(ROOM.1)).1;
    (past.between(from, to + STEP as u64).1, room)
}
