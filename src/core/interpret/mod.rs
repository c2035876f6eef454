//! Words to tags, by the plan's grammar. Pure: never touches audio, clock or store, and never guesses:
//! an utterance is tags only if every word of it is.
//!
//! ```
//! use hushtally_core::interpret::{Grammar, Said};
//! use hushtally_core::plan::{RewardValue, Words};
//! let grammar = Grammar::new(&Words::english());
//! let said = grammar.parse(&["yes", "two", "bonus"]).unwrap();
//! let Said::Rep(details) = &said[0].said else { panic!() };
//! assert_eq!((details.step, details.value), (Some(2), Some(RewardValue::High)));
//! assert!(grammar.parse(&["yes", "i", "think", "two"]).is_none());
//! ```

mod grammar;
mod links;
mod near;
mod other_reading;
pub mod pedal;
mod said;
pub mod switch;

pub use grammar::{Grammar, Reading};
pub use links::{LinkMark, LinkMarks};
pub use near::{nearest_command, nearest_phrase};
pub use other_reading::{NotCounted, OtherReading};
pub use said::{Details, Said, Utterance, Word};
