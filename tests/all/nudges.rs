//! `hushtally nudges`: the quiz typed, where there is no sound device, and the list.

use anyhow::{Context, Result};

use crate::typed::{type_to, without_sound};

/// Runs the verb in an empty house without sound devices, with these lines typed: its exit code, what it printed.
fn nudges(arguments: &[&str], lines: &str) -> Result<(Option<i32>, String)> {
    let house = tempfile::tempdir()?;
    let mut program = without_sound(&house.path().join("nothing"));
    program.arg("nudges").args(arguments).env("HUSHTALLY_HOME", house.path());
    type_to(&mut program, lines)
}

#[test]
fn the_quiz_is_answered_by_lines_and_what_was_missed_comes_again() -> Result<()> {
    // Whatever the order is, only one of the four is "end soon"; the others come three times.
    let (code, told) = nudges(&["--type", "--quiet", "--plain"], &"1\n".repeat(10))?;
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("1: end soon, on a good one."), "{told}");
    assert!(told.contains("1 of 4 known at once."), "{told}");
    assert_eq!(told.matches("No, that is:").count(), 9, "{told}");
    assert_eq!(told.matches("Right:").count(), 1, "{told}");
    Ok(())
}

#[test]
fn the_quiz_is_answered_by_yes_and_no_alone() -> Result<()> {
    // The first choice read is "end soon": no is said to it, and yes to the next one.
    let (code, told) =
        nudges(&["--type", "--quiet", "--plain", "--json"], &"yes\nmiss\nyes\n".repeat(12))?;
    assert_eq!(code, Some(0), "{told}");
    let score = told.lines().find(|line| line.contains("\"quiz\"")).context("no score")?;
    let score: serde_json::Value = serde_json::from_str(score)?;
    assert_eq!((&score["right"], &score["asked"]), (&1.into(), &4.into()), "{told}");
    Ok(())
}

#[test]
fn four_sounds_and_two_receipts_are_listed_and_former_names_are_understood() -> Result<()> {
    let (code, told) = nudges(&["--quiet"], "")?;
    // What is broken goes on indented.
    let listed = told.lines().filter(|line| !line.starts_with(' ')).count();
    assert_eq!((code, listed), (Some(0), 6), "{told}");
    let (code, told) = nudges(&["--quiet", "rate_falling", "high_point"], "")?;
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("easier_or_pay") && told.contains("end_soon"), "{told}");
    let (code, told) = nudges(&["--quiet", "bell"], "")?;
    assert_eq!(code, Some(2), "{told}");
    Ok(())
}
