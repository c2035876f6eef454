//! A note in free words, until a pause.

use std::sync::Arc;

use super::recogniser::{Alternative, Passage, Recognise};
use crate::at::At;
use crate::audio::Frame;

/// Steps (10 ms) of quiet after words that end a note, and of waiting for its first word.
const PAUSE: usize = 150;
const WAIT: usize = 800;
/// No note is longer: 2 minutes.
const LONGEST: usize = 12_000;

/// Takes down a note, or none.
#[derive(Default)]
pub(super) struct Dictation {
    note: Option<Note>,
}

struct Note {
    /// When it was asked for, and at which step it began.
    at: At,
    began: usize,
    passage: Passage,
}

impl Dictation {
    /// Takes down a note by a recogniser of free words.
    pub(super) fn begin(recogniser: &Arc<dyn Recognise>, at: At, began: usize) -> Self {
        Dictation { note: Some(Note { at, began, passage: Passage::through(recogniser) }) }
    }

    /// Whether a note is being taken.
    pub(super) fn is_on(&self) -> bool {
        self.note.is_some()
    }

    /// Takes sound; gives the note when it has ended. `quiet_since` is the step after the last speech, none
    /// while somebody speaks.
    pub(super) fn hear(
        &mut self,
        frame: &Frame,
        step: usize,
        quiet_since: Option<usize>,
    ) -> Option<(At, String)> {
        let note = self.note.as_mut()?;
        note.passage.feed(&frame.samples);
        let over = match quiet_since {
            Some(end) if end > note.began => step >= end + PAUSE,
            Some(_) => step >= note.began + WAIT,
            None => false,
        };
        if over || step >= note.began + LONGEST { self.end() } else { None }
    }

    /// Ends the note that is being taken.
    pub(super) fn end(&mut self) -> Option<(At, String)> {
        let Note { at, passage, .. } = self.note.take()?;
        let read = passage.finish().unwrap_or_default();
        Some((at, read.first().map(Alternative::text).unwrap_or_default()))
    }
}
