//! How loud the sound is from moment to moment, without hum and handling noise.

use std::ops::Range;

use biquad::{Biquad, Coefficients, DirectForm2Transposed, Q_BUTTERWORTH_F64, ToHertz, Type};

use crate::audio::RATE;

/// Samples in a step of the gate: 10 ms.
pub(super) const STEP: usize = 160;

/// A second-order Butterworth high-pass.
pub(super) struct HighPass(DirectForm2Transposed<f64>);

impl HighPass {
    /// Lets through what is above `hz`.
    pub(super) fn above(hz: f64) -> Self {
        let rate = f64::from(RATE.get());
        let shape =
            Coefficients::<f64>::from_params(Type::HighPass, rate.hz(), hz.hz(), Q_BUTTERWORTH_F64)
                .expect("a corner far below half the rate always has a filter");
        HighPass(DirectForm2Transposed::<f64>::new(shape))
    }

    /// The next sample (full scale is 1).
    pub(super) fn pass(&mut self, sample: i16) -> f64 {
        self.0.run(f64::from(sample) / 32_768.0)
    }
}

/// Mean power as dB below full scale.
pub(super) fn db(power: f64) -> f32 {
    (10.0 * (power + 1e-10).log10()) as f32
}

/// The loud part of a sound, in seconds from its beginning: from the first to the last step that is less than
/// `within_db` softer than its loudest. A breath before it, a tail or an echo after it are softer.
pub(super) fn loud_part(samples: &[i16], within_db: f32) -> Range<f32> {
    let power = |step: &[i16]| {
        let sum: f64 = step.iter().map(|sample| (f64::from(*sample) / 32_768.0).powi(2)).sum();
        db(sum / STEP as f64)
    };
    let levels: Vec<f32> = samples.chunks_exact(STEP).map(power).collect();
    let loudest = levels.iter().copied().fold(f32::MIN, f32::max);
    let loud = |level: &f32| *level > loudest - within_db;
    let first = levels.iter().position(loud).unwrap_or(0);
    let end = levels.iter().rposition(loud).map_or(0, |last| last + 1);
    let seconds = |step: usize| (step * STEP) as f32 / RATE.get() as f32;
    seconds(first)..seconds(end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loud_part_has_no_soft_ends() {
        let tone = |steps: usize, size: f64| {
            (0..steps * STEP).map(move |n| (size * (n as f64 * 0.3).sin()) as i16)
        };
        let sound: Vec<i16> = tone(20, 900.0)
            .chain(tone(30, 9_000.0))
            .chain(tone(5, 100.0))
            .chain(tone(10, 5_000.0))
            .chain(tone(7, 900.0))
            .collect();
        assert_eq!(loud_part(&sound, 12.0), 0.2..0.65, "900 is 20 dB softer than 9000, 5000 5 dB");
        assert_eq!(loud_part(&[], 12.0), 0.0..0.0);
    }
}
