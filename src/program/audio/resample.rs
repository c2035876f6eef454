//! Mono sound from one rate to another, to 16 kHz unless told, as a stream, with the filter's delay taken out: what
//! happened at second *t* of the input is at second *t* of the output.

use std::num::NonZeroU32;

use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{
    Async, Fft, FixedAsync, FixedSync, Indexing, SincInterpolationParameters, WindowFunction,
};

use super::RATE;

/// Input per step, in seconds. Short, since a live word waits for it.
const STEP_S: f64 = 0.01;
/// A transform longer than this (in input samples) would make a live word wait too long.
const LONGEST_TRANSFORM_S: f64 = 0.03;

/// The rate cannot be resampled.
#[derive(Debug, thiserror::Error)]
#[error(
    "sound at {rate} samples a second cannot be brought to another rate ({reason}). Choose 16000, 44100 or 48000 in the sound settings"
)]
pub struct ResampleError {
    /// Samples a second that were asked for.
    pub rate: u32,
    /// What the resampling library said.
    pub reason: String,
}

/// Turns mono samples at one rate into mono samples at another.
pub struct Resampler {
    rate: NonZeroU32,
    wanted: NonZeroU32,
    /// None if the input is at the wanted rate already.
    engine: Option<Box<dyn rubato::Resampler<f32>>>,
    pending: Vec<f32>,
    block: Vec<f32>,
    /// Output samples still to drop: the filter's delay.
    delay: usize,
    taken: u64,
    given: u64,
}

impl Resampler {
    /// A resampler from `rate` to [`RATE`].
    ///
    /// # Errors
    /// [`ResampleError`] if the library refuses the rate.
    pub fn new(rate: NonZeroU32) -> Result<Self, ResampleError> {
        Self::between(rate, RATE)
    }

    /// A resampler from `rate` to the rate that is `wanted`.
    ///
    /// # Errors
    /// [`ResampleError`] if the library refuses the rates.
    pub fn between(rate: NonZeroU32, wanted: NonZeroU32) -> Result<Self, ResampleError> {
        let engine = if rate == wanted { None } else { Some(engine(rate, wanted)?) };
        let delay = engine.as_ref().map_or(0, |e| e.output_delay());
        let block = vec![0.0; engine.as_ref().map_or(0, |e| e.output_frames_max())];
        Ok(Resampler {
            rate,
            wanted,
            engine,
            pending: Vec::new(),
            block,
            delay,
            taken: 0,
            given: 0,
        })
    }

    /// Takes `input` and appends what can be given so far to `out`.
    pub fn push(&mut self, input: &[f32], out: &mut Vec<f32>) {
        self.taken += input.len() as u64;
        let Some(engine) = &mut self.engine else {
            out.extend_from_slice(input);
            self.given += input.len() as u64;
            return;
        };
        self.pending.extend_from_slice(input);
        let mut used = 0;
        while self.pending.len() - used >= engine.input_frames_next() {
            let (read, written) =
                step(engine.as_mut(), &self.pending[used..], &mut self.block, None);
            used += read;
            let skipped = written.min(self.delay);
            self.delay -= skipped;
            out.extend_from_slice(&self.block[skipped..written]);
            self.given += (written - skipped) as u64;
        }
        self.pending.drain(..used);
    }

    /// Output samples that [`Resampler::finish`] would give now.
    pub fn held(&self) -> u64 {
        self.due() - self.given
    }

    /// One output for each step of the wanted rate begun of the input.
    fn due(&self) -> u64 {
        let outputs = u128::from(self.taken) * u128::from(self.wanted.get());
        outputs.div_ceil(u128::from(self.rate.get())) as u64
    }

    /// Appends the rest, so that in all there is one output for each step of the wanted rate begun of the input,
    /// and makes the resampler as new.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        let due = self.due();
        if let Some(engine) = &mut self.engine {
            let mut left = self.pending.len();
            while self.given < due {
                let (_, written) =
                    step(engine.as_mut(), &self.pending, &mut self.block, Some(left));
                self.pending.clear();
                left = 0;
                let skipped = written.min(self.delay);
                self.delay -= skipped;
                let wanted = ((due - self.given) as usize).min(written - skipped);
                out.extend_from_slice(&self.block[skipped..skipped + wanted]);
                self.given += wanted as u64;
            }
            engine.reset();
            self.delay = engine.output_delay();
        }
        self.pending.clear();
        self.taken = 0;
        self.given = 0;
    }
}

/// One step of the library: samples read, samples written to the front of `block`.
fn step(
    engine: &mut dyn rubato::Resampler<f32>,
    input: &[f32],
    block: &mut [f32],
    partial: Option<usize>,
) -> (usize, usize) {
    let indexing = partial.map(|n| Indexing::new().partial_len(n));
    let (frames_in, frames_out) = (input.len(), block.len());
    let input = SequentialSlice::new(input, 1, frames_in).expect("one channel fits its own length");
    let mut output =
        SequentialSlice::new_mut(block, 1, frames_out).expect("one channel fits its own length");
    engine
        .process_into_buffer(&input, &mut output, indexing.as_ref())
        .expect("both buffers have the sizes that the library asked for")
}

