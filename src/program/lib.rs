//! Hushtally: an offline, hands-free voice assistant for animal training sessions.
//!
//! The map, in the order in which data flows (each part imports only what stands before it):
//!
//! | part | takes | gives |
//! |---|---|---|
//! | [`at`] *pure* | – | session time, a value |
//! | [`plan`] *pure* | TOML text | a checked plan, or errors with line and remedy |
//! | [`interpret`] *pure* | words | tags |
//! | [`heard`] *pure* | – | what was heard, a value |
//! | [`loudness`] *pure* | levels | the room's noise, and how loud sounds are to be |
//! | [`stats`] *pure* | numbers | estimates with interval and n |
//! | [`reason`] *pure* | – | why something is said, a value |
//! | [`decide`] *pure* | what is known of a step | ready, too hard, standing still, held; where to work next |
//! | [`session`] *pure* | tags and time | reps, nudges, answers |
//! | [`dialogue`] *pure* | tags, commands and dictation | what to say, ask, keep and choose next |
//! | [`history`] *pure* | sessions | progress, next session, alarms |
//! | `private` | – | folders for nobody else's eyes |
//! | `given` | – | files that a person names |
//! | [`terminal`] | text | the same on the terminal, where it can do no harm |
//! | [`config`] | the settings file | settings |
//! | [`clock`] | – | time and ids; the only reader of clocks |
//! | [`audio`] | devices, files | 16 kHz mono sound |
//! | [`hear`] | sound | tags with onsets |
//! | [`score`] *pure* | what was said, what was heard | how well hearing did |
//! | [`store`] | tags, sessions, notes | the same again, whatever happened in between |
//! | [`nudge`] | a kind of nudge | a quiet sound in the ear |
//! | [`speak`] | text | speech in the ear |
//! | [`quiz`] *pure* | answers | which sounds are known |
//! | [`settle`] *pure* | answers | what doubts came to |
//! | [`soundcheck`] *pure* | levels, tags and answers | what to ask, play and keep for microphone, ear and voice |
//! | [`wording`] *pure* | answers | sentences, from `prompts/` |
//! | [`run`] | everything above | a session, live or from a recording |
//! | [`review`] | the record, a film | pages, charts, reports |
//! | [`cli`] | the command line | the verbs |

pub use hushtally_core::{
    at, decide, dialogue, heard, history, interpret, loudness, plan, quiz, reason, score,
    sentences, session, settle, sim, soundcheck, stats, wording,
};

pub mod audio;
pub mod cli;
pub mod clock;
pub mod config;
mod given;
pub mod hear;
mod new_file;
pub mod nudge;
mod own_files;
mod private;
pub mod review;
pub mod run;
pub mod speak;
pub mod store;
pub mod terminal;

/// How this program signs what it writes into the record: its version, and the generation of the engine,
/// which is raised whenever the same tags give other nudges than before. What an earlier generation told
/// stays as it was; going through it again may tell otherwise, and is then no fault.
pub const MADE_BY: &str = concat!("hushtally ", env!("CARGO_PKG_VERSION"), ", engine 7");
