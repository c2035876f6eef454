//! Speech to the trainer, through the same output as the nudges, and silent at once when asked.
//!
//! The voice is `espeak-ng`, run as a child process that writes sound to a pipe. It needs no desktop
//! speech service (the `tts` crate talks to one on Linux), starts in some 30 ms, is in every Debian, and
//! since the sound passes through our own player it goes to the chosen output, at our level, and can be
//! cut off in the middle of a word. Without it everything is still printed.

mod engine;
mod own_program;
mod sentences;
mod voice;

#[cfg(test)]
pub(crate) use engine::{Engine, EspeakNg};
pub(crate) use sentences::sentences;
pub use voice::{Voice, VoiceError, VoiceSettings};
