//! The sound system: lists devices, opens inputs, and sorts troubles by kind. The only file of the
//! input side that sees cpal, whose names change from release to release.

use std::num::NonZeroU32;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};

use super::choice::{ChoiceError, Device, DeviceChoice, choose};
use super::ring::{self, Reader, Writer};

/// Sound per callback that we ask for, in milliseconds. The sound system holds two of these: shorter
/// and a busy computer loses sound, longer and every tag is acknowledged later.
const PERIOD_MS: u32 = 20;
/// Sound that can wait for the hearing thread, in seconds.
const RING_S: usize = 8;
/// Troubles that can wait; more of them at once say nothing new.
const TROUBLES: usize = 32;

/// What to do about a trouble of the sound system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recovery {
    /// Nothing is lost.
    CarryOn,
    /// Some sound is lost; the stream goes on.
    LogGap,
    /// The stream is over; open the device again.
    Reopen,
    /// Opening again will not help before a person changes something.
    Stop,
}

/// Sorts a trouble by its kind.
pub(crate) fn recovery(kind: ErrorKind) -> Recovery {
    use ErrorKind as K;
    match kind {
        K::DeviceChanged | K::RealtimeDenied => Recovery::CarryOn,
        K::Xrun => Recovery::LogGap,
        K::DeviceNotAvailable | K::StreamInvalidated | K::HostUnavailable => Recovery::Reopen,
        // Through ALSA these come once or twice from streams that then work well (an input/output
        // error in the first 100 ms of a PulseAudio stream, seen in one of four starts). If sound
        // does stop, it is noticed by that, and the device is opened again.
        K::DeviceBusy | K::BackendError | K::ResourceExhausted => Recovery::CarryOn,
        _ => Recovery::Stop,
    }
}

/// Why a sound device cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DeviceError {
    /// There is none.
    #[error("no {direction} was found. Plug one in, or start the sound server, then try again")]
    None {
        /// `microphone` or `sound output`.
        direction: &'static str,
    },
    /// See [`ChoiceError`].
    #[error(transparent)]
    Choice(#[from] ChoiceError),
    /// Another program holds it.
    #[error("{device} is in use by another program. Close that program, or choose another device")]
    Busy {
        /// The device.
        device: String,
    },
    /// It was there and is not now.
    #[error("{device} is not there. Plug it in again, or choose another device")]
    Gone {
        /// The device.
        device: String,
    },
    /// The system does not let us.
    #[error(
        "this user may not use {device}. Allow it in the system's privacy settings; on Linux, join the group `audio`"
    )]
    NotAllowed {
        /// The device.
        device: String,
    },
    /// The sound server is away.
    #[error("the sound system does not answer ({reason}). Start the sound server, then try again")]
    NoSoundSystem {
        /// What was said.
        reason: String,
    },
    /// Anything else.
    #[error("{device} cannot be used ({reason}). Choose another device")]
    Unusable {
        /// The device.
        device: String,
        /// What was said.
        reason: String,
    },
}

impl DeviceError {
    pub(crate) fn from_cpal(device: &str, error: &cpal::Error) -> Self {
        let device = device.to_owned();
        match error.kind() {
            ErrorKind::DeviceBusy => DeviceError::Busy { device },
            ErrorKind::DeviceNotAvailable | ErrorKind::StreamInvalidated => {
                DeviceError::Gone { device }
            }
            ErrorKind::PermissionDenied => DeviceError::NotAllowed { device },
            ErrorKind::HostUnavailable => DeviceError::NoSoundSystem { reason: error.to_string() },
            _ => DeviceError::Unusable { device, reason: error.to_string() },
        }
    }
}

/// Which way the sound goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Microphones.
    Input,
    /// Earphones and loudspeakers.
    Output,
}

impl Direction {
    fn name(self) -> &'static str {
        match self {
            Direction::Input => "microphone",
            Direction::Output => "sound output",
        }
    }
}

