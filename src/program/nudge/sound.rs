//! A sound to play, and what became of it.

use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use super::signals::Nudge;
use crate::audio::device::DeviceError;

/// A nudge that comes later than this says nothing any more.
const STALE_NUDGE: Duration = Duration::from_secs(1);
/// Nudges are made at this rate; the output turns them into its own.
const NUDGE_RATE: NonZeroU32 = NonZeroU32::new(48_000).expect("48 000 is not zero");

/// Silence that belongs to every nudge: two in a row would else be heard as the rhythm of a third.
const REST_AFTER_MS: usize = 400;

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

impl Sound {
    /// A nudge, `louder_db` above its own level.
    pub fn nudge(nudge: &Nudge, louder_db: f32) -> Self {
        let mut samples = nudge.sound(NUDGE_RATE, louder_db);
        let rest = NUDGE_RATE.get() as usize * REST_AFTER_MS / 1_000;
        samples.resize(samples.len() + rest, 0.0);
        Sound {
            samples: samples.into(),
            rate: NUDGE_RATE,
            lane: Lane::Nudge,
            stale_after: Some(STALE_NUDGE),
        }
    }
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
