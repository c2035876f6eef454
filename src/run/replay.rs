//! A session from a recording, as fast as it can be heard.

use anyhow::Context;

use super::{Conductor, Shell};
use crate::at::At;
use crate::audio::recording::Recording;
use crate::hear::Ears;

/// What a replay went through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Replayed {
    /// Length of the sound.
    pub sound: At,
}

/// Hears a whole recording. `progress` is told the share done, from 0 to 1.
///
/// # Errors
/// When the recording cannot be read from some place on; what was heard before has been carried out.
pub fn replay(
    mut recording: Recording,
    ears: &mut Ears,
    conductor: &mut Conductor,
    shell: &mut dyn Shell,
    mut progress: impl FnMut(f64),
) -> anyhow::Result<Replayed> {
    let mut sound = At::ZERO;
    let mut broken = None;
    loop {
        let frame = match recording.next_frame() {
            Ok(Some(frame)) => frame,
            Ok(None) => break,
            Err(error) if error.is_only_a_warning() => {
                tracing::warn!("{error}");
                continue;
            }
            Err(error) => {
                broken = Some(error);
                break;
            }
        };
        sound = frame.end();
        for heard in ears.hear(&frame) {
            conductor.hear(heard, shell);
        }
        conductor.pass(ears.settled(), shell);
        progress(recording.progress());
    }
    for heard in ears.finish() {
        conductor.hear(heard, shell);
    }
    conductor.close(sound, shell);
    match broken {
        Some(error) => Err(error).context("the recording is broken from here on"),
        None => Ok(Replayed { sound }),
    }
}
