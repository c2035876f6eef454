//! Segments of speech on their way to a recogniser: brought to one level, read ahead while they may be over, and read
//! again when they turned out louder or softer.

use std::sync::Arc;

use super::recent::RecentSound;
use super::recogniser::{Alternative, Passage, Recognise};

/// The level that speech is brought to: root mean square of its loud parts (full scale is 1), and the
/// greatest sample allowed.
const LEVEL: f64 = 0.1;
const PEAK: f64 = 0.95;
/// A level that is off by more than this factor (1.5 dB) is worth reading again.
const OFF: f64 = 1.19;

/// How samples are brought to the level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    mean: f64,
    gain: f64,
}

impl Scale {
    /// For these samples.
    pub(super) fn of(samples: &[i16]) -> Self {
        let values: Vec<f64> = samples.iter().map(|s| f64::from(*s) / 32_768.0).collect();
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let power =
            |part: &[f64]| part.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / part.len() as f64;
        let powers: Vec<f64> = values.chunks(160).map(power).collect();
        let loudest = powers.iter().copied().fold(0.0, f64::max);
        let loud: Vec<f64> = powers.into_iter().filter(|p| *p > loudest / 100.0).collect();
        let level = (loud.iter().sum::<f64>() / loud.len().max(1) as f64).sqrt().max(1e-5);
        let peak = values.iter().map(|v| (v - mean).abs()).fold(1e-5, f64::max);
        Scale { mean, gain: (LEVEL / level).min(PEAK / peak) }
    }

    /// The samples at the level.
    pub(super) fn apply(self, samples: &[i16]) -> Vec<i16> {
        let scaled =
            |s: &i16| ((f64::from(*s) / 32_768.0 - self.mean) * self.gain * 32_768.0) as i16;
        samples.iter().map(scaled).collect()
    }

    fn is_off(self, better: Scale) -> bool {
        let factor = self.gain / better.gain;
        !(1.0 / OFF..=OFF).contains(&factor)
    }
}

/// Reads one segment after the other with one recogniser.
pub(super) struct Reader {
    recogniser: Arc<dyn Recognise>,
    /// The segment that is being read, and how it is brought to the level.
    begun: Option<(Scale, Passage)>,
}

impl Reader {
    pub(super) fn new(recogniser: Arc<dyn Recognise>) -> Self {
        Reader { recogniser, begun: None }
    }

    /// Reads `from` up to `to` as far as it has not yet.
    pub(super) fn ahead(&mut self, sound: &RecentSound, from: u64, to: u64) {
        let (first, samples) = sound.between(from, to);
        let better = Scale::of(&samples);
        if self.begun.as_ref().is_some_and(|(scale, _)| scale.is_off(better)) {
            self.give_up();
        }
        let begin = || (better, Passage::through(&self.recogniser));
        let (scale, passage) = self.begun.get_or_insert_with(begin);
        let done = passage.fed().min(samples.len());
        debug_assert!(first == from || done == 0, "enough sound is kept for a segment");
        passage.feed(&scale.apply(&samples[done..]));
    }

    /// Reads to the end of the segment; its readings, best first; `None` when the recogniser ended over it.
    pub(super) fn finish(
        &mut self,
        sound: &RecentSound,
        from: u64,
        to: u64,
    ) -> Option<Vec<Alternative>> {
        self.ahead(sound, from, to);
        let (_, passage) = self.begun.take()?;
        passage.finish()
    }

    /// Reads a whole segment that was made elsewhere; its readings, best first; `None` when the recogniser ended over it.
    pub(super) fn whole(&mut self, samples: &[i16]) -> Option<Vec<Alternative>> {
        self.give_up();
        let mut passage = Passage::through(&self.recogniser);
        passage.feed(&Scale::of(samples).apply(samples));
        passage.finish()
    }

    /// Gives up the segment that is being read.
    pub(super) fn give_up(&mut self) {
        self.begun = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(amplitude: f64, offset: f64) -> Vec<i16> {
        (0..8_000).map(|i| (offset + amplitude * (f64::from(i) * 0.3).sin()) as i16).collect()
    }

    #[test]
    fn soft_and_loud_come_out_alike_and_an_offset_goes() {
        for (amplitude, offset) in [(300.0, 0.0), (9_000.0, 0.0), (300.0, 2_000.0)] {
            let samples = tone(amplitude, offset);
            let even = Scale::of(&samples).apply(&samples);
            let square = even.iter().map(|s| (f64::from(*s) / 32_768.0).powi(2)).sum::<f64>();
            let level = (square / even.len() as f64).sqrt();
            assert!((level - LEVEL).abs() < 0.002, "{amplitude} {offset}: {level}");
        }
    }

    #[test]
    fn silence_and_nothing_do_no_harm() {
        assert_eq!(Scale::of(&[]).apply(&[]), Vec::<i16>::new());
        assert!(Scale::of(&[0; 400]).apply(&[0; 400]).iter().all(|s| *s == 0));
    }
}
