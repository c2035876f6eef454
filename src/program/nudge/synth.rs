//! A nudge's definition to samples. Pure.

use std::f32::consts::PI;
use std::num::NonZeroU32;
use std::time::Duration;

use super::signals::Nudge;
use crate::playback::player::{Lane, Sound};

/// A nudge that comes later than this says nothing any more.
const STALE_NUDGE: Duration = Duration::from_secs(1);
/// Nudges are made at this rate; the output turns them into its own.
const NUDGE_RATE: NonZeroU32 = NonZeroU32::new(48_000).expect("48 000 is not zero");

/// Silence that belongs to every nudge: two in a row would else be heard as the rhythm of a third.
const REST_AFTER_MS: usize = 400;

impl Nudge {
    /// Its sound: mono samples in [-1, 1] at `rate`. `louder_db` is added to its level, up to the
    /// loudest that a nudge may be.
    pub fn sound(&self, rate: NonZeroU32, louder_db: f32) -> Vec<f32> {
        render(self, rate, self.level_dbfs(louder_db))
    }
}

impl Sound {
    /// A nudge, `louder_db` above its own level.
    pub fn nudge(nudge: &Nudge, louder_db: f32) -> Self {
        let mut samples = nudge.sound(NUDGE_RATE, louder_db);
        let rest = NUDGE_RATE.get() as usize * REST_AFTER_MS / 1_000;
        samples.resize(samples.len() + rest, 0.0);
        Sound {
            samples: samples.into(),
            rate: NUDGE_RATE,
            lane: Lane::Nudge,
            stale_after: Some(STALE_NUDGE),
        }
    }
}

/// Renders `nudge` at `rate` with tones of loudness `level_dbfs` (RMS of their steady part).
fn render(nudge: &Nudge, rate: NonZeroU32, level_dbfs: f32) -> Vec<f32> {
    let samples = |ms: u32| (u64::from(ms) * u64::from(rate.get()) / 1_000) as usize;
    let amplitude = 10f32.powf(level_dbfs / 20.0) * std::f32::consts::SQRT_2;
    let mut sound = Vec::with_capacity(samples(nudge.length_ms()) + 1);
    for (number, tone) in nudge.rhythm.iter().enumerate() {
        if number > 0 {
            sound.resize(sound.len() + samples(nudge.rest_ms), 0.0);
        }
        let (length, fade) = (samples(nudge.tone_ms(*tone)), samples(nudge.fade_ms));
        sound.extend((0..length).map(|i| {
            let wave = sine(nudge.pitch_hz, i, rate);
            amplitude * wave * edge(i, fade) * edge(length - 1 - i, fade)
        }));
    }
    sound
}

/// A sine wave; the phase is reckoned in f64, so that long tones stay pure.
fn sine(pitch_hz: f32, i: usize, rate: NonZeroU32) -> f32 {
    let turns = f64::from(pitch_hz) * i as f64 / f64::from(rate.get());
    (turns.fract() * std::f64::consts::TAU).sin() as f32
}

/// A raised cosine from 0 at the edge to 1, `fade` samples away from it.
fn edge(distance: usize, fade: usize) -> f32 {
    if distance >= fade {
        return 1.0;
    }
    0.5 - 0.5 * (PI * distance as f32 / fade as f32).cos()
}

#[cfg(test)]
mod tests {
    use super::super::signals::{Signal, Signals, Tone};
    use super::*;
    use crate::session::NudgeFamily;
    use realfft::RealFftPlanner;

    const RATE: NonZeroU32 = NonZeroU32::new(48_000).unwrap();

    /// Loudness over each millisecond.
    fn envelope(sound: &[f32]) -> Vec<f32> {
        // Five milliseconds hold more than one period of every nudge.
        let window = 48 * 5;
        sound.windows(window).step_by(48).map(rms).collect()
    }

