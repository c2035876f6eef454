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
//! | [`nudge`] | a kind of nudge | a quiet sound in the ear |
//! | [`speak`] | text | speech in the ear |

pub mod at;
pub mod audio;
pub mod clock;
pub mod interpret;
pub mod nudge;
pub mod plan;
pub mod session;
pub mod speak;
pub mod stats;
