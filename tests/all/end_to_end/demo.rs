//! The demo's plans and its session.

use std::fs;
use std::path::Path;
use std::process::Command;

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

/// Runs `demo/link` for a program in a home of its own: exit code, and what it printed.
fn link(home: &Path, program: &str, path: &str) -> Result<(Option<i32>, String)> {
    let output = Command::new(Path::new(DEMO).join("link"))
        .arg(program)
        .env("HOME", home)
        .env("PATH", format!("{path}:/usr/bin:/bin"))
        .output()?;
    Ok((output.status.code(), String::from_utf8(output.stdout)?))
}

#[cfg(unix)]
#[test]
fn the_demos_link_is_found_by_the_shell_undone_by_its_line_and_keeps_off_what_is_not_ours()
-> Result<()> {
    let home = tempfile::tempdir()?;
    let (bin, path) = (home.path().join(".local/bin"), "/nowhere");
    let made = bin.join("hushtally");
    // Made, and moved to a newer build.
    for program in ["/somewhere/release/hushtally", "/else where/release/hushtally"] {
        let (code, told) = link(home.path(), program, path)?;
        assert_eq!(code, Some(0), "{told}");
        assert_eq!(fs::read_link(&made)?, Path::new(program));
        assert!(told.contains("export PATH="), "the shell does not look there yet: {told}");
    }
    let (_, told) = link(home.path(), "/a/release/hushtally", &bin.to_string_lossy())?;
    assert!(!told.contains("export PATH="), "{told}");
    let undo = told.split("To undo it: ").nth(1).context("it does not say how to undo it")?;
    assert!(Command::new("sh").args(["-c", undo.trim()]).status()?.success());
    assert!(fs::symlink_metadata(&made).is_err(), "still there");
    // Somebody else's file, link, and link to nowhere.
    fs::write(&made, "mine")?;
    let (code, told) = link(home.path(), "/a/release/hushtally", path)?;
    assert_eq!((code, fs::read_to_string(&made)?.as_str()), (Some(1), "mine"), "{told}");
    assert!(told.contains("/a/release/hushtally"), "{told}");
    for other in ["/usr/bin/env", "/no/such/thing"] {
        fs::remove_file(&made)?;
        std::os::unix::fs::symlink(other, &made)?;
        assert_eq!(link(home.path(), "/a/release/hushtally", path)?.0, Some(1));
        assert_eq!(fs::read_link(&made)?, Path::new(other));
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
