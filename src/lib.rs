//! Hushtally: an offline, hands-free voice assistant for animal training sessions.
//!
//! The map, in the order in which data flows (each part imports only what stands before it):
//!
//! | part | takes | gives |
//! |---|---|---|
//! | [`at`] | – | session time, a value |
//! | [`stats`] *pure* | numbers | estimates with interval and n |
//! | [`audio`] | devices, files | 16 kHz mono sound |

pub mod at;
pub mod audio;
pub mod interpret;
pub mod plan;
pub mod session;
pub mod sim;
pub mod stats;
