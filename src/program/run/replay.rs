//! A session from a recording, as fast as it can be heard.

use anyhow::Context;

use super::{Conductor, Shell};
use crate::at::At;
use crate::audio::recording::Recording;
use crate::hear::{Ears, Heard};
use crate::interpret::Said;
use crate::plan::Command;
use crate::session::Input;

/// What a replay went through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Replayed {
    /// Length of the sound.
    pub sound: At,
}

/// Hears a whole recording. Where the conductor waits for "begin" and it is not said in the sound, the session begins
/// with the sound; until that is known, what was heard waits. `progress` is given the share done, from 0 to 1.
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
    let mut held = conductor.waits_for_begin().then(Vec::new);
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
            hear(heard, &mut held, conductor, shell);
        }
        if held.is_none() {
            conductor.pass(ears.settled(), shell);
        }
        progress(recording.progress());
    }
    for heard in ears.finish() {
        hear(heard, &mut held, conductor, shell);
    }
    if let Some(held) = held {
        if held.iter().any(|heard| says(heard, Said::may_begin)) {
            let begin = Input::said(Said::Command { command: Command::Begin }, "");
            conductor.take(At::ZERO, begin, None, shell);
        }
        for heard in held {
            conductor.hear(heard, shell);
        }
    }
    conductor.close(sound, shell);
    match broken {
        Some(error) => Err(error).context("the recording is broken from here on"),
        None => Ok(Replayed { sound }),
    }
}

/// Takes in what was heard, or holds it while it is not known how the session begins.
fn hear(
    heard: Heard,
    held: &mut Option<Vec<Heard>>,
    conductor: &mut Conductor,
    shell: &mut dyn Shell,
) {
    let begins = |said: &Said| *said == Said::Command { command: Command::Begin };
    if says(&heard, begins)
        && let Some(before) = held.take()
    {
        for heard in before {
            conductor.hear(heard, shell);
        }
    }
    match held {
        Some(held) => held.push(heard),
        None => {
            conductor.hear(heard, shell);
        }
    }
}

/// Whether one of the tags is such.
fn says(heard: &Heard, such: impl Fn(&Said) -> bool) -> bool {
    matches!(heard, Heard::Tags(tags) if tags.iter().any(|tag| such(&tag.said)))
}
