//! The demo's plans and its session.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};
use hushtally::plan::Plan;

use super::{replay, tags};
use crate::speech::{Tape, Voice};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo");

#[test]
fn the_demo_plans_are_whole_and_say_that_they_are_invented() -> Result<()> {
    for name in ["pepino.toml", "brindle.toml"] {
        let text = fs::read_to_string(Path::new(DEMO).join(name))?;
        let plan = Plan::parse(name, &text)?;
        assert!(plan.steps.len() >= 5, "{name}");
        for needed in ["invented", "veterinarian", "rules"] {
            assert!(text.to_lowercase().contains(needed), "{name} does not speak of {needed}");
        }
    }
    Ok(())
}

#[test]
fn the_demo_session_is_heard_as_it_is_written() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let script = fs::read_to_string(Path::new(DEMO).join("pepino-session.txt"))?;
    let mut tape = Tape::new();
    for line in script.lines().filter(|line| !line.starts_with('#')) {
        let (quiet, words) = line.split_once('\t').context("no tab")?;
        tape.say(quiet.parse::<f64>()?, Voice::USUAL, words)?;
    }
    tape.quiet(1.5);
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("session.wav");
    tape.write(&file)?;
    let lines = replay(&file, &Path::new(DEMO).join("pepino.toml"))?;
    let said: Vec<&str> = tape.said.iter().map(|said| said.words.as_str()).collect();
    assert_eq!(tags(&lines), said);
    // Onsets, for the tags that begin an utterance: all of them here.
    let heard = lines.iter().filter(|l| l["words"].as_str().is_some_and(|w| !w.is_empty()));
    for (line, said) in heard.zip(&tape.said) {
        let off = line["at_s"].as_f64().context("no time")? - said.onset_s;
        assert!(off.abs() < 0.1, "{} is off by {off:.3} s", said.words);
    }
    Ok(())
}
