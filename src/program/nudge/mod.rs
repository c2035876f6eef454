//! Quiet signals to the trainer: what each sounds like, and a player that never holds up hearing.
//!
//! When to nudge is the session engine's business; this only makes it heard.

mod deck;
pub mod hearing;
pub(crate) mod output;
pub mod player;
pub mod signals;
mod sound;
pub(crate) mod source;
mod synth;

pub use crate::loudness;