    fn rms(samples: &[f32]) -> f32 {
        (samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32).sqrt()
    }

    /// Tones and rests as they can be heard: lengths in ms above a tenth of full loudness.
    fn heard_pattern(sound: &[f32], level_dbfs: f32) -> Vec<(bool, usize)> {
        let limit = 10f32.powf(level_dbfs / 20.0) * 0.1;
        let mut runs: Vec<(bool, usize)> = Vec::new();
        for loud in envelope(sound).iter().map(|e| *e > limit) {
            match runs.last_mut() {
                Some((last, length)) if *last == loud => *length += 1,
                _ => runs.push((loud, 1)),
            }
        }
        runs
    }

    #[test]
    fn the_steady_part_has_the_level_that_is_asked_for() {
        for nudge in Signals::built_in().all() {
            let long = Nudge { rhythm: vec![Tone::Long], ..nudge.clone() };
            let sound = long.sound(RATE, 0.0);
            let fade = 48 * nudge.fade_ms as usize;
            let measured = 20.0 * rms(&sound[fade..sound.len() - fade]).log10();
            assert!(
                (measured - nudge.level_dbfs).abs() < 0.2,
                "{}: {measured}",
                nudge.signal.name()
            );
            let whole = 20.0 * rms(&nudge.sound(RATE, 0.0)).log10();
            assert!(whole < -30.0, "{}: {whole} dBFS", nudge.signal.name());
        }
    }

    #[test]
    fn louder_has_a_limit() {
        let signals = Signals::built_in();
        let sound = signals.get(Signal::EndSoon).sound(RATE, 60.0);
        let peak = sound.iter().fold(0f32, |peak, s| peak.max(s.abs()));
        assert!((20.0 * peak.log10() + 17.0).abs() < 0.1, "-20 dBFS RMS peaks at -17");
        assert_eq!(signals.get(Signal::Heard).sound(RATE, f32::NAN).len(), 48 * 90);
    }

