//! Hushtally: an offline, hands-free voice assistant for animal training sessions.
//!
//! The program: what hears, keeps, speaks and shows, around the pure core (`hushtally_core`), whose parts are here under
//! their own names. The layers, and what each may import, stand in `DEVELOPERS.md`; a test reads them there.

pub use hushtally_core::*;

pub mod audio;
pub mod cli;
pub mod clock;
pub mod config;
mod given;
pub mod hear;
pub mod known;
mod new_file;
pub mod nudge;
mod own_files;
pub mod playback;
mod private;
pub mod review;
pub mod run;
pub mod speak;
pub mod store;
pub mod terminal;

/// How this program signs what it writes into the record: its version, and the generation of the engine,
/// which is raised whenever the same tags give other nudges than before. What an earlier generation told
/// stays as it was; going through it again may tell otherwise, and is then no fault.
pub const MADE_BY: &str = concat!("hushtally ", env!("CARGO_PKG_VERSION"), ", engine 8");
