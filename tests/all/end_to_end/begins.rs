//! When a session in a recording begins, and what becomes of a marker outside one.

use std::fs;
use std::path::Path;

use anyhow::Result;
use serde_json::Value;

use super::{complaint, hushtally, replay};
use crate::speech::{Tape, Voice};

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/pepino.toml");

/// The lines of these words, each after two seconds; by the demo's plan, changed as told.
fn heard(folder: &Path, words: &[&str], more: &str) -> Result<Vec<Value>> {
    let mut tape = Tape::new();
    for said in words {
        tape.say(2.0, Voice::USUAL, said)?;
    }
    tape.quiet(2.0);
    let (sound, plan) = (folder.join("said.wav"), folder.join("plan.toml"));
    tape.write(&sound)?;
    let text = fs::read_to_string(DEMO)?.replacen("[words]\n", &format!("[words]\n{more}\n"), 1);
    fs::write(&plan, text)?;
    replay(&sound, &plan)
}

fn of<'a>(lines: &'a [Value], kind: &str) -> Vec<&'a Value> {
    lines.iter().filter(|line| line["kind"] == kind).collect()
}

#[test]
fn without_begin_the_session_begins_with_the_sound() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let lines = heard(folder.path(), &["yes", "miss left", "yes bonus"], "")?;
    assert_eq!(of(&lines, "began")[0]["at_s"], 0.0, "{lines:#?}");
    assert_eq!((of(&lines, "rep").len(), of(&lines, "unsure").len()), (2, 0), "{lines:#?}");
    // The side is the miss's own, and the try before it stays as it was.
    assert_eq!(of(&lines, "miss")[0]["side"], "left", "{lines:#?}");
    assert!(of(&lines, "rep")[0]["side"].is_null(), "{lines:#?}");
    // Read back, the lines give the same session.
    let tags = folder.path().join("tags.jsonl");
    let text: String = lines.iter().map(|line| format!("{line}\n")).collect();
    fs::write(&tags, text)?;
    let again = replay(&tags, &folder.path().join("plan.toml"))?;
    let plain = |lines: &[Value]| -> Vec<Value> {
        let mut lines = lines.to_vec();
        for line in lines.iter_mut().filter_map(Value::as_object_mut) {
            line.remove("end_s");
            line.remove("decided_s");
        }
        lines
    };
    assert_eq!(plain(&again), plain(&lines));
    Ok(())
}

#[test]
fn a_marker_before_begin_or_after_finish_begins_nothing_and_waits() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let words = ["yes", "juniper begin", "yes", "juniper finish", "yes"];
    let lines = heard(folder.path(), &words, "")?;
    let unsure = of(&lines, "unsure");
    assert_eq!((of(&lines, "rep").len(), of(&lines, "began").len()), (1, 1), "{lines:#?}");
    assert_eq!(unsure.len(), 2, "{lines:#?}");
    for doubt in unsure {
        assert_eq!(doubt["words"], "yes");
        assert_eq!(doubt["other"], "said before the session began");
    }
    let recaps: Vec<&str> = lines.iter().filter_map(|line| line["text"].as_str()).collect();
    assert_eq!(recaps.iter().filter(|text| text.contains(" in ")).count(), 1, "{recaps:?}");
    // Who wants that a marker begins says so in the plan.
    let lines = heard(folder.path(), &words, "marker_begins = true")?;
    assert_eq!((of(&lines, "rep").len(), of(&lines, "unsure").len()), (3, 0), "{lines:#?}");
    Ok(())
}

#[test]
fn what_waits_after_the_end_is_kept_and_no_view_takes_it_for_the_latest_session() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let words = ["juniper begin", "yes", "yes", "juniper finish", "yes"];
    heard(folder.path(), &words, "")?;
    let record = folder.path().join("record.db");
    let run = |arguments: &[&str]| -> Result<String> {
        let output = hushtally(arguments)
            .current_dir(folder.path())
            .env("HUSHTALLY_DB", &record)
            .output()?;
        anyhow::ensure!(output.status.success(), "{arguments:?}: {}", complaint(&output));
        Ok(String::from_utf8(output.stdout)?)
    };
    run(&["replay", "said.wav", "plan.toml", "--record"])?;
    let sessions: Value = serde_json::from_str(&run(&["sessions", "--json"])?)?;
    let shown = |n: usize, field: &str| sessions[n][field].as_u64();
    assert_eq!((shown(0, "tries"), shown(1, "tries")), (Some(2), Some(0)), "{sessions}");
    assert_eq!((shown(0, "unsure"), shown(1, "unsure")), (Some(0), Some(1)), "{sessions}");
    assert!(run(&["recap", "--quiet"])?.contains("2 tries in"));
    assert!(run(&["session", "last"])?.contains("2 tries: 2 rewarded, none missed"));
    assert!(run(&["handover", "Pepino"])?.contains("2 tries: 2 rewarded, none missed"));
    run(&["verify"])?;
    Ok(())
}
