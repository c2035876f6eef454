//! Sound out: a player of two lanes on an output that may come and go. Nudges and speech both go through it; it knows
//! of neither, and never holds up hearing.

mod deck;
pub(crate) mod output;
pub mod player;
mod sound;
pub(crate) mod source;
