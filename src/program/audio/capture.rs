//! One open microphone: samples, losses and troubles in the order in which they happened.

use std::num::NonZeroU32;

use super::choice::DeviceChoice;
use super::device::{self, DeviceError, InputStream, Recovery};
use super::ring::Next;

/// What comes next from an open microphone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaptureEvent {
    /// Samples were added to the buffer.
    Samples,
    /// This many samples at the microphone's rate are missing here: the program was too slow.
    Missing(u64),
    /// The sound system reports a trouble.
    Trouble(Recovery),
    /// Nothing has arrived since the last call.
    Nothing,
}

/// A source of mono samples that may fail: a microphone, or a script in a test.
pub trait Listen {
    /// Samples a second.
    fn rate(&self) -> NonZeroU32;
    /// The device's id.
    fn device(&self) -> &str;
    /// Adds what has arrived to `buffer`, each sample a finite number. Never waits.
    fn read(&mut self, buffer: &mut Vec<f32>) -> CaptureEvent;
}

/// An open microphone. Dropping it closes it.
pub struct Capture {
    input: InputStream,
}

impl Capture {
    /// Opens and starts the chosen microphone.
    ///
    /// # Errors
    /// [`DeviceError`] if there is none, or it is busy, forbidden or unusable.
    pub fn open(choice: &DeviceChoice) -> Result<Self, DeviceError> {
        Ok(Capture { input: device::open_input(choice)? })
    }

    /// Channels that are mixed to one.
    pub fn channels(&self) -> u16 {
        self.input.channels
    }
}

impl Listen for Capture {
    fn rate(&self) -> NonZeroU32 {
        self.input.rate
    }

    fn device(&self) -> &str {
        &self.input.device
    }

    fn read(&mut self, buffer: &mut Vec<f32>) -> CaptureEvent {
        let before = buffer.len();
        match self.input.reader.read(buffer) {
            Next::Samples(_) => {
                for sample in &mut buffer[before..] {
                    // One value that is not a number would corrupt a whole block in the resampler.
                    if !sample.is_finite() {
                        *sample = 0.0;
                    }
                }
                CaptureEvent::Samples
            }
            Next::Missing(samples) => CaptureEvent::Missing(samples),
            // Troubles come after the samples before them.
            Next::Nothing => match self.input.troubles.pop() {
                Ok(recovery) => CaptureEvent::Trouble(recovery),
                Err(_) => CaptureEvent::Nothing,
            },
        }
    }
}
