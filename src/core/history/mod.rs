//! Weeks and months of sessions: how it goes, how long to go on, what to do next. Pure: rows in, answers
//! out; never a clock, a file or the database. Every advice carries its reason, and what cannot be said
//! yet says what it needs.
//!
//! ```
//! use hushtally_core::history::{Found, Ladder, AnimalHistory, length};
//! use hushtally_core::plan::Plan;
//! let plan = Plan::of_default_words();
//! let history = AnimalHistory::new("Pepino", "cockatiel", vec![Ladder::of(1, &plan)], Vec::new());
//! let length = length::advise(&history, &plan.behaviour, &plan.limits);
//! assert!(matches!(length.until_decline_s, Found::NotYet(_)));
//! assert_eq!(length.planned_s, plan.limits.planned.as_secs_f64()); // the plan's cap stands
//! ```

mod animal_history;
pub mod body;
pub mod captured;
pub mod change;
pub mod closer;
pub mod course;
pub mod cue;
pub mod effects;
mod found;
mod ladder;
mod lapses;
pub mod length;
pub mod level;
pub mod next;
pub mod people;
pub mod planned;
pub mod progress;
pub mod record;
pub mod sides;
pub mod standing;
mod together;
pub mod treats;

#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;

pub use animal_history::{AnimalHistory, Session, Try};
pub use found::{Found, unknown};
pub use ladder::{Ladder, Rung};
pub use lapses::lapses;

use crate::sentences::because;
use crate::session::{Quantity, Reason};

/// What trade customs are called where a published source would stand.
const CUSTOM: &str = "common practice, no source";

/// A reason whose sentence is the template of this name in `prompts/`, with words for what is not a number.
fn reason(
    detector: &str,
    (name, words): (&str, &[(&str, &str)]),
    inputs: &[(&str, f64, &str)],
    method: &str,
    source: &str,
) -> Reason {
    let inputs = quantities(inputs);
    Reason {
        detector: detector.into(),
        because: because(name, &inputs, words),
        inputs,
        probability: None,
        method: method.into(),
        source: source.into(),
    }
}

/// What is known of these numbers.
fn quantities(inputs: &[(&str, f64, &str)]) -> Vec<Quantity> {
    let known = inputs.iter().filter(|(_, value, _)| value.is_finite());
    known.map(|(name, value, unit)| Quantity::new(name, *value, unit)).collect()
}

/// A whole number of things, as a person says it.
pub fn counted(number: usize, one: &str, many: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
}

/// With a capital letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}", chars.as_str())
}
