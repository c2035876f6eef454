//! What is said in a film's sound, and in a session's log, as onsets.

use std::path::Path;

use super::align::{Onset, OnsetKind};
use crate::audio::recording::{Recording, RecordingError};
use crate::hear::{Ears, Heard};
use crate::session::{Event, Input};
use crate::store::{Content, Stored};

/// Hears the sound of a film, or any recording, to its end, block by block: however long it is, no more than some
/// seconds of it are in memory. `progress` is given each whole percent of the file that has been read.
///
/// # Errors
/// The file is missing, has no sound, or cannot be read; a damaged end is only warned about.
pub fn hear(
    path: &Path,
    ears: &mut Ears,
    progress: &mut dyn FnMut(u8),
) -> Result<Vec<Onset>, RecordingError> {
    let mut recording = Recording::open(path)?;
    let mut onsets = Vec::new();
    let mut told = None;
    loop {
        let percent = (recording.progress() * 100.0) as u8;
        if told.replace(percent) != Some(percent) {
            progress(percent);
        }
        match recording.next_frame() {
            Ok(Some(frame)) => take(ears.hear(&frame), &mut onsets),
            Ok(None) => break,
            Err(error) if error.is_only_a_warning() => tracing::warn!("{error}"),
            Err(error) => return Err(error),
        }
    }
    take(ears.finish(), &mut onsets);
    Ok(onsets)
}

fn take(heard: Vec<Heard>, onsets: &mut Vec<Onset>) {
    for heard in heard {
        if let Heard::Tags(tags) = heard {
            onsets.extend(
                tags.iter().map(|tag| Onset {
                    at_s: tag.at.as_secs_f64(),
                    kind: OnsetKind::of(&tag.said),
                }),
            );
        }
    }
}

/// The onsets that a session's log holds: what was heard then, later corrections left out.
pub fn logged(events: &[Stored]) -> Vec<Onset> {
    let onset = |stored: &Stored| match &stored.content {
        Content::Event(Event::Input(Input::Tagged { said, .. })) => {
            Some(Onset { at_s: stored.at.as_secs_f64(), kind: OnsetKind::of(said) })
        }
        _ => None,
    };
    events.iter().filter_map(onset).collect()
}