    #[test]
    fn every_tone_comes_and_goes_softly() {
        for nudge in Signals::built_in().all() {
            let sound = nudge.sound(RATE, 0.0);
            let envelope = envelope(&sound);
            let top = envelope.iter().fold(0f32, |top, e| top.max(*e));
            // From a tenth to nine tenths a raised cosine of 20 ms takes 11.8 ms.
            let low = envelope.iter().position(|e| *e > 0.1 * top).unwrap();
            let high = envelope.iter().position(|e| *e > 0.9 * top).unwrap();
            assert!(high - low >= 11, "{} rises in {} ms", nudge.signal.name(), high - low);
            assert_eq!(sound[0], 0.0);
            assert!(sound.last().unwrap().abs() < 1e-4);
            let step = sound.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0f32, f32::max);
            let steepest = top * std::f32::consts::SQRT_2 * nudge.pitch_hz * 2.0 * PI / 48_000.0;
            assert!(
                step < steepest * 1.1,
                "{} has no click: {step} against {steepest}",
                nudge.signal.name()
            );
        }
    }

    #[test]
    fn the_pitch_is_the_one_that_is_asked_for_and_nothing_sounds_above_1_khz() {
        for nudge in Signals::built_in().all() {
            let mut sound = nudge.sound(RATE, 0.0);
            sound.resize(65_536, 0.0);
            let fft = RealFftPlanner::<f32>::new().plan_fft_forward(sound.len());
            let mut spectrum = fft.make_output_vec();
            fft.process(&mut sound, &mut spectrum).unwrap();
            let power: Vec<f32> = spectrum.iter().map(|bin| bin.norm_sqr()).collect();
            let hz = |bin: usize| bin as f32 * 48_000.0 / 65_536.0;
            let (peak, _) = power.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).unwrap();
            // Repeated tones split the peak into lines about 1 / (tone + rest) apart, 5 Hz at most.
            assert!(
                (hz(peak) - nudge.pitch_hz).abs() < 6.0,
                "{}: {}",
                nudge.signal.name(),
                hz(peak)
            );
            let total: f32 = power.iter().sum();
            let high: f32 = (0..power.len()).filter(|b| hz(*b) > 1_000.0).map(|b| power[b]).sum();
            assert!(
                high / total < 1e-5,
                "{}: {} of its power above 1 kHz",
                nudge.signal.name(),
                high / total
            );
        }
    }

    #[test]
    fn the_rhythm_can_be_read_from_the_sound() {
        for nudge in Signals::built_in().all() {
            let pattern = heard_pattern(&nudge.sound(RATE, 0.0), nudge.level_dbfs);
            let tones: Vec<Tone> = pattern
                .iter()
                .filter(|(loud, _)| *loud)
                .map(|(_, ms)| if *ms > 160 { Tone::Long } else { Tone::Short })
                .collect();
            assert_eq!(tones, nudge.rhythm, "{}: {pattern:?}", nudge.signal.name());
            let inner = &pattern[1..pattern.len().saturating_sub(1)];
            for (_, rest) in inner.iter().filter(|(loud, _)| !loud) {
                assert!(*rest >= 100, "{}: rest of {rest} ms", nudge.signal.name());
            }
        }
    }

    #[test]
    fn the_length_is_the_one_that_is_told() {
        for nudge in Signals::built_in().all() {
            let samples = nudge.sound(RATE, 0.0).len();
            assert_eq!(samples, 48 * nudge.length_ms() as usize, "{}", nudge.signal.name());
        }
    }

    /// What tells one sound from another, measured: length in ms, tones, centre of gravity of its spectrum in Hz.
    fn measured(nudge: &Nudge) -> (usize, Vec<bool>, f32) {
        let mut sound = nudge.sound(RATE, 0.0);
        let pattern = heard_pattern(&sound, nudge.level_dbfs);
        let tones = pattern.iter().filter(|(loud, _)| *loud).map(|(_, ms)| *ms > 160).collect();
        let length = pattern.iter().map(|(_, ms)| ms).sum();
        sound.resize(65_536, 0.0);
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(sound.len());
        let mut spectrum = fft.make_output_vec();
        fft.process(&mut sound, &mut spectrum).unwrap();
        let (mut weighted, mut total) = (0.0, 0.0);
        for (bin, value) in spectrum.iter().enumerate() {
            weighted += bin as f32 * 48_000.0 / 65_536.0 * value.norm_sqr();
            total += value.norm_sqr();
        }
        (length, tones, weighted / total)
    }

    #[test]
    fn four_sounds_are_told_apart_by_rhythm_and_by_pitch_and_are_quiet_and_low() {
        let signals = Signals::built_in();
        let four: Vec<&Nudge> =
            NudgeFamily::ALL.iter().map(|family| signals.get((*family).into())).collect();
        for (place, one) in four.iter().enumerate() {
            let (length, tones, centre) = measured(one);
            let name = one.signal.name();
            let peak = one.sound(RATE, 0.0).iter().fold(0_f32, |peak, s| peak.max(s.abs()));
            assert!(20.0 * peak.log10() < -30.0, "{name} peaks at {} dBFS", 20.0 * peak.log10());
            assert!((400..900).contains(&length), "{name} lasts {length} ms");
            assert!((centre / one.pitch_hz - 1.0).abs() < 0.03, "{name}: {centre} Hz");
            assert!(centre < 500.0, "{name}: {centre} Hz");
            for other in &four[place + 1..] {
                let (_, rhythm, pitch) = measured(other);
                assert_ne!(tones, rhythm, "{name} and {}", other.signal.name());
                // Above a tone and a half: wide enough for people without training (from memory, no source).
                let ratio = (centre / pitch).max(pitch / centre);
                assert!(ratio > 1.2, "{name} and {}: {ratio}", other.signal.name());
            }
        }
    }
}
