//! Power by frequency of a short piece of sound. Pure.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};

/// Samples of a transform: 32 ms.
const SIZE: usize = 512;
const HZ_PER_BIN: f32 = 16_000.0 / SIZE as f32;

/// Makes spectra.
pub(super) struct Spectrum {
    plan: Arc<dyn RealToComplex<f32>>,
}

/// Power by bin.
pub(super) struct Power(Vec<f32>);

impl Spectrum {
    pub(super) fn new() -> Self {
        Spectrum { plan: RealFftPlanner::new().plan_fft_forward(SIZE) }
    }

    /// Of these samples (as far as they fit), through a Hann window.
    pub(super) fn of(&self, samples: &[f32]) -> Power {
        let mut input = self.plan.make_input_vec();
        let mut output = self.plan.make_output_vec();
        let count = samples.len().min(SIZE);
        for (i, (value, sample)) in input.iter_mut().zip(samples).enumerate() {
            let turn = std::f32::consts::TAU * (i as f32 + 0.5) / count as f32;
            *value = sample * (0.5 - 0.5 * turn.cos());
        }
        // Its only error is buffers of a wrong length.
        let done = self.plan.process(&mut input, &mut output);
        debug_assert!(done.is_ok(), "buffers are the plan's own");
        Power(output.iter().map(realfft::num_complex::Complex::norm_sqr).collect())
    }
}

impl Power {
    /// Frequency of the strongest bin above 300 Hz.
    pub(super) fn peak_hz(&self) -> f32 {
        let from = (300.0 / HZ_PER_BIN) as usize;
        let strongest = (from..self.0.len()).max_by(|a, b| self.0[*a].total_cmp(&self.0[*b]));
        strongest.unwrap_or(from) as f32 * HZ_PER_BIN
    }

    /// How evenly the power is spread between these frequencies: geometric over arithmetic mean, near 0 for a
    /// few tones and above one half for noise.
    pub(super) fn flatness(&self, from_hz: f32, to_hz: f32) -> f32 {
        let bin = |hz: f32| ((hz / HZ_PER_BIN).round() as usize).min(self.0.len());
        let part = &self.0[bin(from_hz)..bin(to_hz)];
        let n = part.len().max(1) as f32;
        let logs = part.iter().map(|power| (power + 1e-20).ln()).sum::<f32>() / n;
        logs.exp() / (part.iter().sum::<f32>() / n + 1e-20)
    }

    /// Share of the power (above 100 Hz) that lies between these frequencies.
    pub(super) fn share(&self, from_hz: f32, to_hz: f32) -> f32 {
        let bin = |hz: f32| ((hz / HZ_PER_BIN).round() as usize).min(self.0.len());
        let from = bin(from_hz.max(100.0));
        let sum = |from: usize, to: usize| self.0[from..to.max(from)].iter().sum::<f32>();
        sum(from, bin(to_hz)) / sum(bin(100.0), self.0.len()).max(1e-20)
    }
}
