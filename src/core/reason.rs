//! Why something is said: the one shape of every reason, and of the numbers in it.

use serde::{Deserialize, Serialize};

/// Why a nudge or an advice was given: the detector, its numbers, its method and its source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// Name of the detector.
    pub detector: String,
    /// In one plain sentence, numbers rounded.
    pub because: String,
    /// The numbers it rests on, exact.
    pub inputs: Vec<Quantity>,
    /// Probability of seeing this if all were well, when the method gives one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub probability: Option<f64>,
    /// Method.
    pub method: String,
    /// Published source, or "common practice, no source".
    pub source: String,
}

/// A named number with its unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Quantity {
    /// What it is.
    pub name: String,
    /// How much.
    pub value: f64,
    /// Its unit; empty for a plain number.
    pub unit: String,
}

impl Quantity {
    /// A number with its name and unit.
    pub fn new(name: &str, value: f64, unit: &str) -> Self {
        Quantity { name: name.into(), value, unit: unit.into() }
    }
}
