//! Speech to the trainer, through the same output as the nudges, and silent at once when asked.
//!
//! A voice is a program that writes sound to a pipe: flite, which is understood best, and espeak-ng where that is
//! missing or cannot read a letter. Neither needs a desktop speech service (the `tts` crate talks to one on Linux);
//! they begin in some 100 and 30 ms and are in every Debian. Since the sound passes through our own player it goes to
//! the chosen output, at our level, and can be cut off in the middle of a word. Without them everything is still
//! printed.

mod engine;
mod flite;
mod installed;
mod own_program;
mod pace;
#[cfg(test)]
mod recaps;
mod sentences;
mod settings;
mod voice;

pub use installed::voices;
pub(crate) use sentences::sentences;
pub use settings::{VoiceError, VoiceSettings};
pub use voice::Voice;
