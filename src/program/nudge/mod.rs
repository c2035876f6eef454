//! Quiet signals to the trainer: what each sounds like.
//!
//! When to nudge is the session engine's business; `playback` makes it heard.

pub mod hearing;
pub mod signals;
mod synth;

pub use crate::loudness;
