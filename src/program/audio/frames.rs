//! Mono samples at any rate to numbered 16 kHz frames.

use std::collections::VecDeque;
use std::num::NonZeroU32;

use super::resample::{ResampleError, Resampler};
use super::{FRAME, Frame, to_i16};

/// Resamples, cuts into frames and numbers them.
pub struct Framer {
    resampler: Resampler,
    next_sample: u64,
    sound: Vec<f32>,
    ready: VecDeque<Frame>,
}

impl Framer {
    /// Frames from mono sound at `rate`, the first of them numbered `first_sample` (at 16 kHz).
    ///
    /// # Errors
    /// [`ResampleError`] if the rate cannot be brought to 16 kHz.
    pub fn new(rate: NonZeroU32, first_sample: u64) -> Result<Self, ResampleError> {
        Ok(Framer {
            resampler: Resampler::new(rate)?,
            next_sample: first_sample,
            sound: Vec::new(),
            ready: VecDeque::new(),
        })
    }

    /// Takes samples at the input's rate.
    pub fn push(&mut self, input: &[f32]) {
        self.resampler.push(input, &mut self.sound);
        let whole = self.sound.len() / FRAME * FRAME;
        self.cut(whole);
    }

    /// Gives out all that is held, as a last frame that may be short.
    pub fn finish(&mut self) {
        self.resampler.finish(&mut self.sound);
        self.cut(self.sound.len());
    }

    /// The next frame in order.
    pub fn pop(&mut self) -> Option<Frame> {
        self.ready.pop_front()
    }

    /// Number of the next sample (at 16 kHz) that is not in a frame yet.
    pub fn next_sample(&self) -> u64 {
        self.next_sample
    }

    /// Number (at 16 kHz) of the sample that comes next from the input: all that was pushed is counted,
    /// though the resampler may still hold some of it.
    pub fn taken_to(&self) -> u64 {
        self.next_sample + self.sound.len() as u64 + self.resampler.held()
    }

    /// Ends the sound so far and goes on at sample `number`: after a gap. Never goes back.
    pub fn jump_to(&mut self, number: u64) {
        self.finish();
        self.next_sample = self.next_sample.max(number);
    }

    fn cut(&mut self, samples: usize) {
        for piece in self.sound[..samples].chunks(FRAME) {
            let frame = Frame {
                first_sample: self.next_sample,
                samples: piece.iter().map(|s| to_i16(*s)).collect(),
            };
            self.next_sample = frame.end_sample();
            self.ready.push_back(frame);
        }
        self.sound.drain(..samples);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::RATE;
    use proptest::prelude::*;

    fn all(framer: &mut Framer) -> Vec<Frame> {
        std::iter::from_fn(|| framer.pop()).collect()
    }

    #[test]
    fn frames_follow_each_other_and_a_jump_leaves_a_hole() {
        let mut framer = Framer::new(RATE, 0).unwrap();
        framer.push(&[0.25; 600]);
        framer.jump_to(10_000);
        framer.push(&[0.5; 300]);
        framer.finish();
        let starts: Vec<_> =
            all(&mut framer).iter().map(|f| (f.first_sample, f.samples.len())).collect();
        assert_eq!(starts, [(0, 256), (256, 256), (512, 88), (10_000, 256), (10_256, 44)]);
    }

    #[test]
    fn samples_are_clipped_and_never_wrap() {
        assert_eq!([to_i16(1.5), to_i16(-1.5), to_i16(f32::NAN)], [i16::MAX, i16::MIN, 0]);
        assert_eq!(to_i16(0.5), 16_384);
    }

    proptest! {
        #[test]
        fn no_frame_overlaps_another(
            pushes in proptest::collection::vec((0usize..2_000, proptest::option::of(0u64..40_000)), 0..12),
        ) {
            let mut framer = Framer::new(NonZeroU32::new(48_000).unwrap(), 0).unwrap();
            for (length, jump) in pushes {
                framer.push(&vec![0.1; length]);
                if let Some(to) = jump {
                    framer.jump_to(to);
                }
            }
            framer.finish();
            let mut end = 0;
            for frame in all(&mut framer) {
                prop_assert!(frame.first_sample >= end);
                prop_assert!(!frame.samples.is_empty() && frame.samples.len() <= FRAME);
                end = frame.end_sample();
            }
        }
    }
}
