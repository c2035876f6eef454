//! Sound to a short description of it, 10 ms at a time: what is kept of a sound that somebody taught. Pure.
//!
//! Mel-frequency cepstral coefficients and their slopes, in one byte each. The pitch is smoothed away, and the
//! sound cannot be played back from them.

use realfft::RealFftPlanner;
use serde::{Deserialize, Serialize};

/// Samples between two frames (10 ms) and in a frame (25 ms), at 16 kHz.
const HOP: usize = 160;
const FRAME: usize = 400;
const FFT: usize = 512;
/// Bands, from and to which frequency in Hz.
const BANDS: usize = 26;
const BAND_HZ: (f32, f32) = (100.0, 7_200.0);
/// Coefficients kept of a frame, the level among them.
const COEFFICIENTS: usize = 13;
/// Values of a frame: the coefficients and their slopes.
pub(super) const VALUES: usize = 2 * COEFFICIENTS;
/// What is further below the loudest band than this (in dB) is the room.
const DEPTH_DB: f32 = 45.0;
/// dB in a natural logarithm of power.
const DB: f32 = 10.0 / std::f32::consts::LN_10;
/// How much of the room's noise is taken out, and how much at least is left.
const TAKEN_OUT: f32 = 0.7;
const LEFT: f32 = 0.3;
/// A sound begins and ends where its level has come this share of the way (in dB) from its softest tenth, or
/// from so far below its loudest frame; and this many frames more.
const LOUD: f32 = 0.25;
const DEEP_DB: f32 = 35.0;
const MARGIN: usize = 4;
const STEADY_DB: f32 = 6.0;
/// Frames on either side over which a slope is taken.
const REACH: usize = 2;
/// Steps of a byte in one unit of a coefficient.
const SCALE: f32 = 8.0;

/// A sound, described.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Features(Vec<Vec<i8>>);

impl Features {
    /// Of samples at 16 kHz, whatever their level. `room` is what was heard just before: its noise is taken
    /// out. Soft ends are left out; empty when nothing is as long as a frame.
    pub fn of(samples: &[i16], room: &[i16]) -> Self {
        let mut logs = log_bands(samples);
        take_out(&mut logs, &log_bands(room));
        let (from, to) = loud_part(&logs);
        let logs = &logs[from..to];
        let loudest = logs.iter().flatten().copied().fold(f32::MIN, f32::max);
        let floor = loudest - DEPTH_DB / DB;
        let cepstra: Vec<[f32; COEFFICIENTS]> =
            logs.iter().map(|bands| cosine(&bands.map(|band| band.max(floor) - loudest))).collect();
        let frames = (0..cepstra.len()).map(|place| {
            let slope = slope(&cepstra, place);
            let values = cepstra[place].iter().zip(WEIGHTS).map(|(v, weight)| v * weight);
            let slopes = slope.iter().zip(WEIGHTS).map(|(v, weight)| v * weight * SLOPE_WEIGHT);
            values.chain(slopes).map(quantised).collect()
        });
        Features(frames.collect())
    }

    /// Frames of 10 ms.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether every frame has the values that this version keeps.
    pub(super) fn is_whole(&self) -> bool {
        self.0.iter().all(|frame| frame.len() == VALUES)
    }

    /// One frame.
    pub(super) fn frame(&self, place: usize) -> &[i8] {
        &self.0[place]
    }
}

/// How much each coefficient counts: about the inverse of how far it spreads within one word of one speaker.
const WEIGHTS: [f32; COEFFICIENTS] =
    [0.35, 0.8, 1.0, 1.0, 1.1, 1.1, 1.2, 1.2, 1.3, 1.3, 1.4, 1.4, 1.4];
/// How much a slope counts beside the value itself.
const SLOPE_WEIGHT: f32 = 1.5;

fn quantised(value: f32) -> i8 {
    (value * SCALE).round().clamp(-127.0, 127.0) as i8
}

/// Takes a steady noise out of each band; some is left, so that no hole sounds like something.
fn take_out(logs: &mut [[f32; BANDS]], room: &[[f32; BANDS]]) {
    if room.is_empty() {
        return;
    }
    for band in 0..BANDS {
        let noise = room.iter().map(|frame| frame[band].exp()).sum::<f32>() / room.len() as f32;
        for frame in logs.iter_mut() {
            let clean = frame[band].exp() - TAKEN_OUT * noise;
            frame[band] = clean.max(LEFT * noise).max(1e-9).ln();
        }
    }
}

/// The first frame that is loud enough to belong to the sound, and the frame after the last.
fn loud_part(logs: &[[f32; BANDS]]) -> (usize, usize) {
    let level = |bands: &[f32; BANDS]| bands.iter().map(|b| b.exp()).sum::<f32>().ln();
    let levels: Vec<f32> = logs.iter().map(level).collect();
    let mut sorted = levels.clone();
    sorted.sort_by(f32::total_cmp);
    let (Some(most), Some(low)) = (sorted.last(), sorted.get(sorted.len() / 10)) else {
        return (0, 0);
    };
    let low = low.max(most - DEEP_DB / DB);
    // A hum has no soft ends: what is within the last bound of its loudest always belongs to it.
    let enough = (low + LOUD * (most - low)).min(most - STEADY_DB / DB);
    let first = levels.iter().position(|level| *level >= enough).unwrap_or(0);
    let last = levels.iter().rposition(|level| *level >= enough).unwrap_or(0);
    (first.saturating_sub(MARGIN), (last + 1 + MARGIN).min(logs.len()))
}

