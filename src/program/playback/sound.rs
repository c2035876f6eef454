//! A sound to play, and what became of it.

use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use crate::audio::device::DeviceError;

/// Sounds of one lane come one after the other; the two lanes sound together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lane {
    /// Nudges.
    Nudge = 0,
    /// Speech.
    Speech = 1,
}

/// A sound to play.
#[derive(Debug, Clone)]
pub struct Sound {
    /// Mono, in [-1, 1].
    pub samples: Arc<[f32]>,
    /// Samples a second.
    pub rate: NonZeroU32,
    /// Where it queues.
    pub lane: Lane,
    /// Do not play it if it had to wait longer than this.
    pub stale_after: Option<Duration>,
}

/// One sound that was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct SoundId(pub(crate) u64);

/// What the player did. Times are the steady clock's.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Played {
    /// The first sample went to the output.
    Started {
        /// The sound.
        id: SoundId,
        /// When.
        at: Duration,
    },
    /// The last sample sounds.
    Ended {
        /// The sound.
        id: SoundId,
        /// When, the output's own delay included. May lie a little ahead.
        at: Duration,
        /// True if it was stopped or its output went away.
        cut: bool,
    },
    /// The sound will not be played.
    Dropped {
        /// The sound.
        id: SoundId,
        /// Why.
        why: DropReason,
    },
    /// There is an output.
    OutputReady {
        /// Its id.
        device: String,
    },
    /// There is no output; it is looked for until there is one.
    OutputAway {
        /// Why.
        error: DeviceError,
    },
}

/// Why a sound was not played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DropReason {
    /// There is no output now.
    NoOutput,
    /// It had to wait too long.
    Stale,
    /// Its lane was stopped.
    Stopped,
    /// Too many were waiting.
    TooMany,
}
