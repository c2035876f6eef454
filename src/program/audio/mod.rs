//! Sound from devices and files to 16 kHz mono frames. Never decides what a sound means.
//!
//! | part | takes | gives |
//! |---|---|---|
//! | [`decode`] | a sound file | mono samples at the file's own rate |
//! | [`resample`] | mono samples at any rate | the same at 16 kHz, onsets kept |
//! | [`frames`] | mono samples at any rate | [`Frame`]s, numbered from the first sample |
//! | [`recording`] | a sound file | [`Frame`]s |
//! | [`choice`] | a name | the chosen device |
//! | [`device`] | the sound system | devices, open inputs, troubles by kind |
//! | [`capture`] | one open microphone | samples, losses, troubles, through a lock-free ring |
//! | [`microphone`] | microphones that come and go | [`Frame`]s and [`Gap`](microphone::Gap)s on one session clock |
//! | [`level`] | [`Frame`]s | peak and loudness in dBFS |

mod anchor;
pub mod capture;
pub mod choice;
pub mod decode;
pub mod device;
pub mod frames;
pub mod level;
pub mod microphone;
pub mod recording;
pub mod resample;
mod ring;

use std::num::NonZeroU32;

use crate::at::At;

/// The rate of every [`Frame`], in samples a second: what the recogniser and the voice gate want.
pub const RATE: NonZeroU32 = NonZeroU32::new(16_000).expect("16 000 is not zero");

/// Samples in a whole [`Frame`]: 16 ms, the block of the voice gate. Only the last frame before a
/// gap or the end is shorter.
pub const FRAME: usize = 256;

/// A run of mono sound at [`RATE`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// Number of the frame's first sample, counted from the first sample of the session.
    pub first_sample: u64,
    /// One to [`FRAME`] samples.
    pub samples: Vec<i16>,
}

impl Frame {
    /// When the frame begins.
    pub fn at(&self) -> At {
        At::of_sample(self.first_sample, RATE)
    }

    /// Number of the sample after the last one.
    pub fn end_sample(&self) -> u64 {
        self.first_sample + self.samples.len() as u64
    }

    /// When the frame ends.
    pub fn end(&self) -> At {
        At::of_sample(self.end_sample(), RATE)
    }
}

/// One sample from [-1, 1] to 16 bits; louder is clipped, not a number is silence.
pub fn to_i16(sample: f32) -> i16 {
    // `as` saturates and maps NaN to 0.
    (sample * 32_768.0).round() as i16
}
