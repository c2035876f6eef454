//! The statistics against numbers from outside: a table of worked examples with their sources, and
//! reference libraries over random inputs.

mod agreement;
mod animals;
mod body;
mod chains;
mod charts;
mod hostile;
mod rates;
mod reference;
mod shares;
mod survival;
mod table;
mod trend;

use hushtally::stats::{Estimate, StatsError};
use serde_json::{Value, json};

/// A number of the inputs.
fn number(inputs: &Value, key: &str) -> f64 {
    inputs[key].as_f64().unwrap_or_else(|| panic!("{key} is not a number in {inputs}"))
}

/// A count of the inputs.
fn whole(inputs: &Value, key: &str) -> u32 {
    let x = inputs[key].as_u64().unwrap_or_else(|| panic!("{key} is not a count in {inputs}"));
    u32::try_from(x).unwrap()
}

/// A list of numbers of the inputs.
fn list(inputs: &Value, key: &str) -> Vec<f64> {
    let items = inputs[key].as_array().unwrap_or_else(|| panic!("{key} is no list in {inputs}"));
    items.iter().map(|x| x.as_f64().unwrap()).collect()
}

/// A list of counts of the inputs.
fn wholes(inputs: &Value, key: &str) -> Vec<u32> {
    list(inputs, key).into_iter().map(|x| x as u32).collect()
}

/// A square table of counts.
fn square(value: &Value) -> Vec<Vec<u32>> {
    let cells = |row: &Value| -> Vec<u32> {
        row.as_array().unwrap().iter().map(|c| c.as_u64().unwrap() as u32).collect()
    };
    value.as_array().unwrap().iter().map(cells).collect()
}

/// A number as the table writes it: null for what is undefined, "inf" for what has no end.
fn out(x: Result<f64, StatsError>) -> Value {
    match x {
        Ok(x) if x.is_infinite() => json!(if x > 0.0 { "inf" } else { "-inf" }),
        Ok(x) => json!(x),
        Err(_) => Value::Null,
    }
}

/// The two ends of an interval.
fn ends(e: Result<Estimate, StatsError>) -> Value {
    e.map_or(Value::Null, |e| json!([out(Ok(e.low)), out(Ok(e.high))]))
}

/// Where `got` is not what was `wanted`: every wanted key must be there, every number within the
/// tolerance. Further keys of `got` are not looked at.
fn differences(path: &str, wanted: &Value, got: &Value, tolerance: f64) -> Vec<String> {
    match (wanted, got) {
        (Value::Object(wanted), _) => wanted
            .iter()
            .flat_map(|(key, w)| {
                differences(&format!("{path}.{key}"), w, &got[key.as_str()], tolerance)
            })
            .collect(),
        (Value::Array(list), Value::Array(have)) if list.len() == have.len() => {
            let tolerance = tolerance.max(printed_to(wanted));
            let pairs = list.iter().zip(have).enumerate();
            pairs
                .flat_map(|(i, (w, g))| differences(&format!("{path}[{i}]"), w, g, tolerance))
                .collect()
        }
        (Value::Number(w), Value::Number(g)) => {
            let (w, g) = (w.as_f64().unwrap(), g.as_f64().unwrap());
            if (w - g).abs() <= tolerance.max(printed_to(wanted)) {
                vec![]
            } else {
                vec![format!("{path}: {g} instead of {w} ± {tolerance:e}")]
            }
        }
        (w, g) if w == g => vec![],
        (w, g) => vec![format!("{path}: {g} instead of {w}")],
    }
}

/// Half a unit of the last printed place of a number, or of a list of numbers (which may have lost
/// its trailing zeros), with eight places or more: a value printed to 12 digits cannot be met more
/// closely than that. Numbers with fewer places are taken as exact.
fn printed_to(value: &Value) -> f64 {
    let places = |x: f64| format!("{x}").split_once('.').map_or(0, |(_, places)| places.len());
    let most = match value {
        Value::Number(x) => x.as_f64().map_or(0, places),
        Value::Array(list) => list.iter().filter_map(Value::as_f64).map(places).max().unwrap_or(0),
        _ => 0,
    };
    if most >= 8 { 0.51 * 0.1_f64.powi(most as i32) } else { 0.0 }
}

#[test]
fn the_comparison_can_fail() {
    let wanted = json!({"a": 1.0, "b": [2, null], "c": "inf"});
    let same = json!({"a": 1.0 + 1e-10, "b": [2.0, null], "c": "inf", "more": 3});
    assert!(differences("", &wanted, &same, 1e-9).is_empty());
    let other = json!({"a": 1.1, "b": [2.0, 0.0], "c": 7});
    assert_eq!(differences("", &wanted, &other, 1e-9).len(), 3);
    assert_eq!(differences("", &wanted, &json!({}), 1e-9).len(), 3);
    assert_eq!(differences("", &json!([1, 2]), &json!([1]), 1.0).len(), 1);
}
