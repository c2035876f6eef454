//! Quiet signals to the trainer: what each sounds like, and a player that never holds up hearing.
//!
//! Knows nothing of sessions: a nudge is asked for by name.

mod deck;
pub mod family;
mod output;
pub mod player;
mod source;
mod synth;

/// The names of all nudges.
pub const NAMES: [&str; 7] =
    ["heard", "not_sure", "rate_falling", "pay_this_one", "end_soon", "end_now", "trouble"];
