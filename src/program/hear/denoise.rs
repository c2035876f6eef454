//! Speech with less of the room's noise in it, by a small neural network (crate `nnnoiseless`). Pure.

use std::num::NonZeroU32;

use nnnoiseless::DenoiseState;

use crate::audio::RATE;
use crate::audio::resample::Resampler;

/// The rate that the network was trained for.
const ITS_RATE: NonZeroU32 = NonZeroU32::new(48_000).expect("48 000 is not zero");
/// What stays of the sound as it was: the network also takes away some of the speech. Chosen on the tuning half of
/// the speakers; the figures stand in tests/bench.d/RESULTS.md.
const KEPT: f32 = 0.3;

/// The same samples with less noise; as they were where a rate cannot be resampled.
pub(super) fn denoised(samples: &[i16]) -> Vec<i16> {
    let sound: Vec<f32> = samples.iter().map(|sample| f32::from(*sample)).collect();
    let Some(at_its_rate) = resampled(&sound, RATE, ITS_RATE) else { return samples.to_vec() };
    let Some(clean) = resampled(&cleaned(&at_its_rate), ITS_RATE, RATE) else {
        return samples.to_vec();
    };
    let mixed = |(clean, noisy): (&f32, &f32)| ((1.0 - KEPT) * clean + KEPT * noisy) as i16;
    clean.iter().zip(&sound).map(mixed).collect()
}

fn cleaned(sound: &[f32]) -> Vec<f32> {
    let mut network = DenoiseState::new();
    let mut clean = Vec::with_capacity(sound.len() + DenoiseState::FRAME_SIZE);
    let mut frame = [0.0; DenoiseState::FRAME_SIZE];
    let mut out = [0.0; DenoiseState::FRAME_SIZE];
    // What comes out belongs to the frame before, so one more goes in.
    let frames = sound.len().div_ceil(DenoiseState::FRAME_SIZE) + 1;
    let mut pieces = sound.chunks(DenoiseState::FRAME_SIZE);
    for index in 0..frames {
        let piece = pieces.next().unwrap_or_default();
        frame[..piece.len()].copy_from_slice(piece);
        frame[piece.len()..].fill(0.0);
        network.process_frame(&mut out, &frame);
        if index > 0 {
            clean.extend_from_slice(&out);
        }
    }
    clean.truncate(sound.len());
    clean
}

fn resampled(sound: &[f32], from: NonZeroU32, to: NonZeroU32) -> Option<Vec<f32>> {
    let mut resampler = Resampler::between(from, to).ok()?;
    let mut out = Vec::new();
    resampler.push(sound, &mut out);
    resampler.finish(&mut out);
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;

    fn power(samples: &[i16]) -> f64 {
        samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len() as f64
    }

    #[test]
    fn hiss_goes_down() {
        let noisy: Vec<i16> = hiss(1).take(48_000).map(|noise| (500.0 * noise) as i16).collect();
        let clean = denoised(&noisy);
        assert_eq!(clean.len(), noisy.len());
        let (before, after) = (power(&noisy[16_000..]), power(&clean[16_000..]));
        // With nothing left but the part that is kept it would be 10.5 dB.
        assert!(10.0 * (before / after).log10() > 8.0, "{before} {after}");
    }

    /// A vowel of many harmonics that comes and goes four times a second.
    fn vowel(rate: f32, seconds: f32) -> Vec<f32> {
        let sample = |index: usize| {
            let t = index as f32 / rate;
            let loud = (t * 4.0 * std::f32::consts::PI).sin().powi(2);
            let harmonics = (1..20).map(|n| (t * 140.0 * n as f32 * std::f32::consts::TAU).sin());
            loud * 600.0 * harmonics.sum::<f32>()
        };
        (0..(rate * seconds) as usize).map(sample).collect()
    }

    #[test]
    fn a_voice_stays_where_it_was() {
        let voice = vowel(48_000.0, 2.0);
        let clean = cleaned(&voice);
        assert_eq!(clean.len(), voice.len());
        let product = |lag: usize| -> f32 {
            voice[24_000..80_000].iter().zip(&clean[24_000 + lag..]).map(|(a, b)| a * b).sum()
        };
        let best = (0..1_000).max_by(|a, b| product(*a).total_cmp(&product(*b))).unwrap();
        // A tenth of a step of the gate.
        assert!(best < 48, "{best} samples late");
    }
}
