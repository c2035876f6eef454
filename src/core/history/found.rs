//! An answer, or what is missing for one.

use serde::Serialize;

use super::quantities;
use crate::sentences::because;
use crate::stats::StatsError;

/// An answer, or a plain sentence that says what it would need.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Found<T> {
    /// The answer.
    Known(T),
    /// Why there is none yet.
    NotYet(String),
}

/// Why a number cannot be given, in words.
pub fn unknown(error: &StatsError) -> String {
    match *error {
        StatsError::TooFew { what, needed, got } => {
            let inputs = [("needed", needed as f64, ""), ("got", got as f64, "")];
            because("needs", &quantities(&inputs), &[("what", what)])
        }
        StatsError::Bad { what, wanted, got } => {
            let got = got.to_string();
            because("cannot_be", &[], &[("what", what), ("wanted", wanted), ("got", &got)])
        }
        StatsError::PartAboveWhole { part, whole } => {
            let inputs = [("part", part as f64, ""), ("whole", whole as f64, "")];
            because("part_above_whole", &quantities(&inputs), &[])
        }
        StatsError::Lengths { left, right } => {
            let inputs = [("left", left as f64, ""), ("right", right as f64, "")];
            because("lengths_differ", &quantities(&inputs), &[])
        }
        StatsError::Undefined { why } => because("undefined", &[], &[("why", why)]),
    }
}

impl<T> Found<T> {
    /// Not enough sessions: how many are needed, how many there are.
    pub(crate) fn needs(needed: usize, got: usize, what: &'static str) -> Self {
        Found::NotYet(unknown(&StatsError::TooFew { what, needed, got }))
    }

    /// The answer, when there is one.
    pub fn known(&self) -> Option<&T> {
        match self {
            Found::Known(answer) => Some(answer),
            Found::NotYet(_) => None,
        }
    }
}

impl<T> From<Result<T, StatsError>> for Found<T> {
    fn from(result: Result<T, StatsError>) -> Self {
        match result {
            Ok(answer) => Found::Known(answer),
            Err(error) => Found::NotYet(unknown(&error)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_person_is_told_what_an_engineer_reads() {
        let errors = [
            StatsError::TooFew { what: "sessions", needed: 5, got: 0 },
            StatsError::Bad { what: "the time", wanted: "above zero", got: -0.25 },
            StatsError::Bad { what: "the window", wanted: "from 1 to 1200", got: 2000.0 },
            StatsError::PartAboveWhole { part: 7, whole: 5 },
            StatsError::Lengths { left: 3, right: 12 },
            StatsError::Undefined { why: "all values are equal" },
            StatsError::Undefined { why: "not in the list" },
        ];
        for error in errors {
            assert_eq!(unknown(&error), error.to_string());
        }
    }
}
