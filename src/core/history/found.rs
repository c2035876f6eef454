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

impl<T> Found<T> {
    /// Not enough sessions: how many are needed, how many there are.
    pub(crate) fn needs(needed: usize, got: usize, what: &str) -> Self {
        let inputs = [("needed", needed as f64, ""), ("got", got as f64, "")];
        Found::NotYet(because("needs", &quantities(&inputs), &[("what", what)]))
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
            Err(StatsError::TooFew { what, needed, got }) => Found::needs(needed, got, what),
            Err(why) => Found::NotYet(why.to_string()),
        }
    }
}
