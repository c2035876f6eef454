//! Talk that begins with a tag: what the record is left with.

use std::path::Path;

use anyhow::Result;

use super::replay;
use crate::needs;
use crate::speech::{Tape, Voice};

#[test]
fn talk_that_begins_with_a_tag_leaves_the_record_as_it_was() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/pepino.toml");
    let mut tape = Tape::new();
    for said in [
        "yes",
        "yes",
        "yes",
        "cancel, that was not mine",
        "yes two",
        "cancel",
        "yes, yes, I am coming",
        "yes",
    ] {
        tape.say(2.0, Voice::USUAL, said)?;
    }
    tape.quiet(2.0);
    let folder = tempfile::tempdir()?;
    let sound = folder.path().join("said.wav");
    tape.write(&sound)?;
    let lines = replay(&sound, &plan)?;
    let count = |kind: &str| lines.iter().filter(|line| line["kind"] == kind).count();
    // Three markers before, one that was taken back on purpose, one after; each talk is kept as a doubt.
    let mut said = lines.iter().filter_map(|line| line["text"].as_str());
    let summary = said.next_back().unwrap_or_default();
    assert!(summary.contains(": 4 tries"), "{lines:#?}");
    assert_eq!(count("unsure"), 2, "{lines:#?}");
    assert_eq!(count("put_back"), 1, "{lines:#?}");
    assert_eq!(count("take_back") - count("put_back"), count("rep") - 4, "{lines:#?}");
    Ok(())
}
