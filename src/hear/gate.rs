//! Cuts stretches of speech out of the sound by its level above the room's noise.

use std::collections::VecDeque;

use crate::audio::{FRAME, Frame};

/// Above the noise floor by so many dB: something is said.
const OPEN_DB: f32 = 12.0;
/// Below this again: it may be over.
const CLOSE_DB: f32 = 8.0;
/// Frames (16 ms) of quiet that end a stretch.
const QUIET_FRAMES: usize = 13;
/// Frames kept from before the opening, so that soft beginnings are whole.
const BEFORE_FRAMES: usize = 20;
/// Longer than any tag: from here on it is talk.
const LONGEST_FRAMES: usize = 375;

/// A stretch of speech with some quiet around it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub(super) first_sample: u64,
    pub(super) samples: Vec<i16>,
    /// So long that it can only be talk; its samples were not kept whole.
    pub(super) talk: bool,
}

impl Stretch {
    pub(super) fn end_sample(&self) -> u64 {
        self.first_sample + self.samples.len() as u64
    }
}

/// Finds stretches of speech.
#[derive(Debug)]
pub(super) struct Gate {
    floor_db: f32,
    before: VecDeque<Frame>,
    open: Option<Stretch>,
    quiet: usize,
}

impl Gate {
    pub(super) fn new() -> Self {
        Gate { floor_db: -60.0, before: VecDeque::new(), open: None, quiet: 0 }
    }

    /// Where the stretch that is going on began, unless it is talk already.
    pub(super) fn open_since(&self) -> Option<u64> {
        self.open.as_ref().filter(|stretch| !stretch.talk).map(|stretch| stretch.first_sample)
    }

    /// Takes a frame; gives a stretch when one has just ended.
    pub(super) fn hear(&mut self, frame: &Frame) -> Option<Stretch> {
        let db = level_db(&frame.samples);
        let Some(stretch) = &mut self.open else {
            self.follow_floor(db);
            self.before.push_back(frame.clone());
            if self.before.len() > BEFORE_FRAMES {
                self.before.pop_front();
            }
            if db > self.floor_db + OPEN_DB {
                let first_sample = self.before.front().map_or(0, |first| first.first_sample);
                let samples = self.before.drain(..).flat_map(|kept| kept.samples).collect();
                self.open = Some(Stretch { first_sample, samples, talk: false });
                self.quiet = 0;
            }
            return None;
        };
        stretch.samples.extend_from_slice(&frame.samples);
        if stretch.samples.len() > LONGEST_FRAMES * FRAME {
            stretch.talk = true;
            // Only its length matters from here on; forget the oldest second.
            stretch.first_sample += 16_000;
            stretch.samples.drain(..16_000);
        }
        self.quiet = if db < self.floor_db + CLOSE_DB { self.quiet + 1 } else { 0 };
        // A louder room must not keep the gate open for ever.
        self.floor_db += if db > self.floor_db { 0.02 } else { 0.2 * (db - self.floor_db) };
        if self.quiet >= QUIET_FRAMES { self.open.take() } else { None }
    }

    /// The stretch that is going on, if any, when the sound ends.
    pub(super) fn finish(&mut self) -> Option<Stretch> {
        self.before.clear();
        self.open.take()
    }

    fn follow_floor(&mut self, db: f32) {
        let pace = if db < self.floor_db { 0.3 } else { 0.02 };
        self.floor_db = (self.floor_db + pace * (db - self.floor_db)).max(-80.0);
    }
}

fn level_db(samples: &[i16]) -> f32 {
    let power: f64 =
        samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len().max(1) as f64;
    (10.0 * (power / (32_768.0 * 32_768.0)).max(1e-12).log10()) as f32
}
