//! The edge to the sound output: rodio's mixer on a chosen device.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use cpal::BufferSize;
use cpal::traits::DeviceTrait;
use rodio::{DeviceSinkBuilder, DeviceSinkError, MixerDeviceSink};
use rtrb::{Consumer, RingBuffer};

use super::source::{Heartbeat, Playing};
use crate::audio::choice::DeviceChoice;
use crate::audio::device::{self, DeviceError, Direction, Recovery};

/// Sound per callback; short, so that a stop is heard at once and a nudge is not late.
const PERIOD_MS: u32 = 25;

/// An open output.
pub(crate) trait Output {
    /// Begins to play, mixed with what plays already.
    fn add(&mut self, sound: Playing);
    /// A trouble since the last call.
    fn trouble(&mut self) -> Option<Recovery>;
    /// A count that goes on for as long as the output takes samples.
    fn beats(&self) -> u64;
    /// From the moment that a sample is handed over until it sounds, about.
    fn latency(&self) -> Duration;
    /// The device's id.
    fn device(&self) -> &str;
}

/// Opens outputs, again and again: the real one, or a script in a test.
pub(crate) trait OutputOpener: Send + 'static {
    fn open(&mut self) -> Result<Box<dyn Output>, DeviceError>;
}

impl OutputOpener for DeviceChoice {
    fn open(&mut self) -> Result<Box<dyn Output>, DeviceError> {
        Ok(Box::new(Speaker::open(self)?))
    }
}

struct Speaker {
    sink: Option<MixerDeviceSink>,
    troubles: Consumer<Recovery>,
    beats: Arc<AtomicU64>,
    latency: Duration,
    device: String,
}

impl Speaker {
    fn open(choice: &DeviceChoice) -> Result<Self, DeviceError> {
        let (found, device) = device::find(Direction::Output, choice)?;
        let failed = |e: DeviceSinkError| explain(&device, choice, e);
        let config = found
            .default_output_config()
            .map_err(|e| failed(DeviceSinkError::DefaultSinkConfigError(e)))?;
        let short = BufferSize::Fixed(config.sample_rate() * PERIOD_MS / 1_000);
        let (sink, troubles) = match start(&found, Some(short)) {
            Ok(started) => started,
            // Not every device lets itself be asked for a length.
            Err(_) => start(&found, None).map_err(failed)?,
        };
        let period = match sink.config().buffer_size() {
            BufferSize::Fixed(frames) => Duration::from_secs_f64(
                f64::from(*frames) / f64::from(sink.config().sample_rate().get()),
            ),
            BufferSize::Default => Duration::from_millis(50),
        };
        let (heartbeat, beats) = Heartbeat::new(sink.config().sample_rate());
        sink.mixer().add(heartbeat);
        // The sound system holds two periods.
        Ok(Speaker { sink: Some(sink), troubles, beats, latency: period * 2, device })
    }
}

fn start(
    device: &cpal::Device,
    buffer: Option<BufferSize>,
) -> Result<(MixerDeviceSink, Consumer<Recovery>), DeviceSinkError> {
    let (mut report, troubles) = RingBuffer::new(8);
    let mut builder = DeviceSinkBuilder::from_device(device.clone())?;
    if let Some(buffer) = buffer {
        builder = builder.with_buffer_size(buffer);
    }
    let mut sink = builder
        .with_error_callback(move |error| {
            // When the ring is full, the player has enough to know.
            let _full = report.push(device::recovery(error.kind()));
        })
        .open_stream()?;
    sink.log_on_drop(false);
    Ok((sink, troubles))
}

impl Drop for Speaker {
    fn drop(&mut self) {
        let sink = self.sink.take();
        // As with microphones: closing may hang when the device was torn out.
        let _ended_by_itself =
            std::thread::Builder::new().name("close-output".to_owned()).spawn(move || drop(sink));
    }
}

impl Output for Speaker {
    fn add(&mut self, sound: Playing) {
        if let Some(sink) = &self.sink {
            sink.mixer().add(sound);
        }
    }

    fn trouble(&mut self) -> Option<Recovery> {
        self.troubles.pop().ok()
    }

    fn beats(&self) -> u64 {
        self.beats.load(Ordering::Relaxed)
    }

    fn latency(&self) -> Duration {
        self.latency
    }

    fn device(&self) -> &str {
        &self.device
    }
}

fn explain(device: &str, choice: &DeviceChoice, error: DeviceSinkError) -> DeviceError {
    let none = DeviceError::None { direction: "sound output" };
    let explained = match error {
        DeviceSinkError::NoDevice => none.clone(),
        DeviceSinkError::PlayError(e)
        | DeviceSinkError::DefaultSinkConfigError(e)
        | DeviceSinkError::BuildError(e)
        | DeviceSinkError::SupportedConfigsError(e) => DeviceError::from_cpal(device, &e),
        other => DeviceError::Unusable { device: device.to_owned(), reason: other.to_string() },
    };
    match (explained, choice) {
        // Without any sound card or server, ALSA still has a default device that does not open.
        (DeviceError::Gone { .. }, DeviceChoice::SystemDefault) => none,
        (explained, _) => explained,
    }
}