/// All devices of one direction. The system's default is not marked: it is what
/// [`DeviceChoice::SystemDefault`] opens.
///
/// # Errors
/// [`DeviceError::NoSoundSystem`] if the sound system does not answer.
pub fn list(direction: Direction) -> Result<Vec<Device>, DeviceError> {
    Ok(found(direction)?.into_iter().map(|(about, _)| about).collect())
}

/// Looks whether the chosen microphone is there; it is not opened.
///
/// # Errors
/// It cannot be used.
pub fn microphone_is_there(choice: &DeviceChoice) -> Result<(), DeviceError> {
    let (device, id) = find(Direction::Input, choice)?;
    device.default_input_config().map(drop).map_err(|error| input_error(&id, &error, choice))
}

/// Without any sound card or server, ALSA still has a default device, which then does not open.
fn input_error(id: &str, error: &cpal::Error, choice: &DeviceChoice) -> DeviceError {
    match (DeviceError::from_cpal(id, error), choice) {
        (DeviceError::Gone { .. }, DeviceChoice::SystemDefault) => {
            DeviceError::None { direction: Direction::Input.name() }
        }
        (error, _) => error,
    }
}

/// The sound system. The crate's own way to it panics when that cannot be set up, over a corrupted file of its settings
/// for one.
fn sound_system() -> Result<cpal::Host, DeviceError> {
    let mut reason = "none is known here".to_owned();
    for id in cpal::ALL_HOSTS {
        match cpal::host_from_id(*id) {
            Ok(host) => return Ok(host),
            Err(error) => reason = error.to_string(),
        }
    }
    Err(DeviceError::NoSoundSystem { reason })
}

fn found(direction: Direction) -> Result<Vec<(Device, cpal::Device)>, DeviceError> {
    let devices = sound_system()?
        .devices()
        .map_err(|e| DeviceError::NoSoundSystem { reason: e.to_string() })?;
    let fits = |device: &cpal::Device| match direction {
        Direction::Input => device.supports_input(),
        Direction::Output => device.supports_output(),
    };
    Ok(devices.filter(fits).filter_map(|device| Some((about(&device)?, device))).collect())
}

fn about(device: &cpal::Device) -> Option<Device> {
    let id = device.id().ok()?.id().to_owned();
    let name = device.description().map_or_else(|_| id.clone(), |d| d.name().to_owned());
    Some(Device { id, name })
}

/// The chosen device and its id.
pub(crate) fn find(
    direction: Direction,
    choice: &DeviceChoice,
) -> Result<(cpal::Device, String), DeviceError> {
    match choice {
        DeviceChoice::SystemDefault => {
            let host = sound_system()?;
            let device = match direction {
                Direction::Input => host.default_input_device(),
                Direction::Output => host.default_output_device(),
            };
            let device = device.ok_or(DeviceError::None { direction: direction.name() })?;
            let id = about(&device).map_or_else(|| "default".to_owned(), |d| d.id);
            Ok((device, id))
        }
        DeviceChoice::Named(wanted) => {
            let mut found = found(direction)?;
            let devices: Vec<Device> = found.iter().map(|(about, _)| about.clone()).collect();
            let (about, device) = found.swap_remove(choose(&devices, wanted)?);
            Ok((device, about.id))
        }
    }
}

/// An open input: runs until dropped.
pub(crate) struct InputStream {
    pub(crate) reader: Reader,
    pub(crate) troubles: Consumer<Recovery>,
    pub(crate) rate: NonZeroU32,
    pub(crate) channels: u16,
    pub(crate) device: String,
    stream: Option<cpal::Stream>,
}

impl Drop for InputStream {
    fn drop(&mut self) {
        let stream = self.stream.take();
        // Closing waits for the sound system, which may hang when its device was torn out; the
        // hearing thread must not hang with it. If no thread can be had, it closes right here.
        let _ended_by_itself =
            std::thread::Builder::new().name("close-input".to_owned()).spawn(move || drop(stream));
    }
}

