//! The pure core of Hushtally: what a session, a plan and a record mean. Values in, values out; no clock, no file, no
//! device, no thread, no chance. The layers, and what each may import, stand in `DEVELOPERS.md`; a test reads them there.

pub use hushtally_stats as stats;

pub mod at;
pub mod chain;
pub mod decide;
pub mod dialogue;
pub mod heard;
pub mod history;
pub mod interpret;
pub mod lesson;
pub mod loudness;
pub mod machine;
pub mod plan;
pub mod quiz;
pub mod reason;
pub mod scan;
pub mod score;
pub mod sentences;
pub mod session;
pub mod settle;
pub mod sim;
pub mod sitting;
pub mod soundcheck;
pub mod wording;
