//! Timed tags in the place of sound: `replay tags.jsonl plan.toml --json`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use anyhow::{Context, Result};
use hushtally::session::Prior;
use hushtally::store::{Filter, Store};
use serde_json::Value;
use tempfile::TempDir;

use super::{complaint, hushtally};
use crate::speech::{Tape, Voice};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo");

fn pepino() -> PathBuf {
    Path::new(DEMO).join("pepino.toml")
}

fn replay(file: &Path, more: &[&str]) -> Result<Output> {
    let plan = pepino();
    Ok(hushtally(&["replay", "--json"]).arg(file).arg(plan).args(more).output()?)
}

/// The JSON lines, without what only hearing knows.
fn lines(output: &Output) -> Result<Vec<Value>> {
    anyhow::ensure!(output.status.success(), complaint(output));
    let line = |line: &str| -> Result<Value> {
        let mut value: Value = serde_json::from_str(line).with_context(|| line.to_owned())?;
        let object = value.as_object_mut().context("no object")?;
        object.remove("end_s");
        object.remove("decided_s");
        Ok(value)
    };
    std::str::from_utf8(&output.stdout)?.lines().map(line).collect()
}

/// A session of this many tries five seconds apart, then nothing for a minute and a half.
fn session(number: u32, tries: u32) -> String {
    let rep = |n| format!("{{\"at_s\":{},\"kind\":\"rep\",\"session\":{number}}}\n", n * 5);
    let ends = tries * 5 + 90;
    let end = format!("{{\"at_s\":{ends},\"kind\":\"finished\",\"session\":{number}}}\n");
    (1..=tries).map(rep).chain([end]).collect()
}

#[test]
fn the_demo_session_heard_and_then_read_back_gives_the_same_lines() -> Result<()> {
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
    let folder = TempDir::new()?;
    let (sound, tags) = (folder.path().join("session.wav"), folder.path().join("tags.jsonl"));
    tape.write(&sound)?;
    let heard = replay(&sound, &[])?;
    fs::write(&tags, &heard.stdout)?;
    let heard = lines(&heard)?;
    assert!(heard.iter().filter(|line| line["kind"] == "rep").count() > 5);
    assert!(heard.iter().all(|line| line["session"] == 1), "{heard:?}");
    assert_eq!(lines(&replay(&tags, &[])?)?, heard);
    Ok(())
}

#[test]
fn sessions_of_timed_tags_need_no_model_and_keep_their_numbers() -> Result<()> {
    let folder = TempDir::new()?;
    let tags = folder.path().join("tags.jsonl");
    fs::write(&tags, [session(3, 30), session(8, 12)].concat())?;
    let output = replay(&tags, &["--model", "no-such-model"])?;
    let lines = lines(&output)?;
    let of = |number: u32, kind: &str| {
        lines.iter().filter(|line| line["session"] == number && line["kind"] == kind).count()
    };
    assert_eq!((of(3, "rep"), of(8, "rep")), (30, 12));
    assert_eq!((of(3, "finished"), of(8, "finished")), (1, 1));
    assert!(of(3, "nudge") > 0 && of(3, "said") > 0, "{lines:?}");
    assert_eq!(lines.iter().filter(|line| line["session"].is_u64()).count(), lines.len());
    Ok(())
}

#[test]
fn an_animals_history_comes_from_tags_or_from_a_record() -> Result<()> {
    let folder = TempDir::new()?;
    let path = |name: &str| folder.path().join(name);
    let (before, tags, record) = (path("before.jsonl"), path("tags.jsonl"), path("demo.db"));
    fs::write(&before, (1..=6).map(|number| session(number, 36)).collect::<String>())?;
    fs::write(&tags, session(1, 20))?;
    let made = hushtally(&["demo-history"]).arg(&record).output()?;
    anyhow::ensure!(made.status.success(), complaint(&made));
    let nudges = |more: &[&str]| -> Result<Vec<Value>> {
        let lines = lines(&replay(&tags, more)?)?;
        Ok(lines.into_iter().filter(|line| line["kind"] == "nudge").collect())
    };
    let alone = nudges(&[])?;
    let name = |path: &Path| path.to_string_lossy().into_owned();
    let after_tags = nudges(&["--after", &name(&before)])?;
    let after_record = nudges(&["--after", &name(&record)])?;
    // A known animal is judged by its own levels.
    assert_ne!(alone, after_tags);
    assert_ne!(alone, after_record);
    Ok(())
}

