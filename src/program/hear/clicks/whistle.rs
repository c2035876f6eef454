//! Whistles: one clear tone with a sudden beginning that holds its level. Pure.

use super::Click;
use super::envelope::{Envelope, TICK};
use super::spectrum::Spectrum;
use crate::plan::MarkerSound;

// Looks are 8 ms apart and 32 ms long; chosen on the tuning sounds named in tests/bench.d/RESULTS.md.

/// Ticks of 1 ms between two looks, and in one.
const HOP: usize = 8;
const WINDOW: usize = 32;
/// Where a whistle may be, in Hz.
const TONE_HZ: (f32, f32) = (900.0, 5_200.0);
/// Share of the power near its peak: within this many Hz, or within that share of the peak's frequency.
const CLEAR: f32 = 0.85;
const NEAR: (f32, f32) = (80.0, 0.035);
/// From look to look it moves by at most this share.
const MOVES: f32 = 0.07;
/// Looks that make a whistle: 136 ms. One more that is not clear may lie among them.
const ENOUGH: usize = 14;
/// A whistle holds its level: from its middle to its end it falls by no more than this.
const SAG_DB: f32 = 3.4;
/// It stands over what was before it by this much.
const RISE_DB: f32 = 12.0;

/// One look.
#[derive(Debug, Clone, Copy)]
struct Look {
    tick: usize,
    hz: f32,
    level: f32,
}

/// Finds whistles.
pub(super) struct Whistles {
    spectrum: Spectrum,
    looks: Vec<Look>,
    /// This tone was reported already, or is none.
    done: bool,
}

impl Whistles {
    pub(super) fn new() -> Self {
        Whistles { spectrum: Spectrum::new(), looks: Vec::new(), done: false }
    }

    /// Looks at a new tick.
    pub(super) fn look(&mut self, sound: &Envelope) -> Option<Click> {
        let now = sound.ticks();
        if !now.is_multiple_of(HOP) || now < WINDOW {
            return None;
        }
        let samples = sound.sound(now - WINDOW, now);
        let power = self.spectrum.of(&samples);
        let hz = power.peak_hz();
        let near = NEAR.0.max(NEAR.1 * hz);
        let clear = (TONE_HZ.0..=TONE_HZ.1).contains(&hz)
            && power.share(hz - near, hz + near) >= CLEAR
            && self.looks.last().is_none_or(|last| (hz / last.hz - 1.0).abs() <= MOVES);
        if !clear {
            self.looks.clear();
            self.done = false;
            return None;
        }
        let square = samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32;
        self.looks.push(Look { tick: now - WINDOW, hz, level: 10.0 * (square + 1e-10).log10() });
        if self.looks.len() < ENOUGH || self.done {
            return None;
        }
        self.done = true;
        let first = self.looks[0];
        let end = sound.sample_of(now);
        let onset = self.onset(sound, first)?;
        self.holds().then_some(Click { sound: MarkerSound::Whistle, onset, end })
    }

    /// Tick before which nothing lies that may still turn out to be a whistle.
    pub(super) fn pending(&self) -> Option<usize> {
        let first = self.looks.first().filter(|_| !self.done)?;
        Some(first.tick.saturating_sub(40))
    }

    fn holds(&self) -> bool {
        let level =
            |looks: &[Look]| looks.iter().map(|l| l.level).sum::<f32>() / looks.len() as f32;
        let (middle, end) = (&self.looks[2..6], &self.looks[self.looks.len() - 4..]);
        level(middle) - level(end) <= SAG_DB
    }

    /// Where the tone begins: the first sample near the first look at which the level is a tenth of the tone's.
    /// `None` when there was no quiet before it.
    fn onset(&self, sound: &Envelope, first: Look) -> Option<u64> {
        let from = first.tick.saturating_sub(40);
        let samples = sound.sound(from, first.tick + WINDOW);
        let most = samples.iter().rev().take(8 * TICK).fold(0.0f32, |most, s| most.max(s.abs()));
        let quiet = samples.iter().take(16 * TICK).fold(0.0f32, |most, s| most.max(s.abs()));
        if most < quiet * 10f32.powf(RISE_DB / 20.0) {
            return None;
        }
        let least = (1.5 * quiet).max(most * 0.1);
        let place = samples.iter().position(|s| s.abs() >= least)?;
        Some(sound.sample_of(from) + place as u64)
    }
}
