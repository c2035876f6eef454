//! How loud sound is.

use std::collections::VecDeque;
use std::fmt;

use super::{Frame, RATE};

/// What silence reads: below one step of 16-bit sound.
pub const FLOOR_DBFS: f32 = -100.0;

/// Peak and loudness of a run of sound, in dB below full scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The greatest sample; 0 dBFS is the loudest that can be recorded.
    pub peak_dbfs: f32,
    /// Root mean square against full scale: a sine wave as loud as can be reads -3 dBFS.
    pub rms_dbfs: f32,
    /// True if three or more samples in a row are at the limit: the microphone is set too loud.
    pub clipped: bool,
}

impl Level {
    /// The level of silence.
    pub const SILENCE: Level =
        Level { peak_dbfs: FLOOR_DBFS, rms_dbfs: FLOOR_DBFS, clipped: false };

    /// Measures `samples`; [`Level::SILENCE`] if there are none.
    pub fn of(samples: &[i16]) -> Self {
        if samples.is_empty() {
            return Level::SILENCE;
        }
        let peak = samples.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0);
        let square: f64 = samples.iter().map(|s| f64::from(*s).powi(2)).sum();
        let rms = (square / samples.len() as f64).sqrt();
        let at_limit = |s: &i16| *s == i16::MAX || *s == i16::MIN;
        Level {
            peak_dbfs: dbfs(f64::from(peak) / 32_768.0),
            rms_dbfs: dbfs(rms / 32_768.0),
            clipped: samples.windows(3).any(|three| three.iter().all(at_limit)),
        }
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} dB (peak {:.0} dB)", self.rms_dbfs, self.peak_dbfs)
    }
}

/// An amplitude (1 is full scale) in dB below full scale, not below [`FLOOR_DBFS`].
pub fn dbfs(amplitude: f64) -> f32 {
    let decibels = 20.0 * amplitude.abs().log10();
    if decibels.is_nan() { FLOOR_DBFS } else { (decibels as f32).max(FLOOR_DBFS) }
}

/// The level over the last stretch of sound, for a meter that a person watches.
#[derive(Debug, Clone)]
pub struct Meter {
    recent: VecDeque<i16>,
    span: usize,
}

impl Meter {
    /// A meter over the last `milliseconds` (at least one sample).
    pub fn over(milliseconds: u32) -> Self {
        let span = (u64::from(milliseconds) * u64::from(RATE.get()) / 1_000).max(1) as usize;
        Meter { recent: VecDeque::with_capacity(span), span }
    }

    /// Takes the next frame.
    pub fn hear(&mut self, frame: &Frame) {
        self.recent.extend(&frame.samples);
        let surplus = self.recent.len().saturating_sub(self.span);
        self.recent.drain(..surplus);
    }

    /// The level now.
    pub fn level(&mut self) -> Level {
        Level::of(self.recent.make_contiguous())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sine(amplitude: f64) -> Vec<i16> {
        let wave = |i: u32| (std::f64::consts::TAU * f64::from(i) / 16.0).sin() * amplitude;
        (0..1_600).map(|i| wave(i) as i16).collect()
    }

    #[test]
    fn known_waves_have_known_levels() {
        let full = Level::of(&sine(32_767.0));
        assert!((full.peak_dbfs - 0.0).abs() < 0.01 && (full.rms_dbfs + 3.01).abs() < 0.01);
        let tenth = Level::of(&sine(3_276.7));
        assert!((tenth.peak_dbfs + 20.0).abs() < 0.01 && (tenth.rms_dbfs + 23.01).abs() < 0.02);
        assert_eq!(Level::of(&[]), Level::SILENCE);
        assert_eq!(Level::of(&[0; 100]), Level::SILENCE);
    }

    #[test]
    fn clipping_is_three_in_a_row_at_the_limit() {
        assert!(Level::of(&[0, i16::MAX, i16::MAX, i16::MAX, 0]).clipped);
        assert!(Level::of(&[i16::MIN; 3]).clipped);
        assert!(!Level::of(&[i16::MAX, i16::MAX, 0, i16::MAX]).clipped);
    }

    #[test]
    fn the_meter_forgets_what_is_past() {
        let mut meter = Meter::over(100);
        assert_eq!(meter.level(), Level::SILENCE);
        let frame = |first_sample, samples| Frame { first_sample, samples };
        meter.hear(&frame(0, vec![i16::MAX; 1_000]));
        assert!(meter.level().clipped);
        meter.hear(&frame(1_000, vec![0; 1_600]));
        assert_eq!(meter.level(), Level::SILENCE);
    }

    proptest! {
        #[test]
        fn rms_never_exceeds_peak(samples in proptest::collection::vec(any::<i16>(), 1..400)) {
            let level = Level::of(&samples);
            prop_assert!(level.rms_dbfs <= level.peak_dbfs + 1e-4);
            prop_assert!((FLOOR_DBFS..=0.0001).contains(&level.peak_dbfs));
        }
    }
}