/// What is kept of a recording is told of the sessions before it as asked for, and goes by that for ever.
#[test]
fn a_recording_that_is_kept_is_told_of_the_sessions_before_it() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = TempDir::new()?;
    let path = |name: &str| folder.path().join(name);
    let name = |path: &Path| path.to_string_lossy().into_owned();
    let (demo, tags, sound) = (path("demo.db"), path("before.jsonl"), path("said.wav"));
    let made = hushtally(&["demo-history"]).arg(&demo).output()?;
    anyhow::ensure!(made.status.success(), complaint(&made));
    fs::write(&tags, (1..=6).map(|number| session(number, 36)).collect::<String>())?;
    let mut tape = Tape::new();
    for words in ["juniper begin", "yes", "yes", "juniper finish"] {
        tape.say(1.5, Voice::USUAL, words)?;
    }
    tape.quiet(1.5);
    tape.write(&sound)?;
    let keep = |record: &str, after: &[&str]| -> Result<(Prior, u8)> {
        let record = path(record);
        let db = name(&record);
        let more = [&["--record", "--db", &db], after].concat();
        lines(&replay(&sound, &more)?)?;
        let store = Store::open(&record)?;
        let row = store.sessions(&Filter::latest())?.pop().context("no session")?;
        // It follows from its log by what is kept with it, whatever became of the files.
        anyhow::ensure!(store.rebuild()?.is_empty() && store.verify("test")?.is_sound());
        Ok((store.told(row.id)?, row.start_step))
    };
    let (told, step) = keep("alone.db", &[])?;
    assert_eq!((told, step), (Prior::default(), 1));
    let (told, step) = keep("after-tags.db", &["--after", &name(&tags)])?;
    assert_eq!((told.sessions.len(), step), (6, 1));
    assert_eq!(told.sessions[0].rewards, 36);
    // The record that tells is another than the one that is written to, and stays as it was.
    let as_it_was = fs::read(&demo)?;
    let (told, step) = keep("after-demo.db", &["--after", &name(&demo)])?;
    assert_eq!(told.sessions.len(), Prior::SESSIONS);
    // What is known of each step comes with it, not only the sessions.
    assert!(step > 1 && !told.ladder.is_empty(), "step {step}, {:?}", told.ladder);
    assert!(fs::read(&demo)? == as_it_was, "the record that was asked has changed");
    Ok(())
}

#[test]
fn bad_tags_are_refused_with_the_line() -> Result<()> {
    let folder = TempDir::new()?;
    let tags = folder.path().join("tags.jsonl");
    fs::write(&tags, "{\"at_s\":5,\"kind\":\"rep\"}\n{\"at_s\":4,\"kind\":\"miss\"}\n")?;
    let back = replay(&tags, &[])?;
    assert_eq!(back.status.code(), Some(1));
    assert!(complaint(&back).contains("tags.jsonl: line 2: at 4 s"), "{}", complaint(&back));
    assert!(String::from_utf8_lossy(&back.stdout).contains("\"rep\""), "what stood before is told");
    let kept = replay(&tags, &["--record"])?;
    assert_eq!(kept.status.code(), Some(2));
    let missing = replay(&folder.path().join("no.jsonl"), &[])?;
    assert_eq!(missing.status.code(), Some(2));
    let after = replay(&tags, &["--after", "/no/such/file"])?;
    assert!(complaint(&after).contains("/no/such/file cannot be read"), "{}", complaint(&after));
    Ok(())
}
