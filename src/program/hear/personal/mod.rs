//! Sounds learnt from one person: whatever they can say or do again and again can be a tag.
//!
//! Each part has one reason to change: what is kept of a sound (`features`), how unlike two sounds are
//! (`warp`), when one is another (`matcher`), what becomes of two opinions
//! (`combine`), and where it is kept (`store`, the only one that touches the disk).

mod combine;
mod features;
mod matcher;
mod store;
mod takes;
mod warp;

pub use features::Features;
pub use matcher::{Learnt, Match, Matcher};
pub use store::{LearntError, LearntStore, Whose};
pub use takes::{Take, Takes};

pub(super) use combine::{Outcome, Recognised, combine};
pub(super) use takes::of_segment;
