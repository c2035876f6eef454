//! An answer, or what is missing for one.

use serde::Serialize;

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
        Found::NotYet(format!("not enough {what} yet: needs {needed}, has {got}"))
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
            Err(why) => Found::NotYet(why.to_string()),
        }
    }
}
