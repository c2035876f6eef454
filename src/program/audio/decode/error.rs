//! What can be wrong with a sound file, in words that say what to do.

use std::fmt;
use std::io;
use std::path::PathBuf;

/// Kinds of sound file that can be read, for messages.
pub(crate) const READABLE: &str = "WAV, FLAC, MP3, Ogg Vorbis, and AAC or ALAC in MP4/M4A";

/// Why a sound file could not be read, or not to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DecodeError {
    /// The file cannot be opened or read.
    #[error("cannot read {}: {source}. Check that the path is right and that you may read the file", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The path is a folder or a device, not a file.
    #[error("{} is not a file. Give the path of one sound file", path.display())]
    NotAFile {
        /// The path.
        path: PathBuf,
    },
    /// The file has no bytes.
    #[error("{} is empty (0 bytes): the recording was never written. Record it again, or copy it again from where it came", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// Nothing in the file looks like a sound format that we know.
    #[error("{} is not a sound file that can be read ({reason}). Readable are {READABLE}; convert others with: ffmpeg -i IN OUT.wav", path.display())]
    NotSound {
        /// The file.
        path: PathBuf,
        /// What the reader said.
        reason: String,
    },
    /// A container (a film, for instance) without sound in it.
    #[error("{} has no sound track. Choose a recording with sound", path.display())]
    NoSoundTrack {
        /// The file.
        path: PathBuf,
    },
    /// The sound is packed in a way that we cannot unpack.
    #[error("{} holds sound in a coding that cannot be read ({reason}). Readable are {READABLE}; convert it with: ffmpeg -i IN OUT.wav", path.display())]
    UnknownCoding {
        /// The file.
        path: PathBuf,
        /// What the decoder said.
        reason: String,
    },
    /// Rate or channels are not those of any real recording.
    #[error("{} says it has {channels} channels at {rate} samples a second; a recording has 1 to {max_channels} channels at {min_rate} to {max_rate}. The file is damaged, or not sound", path.display())]
    OddShape {
        /// The file.
        path: PathBuf,
        /// Samples a second, as the file says.
        rate: u32,
        /// Channels, as the file says.
        channels: usize,
        /// The most channels we take.
        max_channels: usize,
        /// The lowest rate we take.
        min_rate: u32,
        /// The highest rate we take.
        max_rate: u32,
    },
    /// Headers are in order but not one sample could be decoded.
    #[error("{} has a header but no sound after it ({reason}). The recording broke off or the file is damaged; record it again, or copy it again from where it came", path.display())]
    NoSamples {
        /// The file.
        path: PathBuf,
        /// What stopped the decoder.
        reason: String,
    },
    /// All sound that could be had was given, but the file was not whole. Comes once, after the last
    /// sample, so that what was heard can be kept and reported.
    #[error("{} is damaged: {damage}. What could be read was used", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was wrong.
        damage: Damage,
    },
}

impl DecodeError {
    /// True if all sound that could be had has been given before this error: warn, and go on.
    pub fn is_only_a_warning(&self) -> bool {
        matches!(self, DecodeError::Damaged { .. })
    }
}

/// What was wrong with a file that could be read all the same.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Damage {
    /// Packets that could not be decoded; silence of the same length stands in their place.
    pub packets_skipped: u64,
    /// Samples that were not numbers; each was made silent.
    pub not_numbers: u64,
    /// The file ends early: seconds of sound that its header promises and that are not there.
    pub seconds_missing: f64,
    /// Why reading stopped before the end, if it did.
    pub stopped: Option<String>,
}

impl Damage {
    /// True if nothing was wrong.
    pub fn is_none(&self) -> bool {
        *self == Damage::default()
    }
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut said = Vec::new();
        if self.packets_skipped > 0 {
            said.push(format!("{} pieces could not be decoded", self.packets_skipped));
        }
        if self.not_numbers > 0 {
            said.push(format!("{} samples are not numbers", self.not_numbers));
        }
        if self.seconds_missing > 0.0 {
            said.push(format!("its end is missing ({:.1} s)", self.seconds_missing));
        }
        if let Some(why) = &self.stopped {
            said.push(format!("reading stopped early ({why})"));
        }
        f.write_str(&said.join(", "))
    }
}
