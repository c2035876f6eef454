//! How loud the sound is from moment to moment, without hum and handling noise.

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
