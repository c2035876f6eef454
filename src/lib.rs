//! Hushtally: an offline, hands-free voice assistant for animal training sessions.
//!
//! The map, in the order in which data flows (each part imports only what stands before it):
//!
//! | part | takes | gives |
//! |---|---|---|
//! | [`at`] | – | session time, a value |
//! | [`stats`] *pure* | numbers | estimates with interval and n |
//! | [`clock`] | the computer's clock | time, ids |
//! | [`audio`] | devices, files | 16 kHz mono sound |
//! | [`nudge`] | the name of a nudge | a quiet sound in the ear |

pub mod at;
pub mod interpret;
pub mod plan;
pub mod session;
pub mod audio;
pub mod clock;
pub mod nudge;
pub mod stats;