fn engine(
    rate: NonZeroU32,
    wanted: NonZeroU32,
) -> Result<Box<dyn rubato::Resampler<f32>>, ResampleError> {
    let hz = rate.get() as usize;
    let refused = |reason: String| ResampleError { rate: rate.get(), reason };
    let step = ((f64::from(rate.get()) * STEP_S) as usize).max(1);
    let fft = Fft::new_custom(
        hz,
        wanted.get() as usize,
        step,
        1,
        1,
        WindowFunction::BlackmanHarris2,
        FixedSync::Both,
    )
    .map_err(|e| refused(e.to_string()))?;
    if (fft.fft_size_in() as f64) <= f64::from(rate.get()) * LONGEST_TRANSFORM_S {
        return Ok(Box::new(fft));
    }
    // Rates without a large common divisor (11127 and 16000, say) need long transforms.
    let sinc = Async::new_sinc(
        f64::from(wanted.get()) / f64::from(rate.get()),
        1.0,
        &SincInterpolationParameters::default(),
        step,
        1,
        FixedAsync::Input,
    )
    .map_err(|e| refused(e.to_string()))?;
    Ok(Box::new(sinc))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn resample(rate: u32, input: &[f32], pieces: usize) -> Vec<f32> {
        let mut resampler = Resampler::new(NonZeroU32::new(rate).unwrap()).unwrap();
        let mut out = Vec::new();
        for piece in input.chunks(pieces) {
            resampler.push(piece, &mut out);
        }
        resampler.finish(&mut out);
        out
    }

    /// Place of the greatest magnitude, in seconds.
    fn loudest_s(samples: &[f32]) -> f64 {
        let (place, _) = samples
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            .expect("there is sound");
        place as f64 / f64::from(RATE.get())
    }

    #[test]
    fn a_click_stays_where_it_was_within_a_millisecond() {
        for rate in
            [8_000, 11_025, 11_127, 16_000, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000]
        {
            for second in [0.0, 0.0137, 0.5, 0.977] {
                let mut input = vec![0.0; rate as usize];
                let place = (second * f64::from(rate)).round() as usize;
                input[place] = 0.9;
                let out = resample(rate, &input, 333);
                let found = loudest_s(&out);
                let error_ms = (found - place as f64 / f64::from(rate)) * 1000.0;
                assert!(error_ms.abs() < 0.1, "{rate} Hz, click at {second} s: {error_ms} ms off");
            }
        }
    }

    #[test]
    fn a_voice_band_tone_keeps_its_level_and_what_16_khz_cannot_hold_is_gone() {
        for (rate, hz, least, most) in [
            (44_100, 1_000.0, 0.99, 1.01),
            (48_000, 1_000.0, 0.99, 1.01),
            (48_000, 6_000.0, 0.95, 1.02),
            (44_100, 6_000.0, 0.95, 1.02),
            (8_000, 1_000.0, 0.99, 1.01),
            (48_000, 10_000.0, 0.0, 0.01),
            (44_100, 12_000.0, 0.0, 0.01),
            (11_127, 1_000.0, 0.99, 1.01),
        ] {
            let input: Vec<f32> = (0..rate)
                .map(|i| (TAU * hz * f64::from(i) / f64::from(rate)).sin() as f32 * 0.5)
                .collect();
            let out = resample(rate, &input, 441);
            let middle = &out[4_000..12_000];
            let power = middle.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / 8_000.0;
            let gain = power.sqrt() / (0.5 / 2f64.sqrt());
            assert!((least..=most).contains(&gain), "{hz} Hz at {rate}: gain {gain}");
        }
    }

    #[test]
    fn after_finish_it_is_as_new() {
        let mut resampler = Resampler::new(NonZeroU32::new(48_000).unwrap()).unwrap();
        let mut click = vec![0.0; 9_600];
        click[4_800] = 0.9;
        for _ in 0..3 {
            let mut out = Vec::new();
            resampler.push(&click, &mut out);
            resampler.finish(&mut out);
            assert_eq!(out.len(), 3_200);
            assert!((loudest_s(&out) - 0.1).abs() < 0.001);
        }
    }

    #[test]
    fn a_live_word_waits_less_than_25_ms() {
        for rate in [8_000, 44_100, 48_000, 96_000] {
            let mut resampler = Resampler::new(NonZeroU32::new(rate).unwrap()).unwrap();
            let mut out = Vec::new();
            resampler.push(&vec![0.1; rate as usize], &mut out);
            let behind = RATE.get() as usize - out.len();
            assert!(behind < 400, "{rate} Hz: {behind} samples behind");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
        #[test]
        fn however_it_is_cut_the_output_is_the_same_and_of_the_right_length(
            rate in prop_oneof![Just(8_000u32), Just(22_050), Just(44_100), Just(48_000), 4_000u32..100_000],
            length in 0usize..5_000,
            pieces in 1usize..700,
        ) {
            let input: Vec<f32> = (0..length).map(|i| ((i * 37 % 101) as f32 / 101.0) - 0.5).collect();
            let whole = resample(rate, &input, length.max(1));
            let cut = resample(rate, &input, pieces);
            prop_assert_eq!(whole.len(), (length * 16_000).div_ceil(rate as usize));
            prop_assert_eq!(&whole, &cut);
            prop_assert!(whole.iter().all(|s| s.is_finite()));
        }
    }
}
