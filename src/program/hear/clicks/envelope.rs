//! The last second of sound, and its power a millisecond at a time, above and below 1 kHz. Pure.

use std::collections::VecDeque;

use crate::hear::level::{HighPass, db};

/// Samples in a tick: 1 ms.
pub(super) const TICK: usize = 16;
/// Ticks kept.
const KEPT: usize = 1_200;

/// Sound and power at hand. Ticks are counted from the first sample.
pub(super) struct Envelope {
    first_sample: u64,
    rumble: HighPass,
    high: HighPass,
    sums: [f64; 2],
    filled: usize,
    ticks: usize,
    samples: VecDeque<f32>,
    high_db: VecDeque<f32>,
    all_db: VecDeque<f32>,
}

impl Envelope {
    pub(super) fn new() -> Self {
        Self::starting_at(0)
    }

    /// The first sample has this number.
    pub(super) fn starting_at(first_sample: u64) -> Self {
        Envelope {
            first_sample,
            rumble: HighPass::above(150.0),
            high: HighPass::above(1_200.0),
            sums: [0.0; 2],
            filled: 0,
            ticks: 0,
            samples: VecDeque::with_capacity(KEPT * TICK + 1),
            high_db: VecDeque::with_capacity(KEPT + 1),
            all_db: VecDeque::with_capacity(KEPT + 1),
        }
    }

    /// Takes a sample; true when a tick is full.
    pub(super) fn hear(&mut self, sample: i16) -> bool {
        let high = self.high.pass(sample);
        self.sums[0] += high * high;
        self.sums[1] += self.rumble.pass(sample).powi(2);
        self.samples.push_back(f32::from(sample) / 32_768.0);
        self.filled += 1;
        if self.filled < TICK {
            return false;
        }
        let [high, all] = std::mem::take(&mut self.sums).map(|sum| db(sum / TICK as f64));
        self.filled = 0;
        self.ticks += 1;
        self.high_db.push_back(high);
        self.all_db.push_back(all);
        if self.high_db.len() > KEPT {
            self.high_db.pop_front();
            self.all_db.pop_front();
            self.samples.drain(..TICK);
        }
        true
    }

    /// Ticks so far: the next tick's number.
    pub(super) fn ticks(&self) -> usize {
        self.ticks
    }

    fn first_tick(&self) -> usize {
        self.ticks - self.high_db.len()
    }

    /// Number of the sample at which a tick begins.
    pub(super) fn sample_of(&self, tick: usize) -> u64 {
        self.first_sample + (tick * TICK) as u64
    }

    /// Power above 1.2 kHz in dB, of the ticks from `from` up to `to`, as far as they are at hand.
    pub(super) fn high(&self, from: usize, to: usize) -> impl DoubleEndedIterator<Item = f32> {
        let (from, to) = self.within(from, to);
        self.high_db.range(from..to).copied()
    }

    /// The same of all but rumble.
    pub(super) fn all(&self, from: usize, to: usize) -> impl DoubleEndedIterator<Item = f32> {
        let (from, to) = self.within(from, to);
        self.all_db.range(from..to).copied()
    }

    /// The samples of these ticks (full scale is 1).
    pub(super) fn sound(&self, from: usize, to: usize) -> Vec<f32> {
        let (from, to) = self.within(from, to);
        self.samples.range(from * TICK..to * TICK).copied().collect()
    }

    fn within(&self, from: usize, to: usize) -> (usize, usize) {
        let first = self.first_tick();
        let to = to.clamp(first, self.ticks) - first;
        (from.clamp(first, self.ticks).saturating_sub(first).min(to), to)
    }
}

/// The greatest of these levels; far below everything when there are none.
pub(super) fn loudest(levels: impl Iterator<Item = f32>) -> f32 {
    levels.fold(-200.0, f32::max)
}

/// The mean power of these levels in dB.
pub(super) fn mean(levels: impl Iterator<Item = f32>) -> f32 {
    let (sum, n) = levels.fold((0.0f64, 0usize), |(sum, n), level| {
        (sum + 10f64.powf(f64::from(level) / 10.0), n + 1)
    });
    if n == 0 { -200.0 } else { db(sum / n as f64) }
}
