//! A note in free words, until a pause.

use super::SpeechModel;
use super::recogniser::{Alternative, Recogniser};
use crate::at::At;
use crate::audio::Frame;

/// Steps (10 ms) of quiet after words that end a note, and of waiting for its first word.
const PAUSE: usize = 150;
const WAIT: usize = 800;
/// No note is longer: 2 minutes.
const LONGEST: usize = 12_000;

/// Takes down a note with every word that the model knows.
#[derive(Default)]
pub(super) struct Dictation {
    /// Made when the first note is begun.
    recogniser: Option<Recogniser>,
    note: Option<Note>,
}

#[derive(Clone, Copy)]
struct Note {
    at: At,
    began: usize,
}

impl Dictation {
    /// Begins a note at this step; nothing happens when the recogniser does not start.
    pub(super) fn begin(&mut self, model: &SpeechModel, at: At, step: usize) {
        if self.recogniser.is_none() {
            match Recogniser::new(model, None, 1) {
                Ok(recogniser) => self.recogniser = Some(recogniser),
                Err(error) => tracing::warn!("no note can be taken: {error}"),
            }
        }
        self.note = self.recogniser.is_some().then_some(Note { at, began: step });
    }

    /// Whether a note is being taken.
    pub(super) fn is_on(&self) -> bool {
        self.note.is_some()
    }

    /// Takes sound; gives the note when it has ended. `spoken_to` is the step after the last speech, none
    /// while somebody speaks.
    pub(super) fn hear(
        &mut self,
        frame: &Frame,
        step: usize,
        spoken_to: Option<usize>,
    ) -> Option<(At, String)> {
        let note = self.note?;
        self.recogniser.as_mut()?.feed(&frame.samples);
        let over = match spoken_to {
            Some(end) if end > note.began => step >= end + PAUSE,
            Some(_) => step >= note.began + WAIT,
            None => false,
        };
        if over || step >= note.began + LONGEST { self.end() } else { None }
    }

    /// Ends the note that is being taken.
    pub(super) fn end(&mut self) -> Option<(At, String)> {
        let note = self.note.take()?;
        let read = self.recogniser.as_mut()?.finish();
        Some((note.at, read.first().map(Alternative::text).unwrap_or_default()))
    }
}
