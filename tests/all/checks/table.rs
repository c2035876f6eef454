//! Every worked example of the shared table, each with its own tolerance.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

use super::{agreement, body, charts, differences, rates, shares, survival, trend};
use crate::needs;

/// Cases whose expected value is a convention that somebody had to choose (what to call 0 of 0, which
/// edge of a window counts), not a number that a source or a library could confirm. We follow them;
/// they prove that the choice is kept, not that it is right.
const CONVENTIONS: [&str; 13] =
    ["A12", "A13", "A14", "B6", "B11", "C7", "D6", "F10", "G5", "H5", "H6", "I10", "L5"];

/// The answer to one case, or `None` for a case that nobody here knows.
fn answer(id: &str, inputs: &Value) -> Option<Value> {
    let family = id.split('-').next()?;
    let known = [
        rates::answer,
        shares::answer,
        charts::answer,
        trend::answer,
        survival::answer,
        agreement::answer,
        body::answer,
    ];
    known.iter().find_map(|chapter| chapter(family, inputs))
}

#[test]
fn needs_shared_every_worked_example_comes_out_as_its_source_says() {
    let Some(path) = needs::shared("checks.json") else { return };
    let table: Value = serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let cases = table["cases"].as_array().unwrap();
    assert_eq!(cases.len() as u64, table["meta"]["n_cases"].as_u64().unwrap());
    let mut faults = Vec::new();
    let mut seen = BTreeSet::new();
    for case in cases {
        let id = case["id"].as_str().unwrap();
        assert!(seen.insert(id), "{id} is there twice");
        let Some(got) = answer(id, &case["inputs"]) else {
            faults.push(format!("{id}: a case that this test does not know"));
            continue;
        };
        let tolerance = case["tolerance"].as_f64().unwrap();
        faults.extend(differences(id, &case["expected"], &got, tolerance));
        // Where the source printed few digits, the table also has what a library computed.
        if let Some(full) = case.get("verified_full_precision").filter(|full| !full.is_null()) {
            faults.extend(differences(&format!("{id} in full"), full, &got, 1e-9));
        }
    }
    for id in CONVENTIONS {
        assert!(seen.contains(id), "{id} is called a convention but is not in the table");
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
    eprintln!("{} cases agree, {} of them conventions", seen.len(), CONVENTIONS.len());
}

#[test]
fn an_unknown_case_is_noticed() {
    assert!(answer("Z9", &Value::Null).is_none());
}