/// Natural logarithm of each band's power, a frame at a time.
fn log_bands(samples: &[i16]) -> Vec<[f32; BANDS]> {
    if samples.len() < FRAME {
        return Vec::new();
    }
    let plan = RealFftPlanner::<f32>::new().plan_fft_forward(FFT);
    let mut input = plan.make_input_vec();
    let mut spectrum = plan.make_output_vec();
    let filters = filters();
    let window: Vec<f32> = (0..FRAME)
        .map(|i| 0.5 - 0.5 * (std::f32::consts::TAU * i as f32 / (FRAME - 1) as f32).cos())
        .collect();
    let frames = (samples.len() - FRAME) / HOP + 1;
    let mut logs = Vec::with_capacity(frames);
    for first in (0..frames).map(|frame| frame * HOP) {
        input.fill(0.0);
        for (i, value) in input.iter_mut().take(FRAME).enumerate() {
            let this = f32::from(samples[first + i]);
            let last = if first + i > 0 { f32::from(samples[first + i - 1]) } else { this };
            *value = (this - 0.97 * last) / 32_768.0 * window[i];
        }
        // Its only error is buffers of a wrong length.
        let done = plan.process(&mut input, &mut spectrum);
        debug_assert!(done.is_ok(), "buffers are the plan's own");
        let power: Vec<f32> =
            spectrum.iter().map(realfft::num_complex::Complex::norm_sqr).collect();
        logs.push(std::array::from_fn(|band| {
            let sum: f32 = filters[band].iter().map(|(bin, share)| share * power[*bin]).sum();
            (sum + 1e-9).ln()
        }));
    }
    logs
}

/// Overlapping triangles, evenly spaced on the mel scale: bins and their shares.
fn filters() -> [Vec<(usize, f32)>; BANDS] {
    let mel = |hz: f32| 1_127.0 * (1.0 + hz / 700.0).ln();
    let (low, high) = (mel(BAND_HZ.0), mel(BAND_HZ.1));
    let corner = |place: usize| low + (high - low) * place as f32 / (BANDS + 1) as f32;
    std::array::from_fn(|band| {
        let (from, middle, to) = (corner(band), corner(band + 1), corner(band + 2));
        (1..FFT / 2)
            .filter_map(|bin| {
                let here = mel(bin as f32 * 16_000.0 / FFT as f32);
                let share = ((here - from) / (middle - from)).min((to - here) / (to - middle));
                (share > 0.0).then_some((bin, share))
            })
            .collect()
    })
}

/// Discrete cosine transform (type II, orthonormal), as far as it is kept.
fn cosine(bands: &[f32; BANDS]) -> [f32; COEFFICIENTS] {
    std::array::from_fn(|row| {
        let turn = std::f32::consts::PI * row as f32 / BANDS as f32;
        let sum: f32 =
            bands.iter().enumerate().map(|(i, band)| band * (turn * (i as f32 + 0.5)).cos()).sum();
        sum * if row == 0 { 1.0 / BANDS as f32 } else { 2.0 / BANDS as f32 }.sqrt()
    })
}

/// Least-squares slope over the frames around `place`.
fn slope(cepstra: &[[f32; COEFFICIENTS]], place: usize) -> [f32; COEFFICIENTS] {
    let last = cepstra.len() - 1;
    std::array::from_fn(|row| {
        let sum: f32 = (1..=REACH)
            .map(|k| {
                let after = cepstra[(place + k).min(last)][row];
                let before = cepstra[place.saturating_sub(k)][row];
                k as f32 * (after - before)
            })
            .sum();
        sum / (2 * (1..=REACH).map(|k| k * k).sum::<usize>()) as f32
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f32, amplitude: f32) -> Vec<i16> {
        (0..4_800)
            .map(|i| (amplitude * (i as f32 * hz * std::f32::consts::TAU / 16_000.0).sin()) as i16)
            .collect()
    }

    #[test]
    fn level_makes_no_difference_and_pitch_of_a_tone_does() {
        let of = |hz, amplitude| Features::of(&tone(hz, amplitude), &[]);
        let (loud, soft) = (of(900.0, 9_000.0), of(900.0, 900.0));
        assert_eq!(loud.len(), (4_800 - FRAME) / HOP + 1);
        let off = |a: &Features, b: &Features| {
            (0..a.len())
                .flat_map(|i| a.frame(i).iter().zip(b.frame(i)).map(|(a, b)| a.abs_diff(*b)))
                .max()
        };
        assert!(off(&loud, &soft) <= Some(2), "{:?}", off(&loud, &soft));
        assert!(off(&loud, &of(1_500.0, 9_000.0)) > Some(10));
        assert!(loud.is_whole());
    }

    #[test]
    fn nothing_gives_nothing_and_silence_does_no_harm() {
        assert!(Features::of(&[], &[]).is_empty() && Features::of(&[5; 399], &[]).is_empty());
        assert!(Features::of(&[0; 1_600], &[0; 1_600]).is_whole());
    }
}
