//! One sound on its way out: says when it began and ended, and can be cut off softly at any moment.

use std::num::{NonZeroU16, NonZeroU32};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// How far a sound has got, seen from outside the sound system's callback.
#[derive(Debug, Default)]
pub(crate) struct Progress {
    pub(crate) started: AtomicBool,
    /// Set when the sound is over, or was dropped with its device.
    pub(crate) ended: AtomicBool,
    /// Set when it was cut off.
    pub(crate) cut: AtomicBool,
}

/// Samples with a count of stops: when the count moves on, what plays fades and ends.
pub(crate) struct Playing {
    samples: Arc<[f32]>,
    rate: NonZeroU32,
    next: usize,
    progress: Arc<Progress>,
    stops: Arc<AtomicU64>,
    /// The count when the sound was asked for.
    born: u64,
    /// Samples left of a fade, once stopped.
    fading: Option<usize>,
}

/// A stop takes this long: at once to a person, and without a click.
const STOP_FADE_MS: u64 = 15;

impl Playing {
    pub(crate) fn new(
        samples: Arc<[f32]>,
        rate: NonZeroU32,
        progress: Arc<Progress>,
        stops: Arc<AtomicU64>,
        born: u64,
    ) -> Self {
        Playing { samples, rate, next: 0, progress, stops, born, fading: None }
    }

    fn fade_length(&self) -> usize {
        (u64::from(self.rate.get()) * STOP_FADE_MS / 1_000).max(1) as usize
    }
}

impl Iterator for Playing {
    type Item = f32;

    fn next(&mut self) -> Option<f32> {
        let Some(sample) = self.samples.get(self.next).copied() else {
            self.progress.ended.store(true, Ordering::Release);
            return None;
        };
        if self.next == 0 {
            self.progress.started.store(true, Ordering::Release);
        }
        self.next += 1;
        if self.fading.is_none() && self.stops.load(Ordering::Acquire) != self.born {
            self.progress.cut.store(true, Ordering::Release);
            self.fading = Some(self.fade_length());
        }
        let Some(left) = &mut self.fading else { return Some(sample) };
        if *left == 0 {
            self.next = self.samples.len();
            self.progress.ended.store(true, Ordering::Release);
            return None;
        }
        *left -= 1;
        let share = *left as f32;
        Some(sample * share / self.fade_length() as f32)
    }
}

impl Drop for Playing {
    fn drop(&mut self) {
        self.progress.ended.store(true, Ordering::Release);
    }
}

impl rodio::Source for Playing {
    fn current_span_len(&self) -> Option<usize> {
        None
    }

    fn channels(&self) -> NonZeroU16 {
        NonZeroU16::MIN
    }

    fn sample_rate(&self) -> NonZeroU32 {
        self.rate
    }

    fn total_duration(&self) -> Option<Duration> {
        let nanos = self.samples.len() as u64 * 1_000_000_000 / u64::from(self.rate.get());
        Some(Duration::from_nanos(nanos))
    }
}

/// Silence that counts the samples it gives: while the count goes on, the output is alive.
pub(crate) struct Heartbeat {
    rate: NonZeroU32,
    beats: Arc<AtomicU64>,
}

impl Heartbeat {
    /// The silence, and its count.
    pub(crate) fn new(rate: NonZeroU32) -> (Self, Arc<AtomicU64>) {
        let beats = Arc::new(AtomicU64::new(0));
        (Heartbeat { rate, beats: Arc::clone(&beats) }, beats)
    }
}

impl Iterator for Heartbeat {
    type Item = f32;

    fn next(&mut self) -> Option<f32> {
        self.beats.fetch_add(1, Ordering::Relaxed);
        Some(0.0)
    }
}

impl rodio::Source for Heartbeat {
    fn current_span_len(&self) -> Option<usize> {
        None
    }

    fn channels(&self) -> NonZeroU16 {
        NonZeroU16::MIN
    }

    fn sample_rate(&self) -> NonZeroU32 {
        self.rate
    }

    fn total_duration(&self) -> Option<Duration> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn playing(samples: usize) -> (Playing, Arc<Progress>, Arc<AtomicU64>) {
        let (progress, stops) = (Arc::new(Progress::default()), Arc::new(AtomicU64::new(0)));
        let rate = NonZeroU32::new(10_000).unwrap();
        let sound = vec![1.0; samples].into();
        (Playing::new(sound, rate, Arc::clone(&progress), Arc::clone(&stops), 0), progress, stops)
    }

    #[test]
    fn it_tells_when_it_begins_and_ends() {
        let (mut sound, progress, _) = playing(3);
        assert!(!progress.started.load(Ordering::Acquire));
        assert_eq!(sound.next(), Some(1.0));
        assert!(progress.started.load(Ordering::Acquire));
        assert_eq!(sound.by_ref().count(), 2);
        assert!(progress.ended.load(Ordering::Acquire) && !progress.cut.load(Ordering::Acquire));
    }

    #[test]
    fn a_stop_fades_within_15_ms_without_a_step() {
        let (mut sound, progress, stops) = playing(10_000);
        let before: Vec<f32> = sound.by_ref().take(100).collect();
        stops.fetch_add(1, Ordering::Release);
        let after: Vec<f32> = sound.by_ref().collect();
        assert_eq!(after.len(), 150);
        let whole = [before, after].concat();
        assert!(whole.windows(2).all(|w| (w[1] - w[0]).abs() < 0.01));
        assert_eq!(whole.last(), Some(&0.0));
        assert!(progress.cut.load(Ordering::Acquire) && progress.ended.load(Ordering::Acquire));
        assert_eq!(sound.next(), None);
    }

    #[test]
    fn a_sound_whose_device_is_gone_has_ended() {
        let (sound, progress, _) = playing(100);
        drop(sound);
        assert!(progress.ended.load(Ordering::Acquire));
    }
}