/// Opens and starts the chosen input.
pub(crate) fn open_input(choice: &DeviceChoice) -> Result<InputStream, DeviceError> {
    let (device, id) = find(Direction::Input, choice)?;
    let failed = |e: cpal::Error| input_error(&id, &e, choice);
    let supported = device.default_input_config().map_err(failed)?;
    let format = supported.sample_format();
    let mut config = supported.config();
    config.buffer_size = BufferSize::Fixed(config.sample_rate * PERIOD_MS / 1_000);
    let input = match start(&device, &id, config, format) {
        Ok(input) => input,
        // Not every device lets itself be asked for a length.
        Err(e) if e.kind() == ErrorKind::UnsupportedConfig => {
            config.buffer_size = BufferSize::Default;
            start(&device, &id, config, format).map_err(failed)?
        }
        Err(e) => return Err(failed(e)),
    };
    Ok(input)
}

fn start(
    device: &cpal::Device,
    id: &str,
    config: StreamConfig,
    format: SampleFormat,
) -> Result<InputStream, cpal::Error> {
    let rate = NonZeroU32::new(config.sample_rate).ok_or(ErrorKind::UnsupportedConfig)?;
    let (writer, reader) = ring::ring(rate.get() as usize * RING_S, usize::from(config.channels));
    let (troubles_in, troubles) = RingBuffer::new(TROUBLES);
    let stream = match format {
        SampleFormat::F32 => build::<f32>(device, config, writer, troubles_in),
        SampleFormat::I16 => build::<i16>(device, config, writer, troubles_in),
        SampleFormat::I32 => build::<i32>(device, config, writer, troubles_in),
        SampleFormat::U16 => build::<u16>(device, config, writer, troubles_in),
        SampleFormat::I24 => build::<cpal::I24>(device, config, writer, troubles_in),
        SampleFormat::U8 => build::<u8>(device, config, writer, troubles_in),
        SampleFormat::I8 => build::<i8>(device, config, writer, troubles_in),
        SampleFormat::U32 => build::<u32>(device, config, writer, troubles_in),
        SampleFormat::F64 => build::<f64>(device, config, writer, troubles_in),
        other => Err(cpal::Error::with_message(
            ErrorKind::UnsupportedOperation,
            format!("samples of kind {other} cannot be read"),
        )),
    }?;
    stream.play()?;
    let device = id.to_owned();
    Ok(InputStream {
        reader,
        troubles,
        rate,
        channels: config.channels,
        device,
        stream: Some(stream),
    })
}

fn build<T>(
    device: &cpal::Device,
    config: StreamConfig,
    mut writer: Writer,
    mut troubles: Producer<Recovery>,
) -> Result<cpal::Stream, cpal::Error>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    device.build_input_stream(
        config,
        move |samples: &[T], _: &cpal::InputCallbackInfo| {
            writer.write(samples, f32::from_sample_);
        },
        move |error: cpal::Error| {
            // When the ring is full, the reader has enough to know.
            let _full = troubles.push(recovery(error.kind()));
        },
        None,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn troubles_are_sorted_by_what_helps() {
        let sorted = [
            (ErrorKind::DeviceChanged, Recovery::CarryOn),
            (ErrorKind::RealtimeDenied, Recovery::CarryOn),
            (ErrorKind::Xrun, Recovery::LogGap),
            (ErrorKind::DeviceNotAvailable, Recovery::Reopen),
            (ErrorKind::StreamInvalidated, Recovery::Reopen),
            (ErrorKind::BackendError, Recovery::CarryOn),
            (ErrorKind::PermissionDenied, Recovery::Stop),
            (ErrorKind::UnsupportedConfig, Recovery::Stop),
        ];
        for (kind, expected) in sorted {
            assert_eq!(recovery(kind), expected, "{kind:?}");
        }
    }

    #[test]
    fn every_device_error_says_what_to_do() {
        let kinds = [
            ErrorKind::DeviceBusy,
            ErrorKind::DeviceNotAvailable,
            ErrorKind::PermissionDenied,
            ErrorKind::HostUnavailable,
            ErrorKind::Other,
        ];
        for kind in kinds {
            let said = DeviceError::from_cpal("mic", &kind.into()).to_string();
            let helps = ["Close", "Plug", "Allow", "Start", "Choose"];
            assert!(helps.iter().any(|word| said.contains(word)), "{said}");
        }
    }
}
