//! Speech with less of a steady noise in it, by what the noise was before it. Pure.
//!
//! A Wiener filter by the a-priori ratio of speech to noise, followed from frame to frame by the decision-directed
//! rule: Y. Ephraim and D. Malah, IEEE Trans. ASSP 32(6), 1984, pages 1109–1121; with this gain: P. Scalart and
//! J. Vieira Filho, ICASSP 1996, pages 629–632 (both from memory).

use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Samples in a frame, and from one to the next: 32 and 8 ms at 16 kHz.
const FRAME: usize = 512;
const HOP: usize = 128;
const BINS: usize = FRAME / 2 + 1;
/// The filter runs in over the end of the noise, this long.
const RUN_IN: usize = 8_000;
/// How far noise is taken down at most, how many times as loud as it was measured it is taken for, and how much of the
/// frame before counts. Chosen on the tuning half of the speakers; the figures stand in tests/bench.d/RESULTS.md.
const FLOOR: f32 = 0.251; // -12 dB
const OVER: f32 = 1.7;
const MEMORY: f32 = 0.95;

/// The filter and its tables.
pub(super) struct Wiener {
    forth: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    window: Vec<f32>,
}

impl Wiener {
    pub(super) fn new() -> Self {
        let mut planner = RealFftPlanner::new();
        let turn = std::f32::consts::TAU / FRAME as f32;
        Wiener {
            forth: planner.plan_fft_forward(FRAME),
            back: planner.plan_fft_inverse(FRAME),
            window: (0..FRAME).map(|n| 0.5 - 0.5 * (turn * n as f32).cos()).collect(),
        }
    }

    /// `speech` with less of what is in `noise`, the sound of the room before it. As it was with less than a frame
    /// of noise.
    pub(super) fn filter(&self, noise: &[i16], speech: &[i16]) -> Vec<i16> {
        if noise.len() < FRAME {
            return speech.to_vec();
        }
        let room = self.powers(noise);
        let run_in = &noise[noise.len().saturating_sub(RUN_IN)..];
        let sound: Vec<f32> = run_in.iter().chain(speech).map(|s| f32::from(*s)).collect();
        let mut sum = vec![0.0; sound.len() + FRAME];
        let mut weight = vec![0.0; sound.len() + FRAME];
        let mut before = vec![1.0_f32; BINS];
        let mut frame = vec![0.0; FRAME];
        let mut bins = vec![Complex32::default(); BINS];
        for from in (0..sound.len()).step_by(HOP) {
            self.transform(&sound[from..], &mut frame, &mut bins);
            for ((bin, room), before) in bins.iter_mut().zip(&room).zip(&mut before) {
                let ratio = bin.norm_sqr() / (OVER * room);
                let speech = MEMORY * *before + (1.0 - MEMORY) * (ratio - 1.0).max(0.0);
                let gain = (speech / (1.0 + speech)).max(FLOOR);
                *before = gain * gain * ratio;
                *bin *= gain;
            }
            // The library wants these two to be real; they are, but for rounding.
            bins[0].im = 0.0;
            bins[BINS - 1].im = 0.0;
            self.back.process(&mut bins, &mut frame).expect("the buffers are as long as planned");
            for (index, (value, window)) in frame.iter().zip(&self.window).enumerate() {
                sum[from + index] += value / FRAME as f32 * window;
                weight[from + index] += window * window;
            }
        }
        let whole = sum.iter().zip(&weight).map(|(sum, weight)| sum / weight.max(1e-3));
        whole.skip(run_in.len()).take(speech.len()).map(|value| value as i16).collect()
    }

    /// Mean power of each bin.
    fn powers(&self, noise: &[i16]) -> Vec<f32> {
        let noise: Vec<f32> = noise.iter().map(|s| f32::from(*s)).collect();
        let (mut frame, mut bins) = (vec![0.0; FRAME], vec![Complex32::default(); BINS]);
        let starts = (0..=noise.len() - FRAME).step_by(HOP);
        let count = starts.clone().count() as f32;
        // Digital silence has no power to divide by.
        let mut powers = vec![1e-3; BINS];
        for from in starts {
            self.transform(&noise[from..], &mut frame, &mut bins);
            powers.iter_mut().zip(&bins).for_each(|(sum, bin)| *sum += bin.norm_sqr() / count);
        }
        powers
    }

    fn transform(&self, sound: &[f32], frame: &mut [f32], bins: &mut [Complex32]) {
        let sound = sound.iter().copied().chain(std::iter::repeat(0.0));
        for ((to, value), window) in frame.iter_mut().zip(sound).zip(&self.window) {
            *to = value * window;
        }
        self.forth.process(frame, bins).expect("the buffers are as long as planned");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;

    fn rounded(samples: &[f32]) -> Vec<i16> {
        samples.iter().map(|s| *s as i16).collect()
    }

    fn power(samples: impl Iterator<Item = f32>) -> f32 {
        let squares: Vec<f32> = samples.map(|sample| sample * sample).collect();
        squares.iter().sum::<f32>() / squares.len() as f32
    }

    #[test]
    fn noise_goes_down_by_the_floor_and_a_tone_stays() {
        let tone: Vec<f32> = (0..16_000).map(|i| 3_000.0 * (i as f32 * 0.3).sin()).collect();
        let noise =
            |seed| -> Vec<f32> { hiss(seed).take(16_000).map(|n| 700.0 * n as f32).collect() };
        let (before, during) = (noise(1), noise(2));
        let noisy: Vec<f32> = tone.iter().zip(&during).map(|(a, b)| a + b).collect();
        let wiener = Wiener::new();
        let clean = wiener.filter(&rounded(&before), &rounded(&noisy));
        assert_eq!(clean.len(), 16_000);
        let middle = 2_000..14_000;
        let left = power(middle.clone().map(|i| f32::from(clean[i]) - tone[i]));
        let was = power(middle.clone().map(|i| during[i]));
        assert!(10.0 * (was / left).log10() > 8.0, "{was} {left}");
        let alone = wiener.filter(&rounded(&before), &rounded(&during));
        let left = power(middle.map(|i| f32::from(alone[i])));
        let by = 10.0 * (was / left).log10();
        assert!((9.0..12.5).contains(&by), "{by}");
    }

    #[test]
    fn without_noise_nothing_changes() {
        let tone: Vec<i16> =
            (0..4_000).map(|i| (3_000.0 * (i as f32 * 0.3).sin()) as i16).collect();
        assert_eq!(Wiener::new().filter(&[0; 100], &tone), tone);
        let same = Wiener::new().filter(&[0; 16_000], &tone);
        assert!(same.iter().zip(&tone).all(|(a, b)| a.abs_diff(*b) <= 2));
        assert!(Wiener::new().filter(&[0; 16_000], &[]).is_empty());
    }
}
