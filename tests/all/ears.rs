//! Ears in the same process: what comes after a restart, and after a note.

use std::path::Path;

use anyhow::{Context, Result};
use hushtally::at::At;
use hushtally::audio::recording::Recording;
use hushtally::hear::{Ears, Heard, SpeechModel};
use hushtally::plan::Words;

use crate::needs;
use crate::speech::{Tape, Voice};

fn ears(folder: &Path) -> Result<Ears> {
    let data = needs::data_folder().context("no speech model")?;
    let model = SpeechModel::load(&data.join("models/en-us-small"), &folder.join("seen"))?;
    Ok(Ears::new(model, &Words::english())?)
}

/// What ears make of a tape from its first sample on, without its end. Ends of words are rounded to milliseconds: the
/// recogniser's own clock goes on from recording to recording, in single precision.
fn heard(ears: &mut Ears, tape: &Tape, folder: &Path) -> Result<Vec<Heard>> {
    let file = folder.join("said.wav");
    tape.write(&file)?;
    let mut recording = Recording::open(&file)?;
    let mut heard = Vec::new();
    while let Some(frame) = recording.next_frame()? {
        heard.extend(ears.hear(&frame));
    }
    for it in &mut heard {
        let Heard::Tags(tags) = it else { continue };
        for tag in tags {
            tag.end = At::from_secs_f64((tag.end.as_secs_f64() * 1_000.0).round() / 1_000.0);
        }
    }
    Ok(heard)
}

#[test]
fn ears_that_start_from_scratch_hear_what_new_ones_hear() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let mut tape = Tape::new();
    tape.say(1.2, Voice::USUAL, "two")?;
    tape.say(1.0, Voice::USUAL, "finish")?;
    tape.say(1.0, Voice::USUAL, "yes two")?;
    tape.say(1.0, Voice::USUAL, "juniper finish")?.quiet(1.5);
    let by_new = heard(&mut ears(folder.path())?, &tape, folder.path())?;
    let tags = by_new.iter().filter_map(|heard| match heard {
        Heard::Tags(tags) => Some(tags),
        _ => None,
    });
    let words: Vec<_> = tags.flatten().map(|tag| tag.words.as_str()).collect();
    // The marker may be told before its detail has been said.
    assert_eq!(words.join(" "), "two yes two juniper finish", "{by_new:?}");

    let mut ears = ears(folder.path())?;
    // Each leaves something behind that would change what comes next: details of a change, a command after a call, a
    // command that waits, talk, half a word, a note.
    for left in
        ["correction", "juniper", "juniper finish", "the weather has been rather mild for this"]
    {
        let mut before = Tape::new();
        before.say(1.2, Voice::USUAL, left)?.quiet(0.25);
        heard(&mut ears, &before, folder.path())?;
        ears.restart();
        assert_eq!(heard(&mut ears, &tape, folder.path())?, by_new, "after {left:?}");
        ears.restart();
    }
    let mut half = Tape::new();
    half.say(1.2, Voice::USUAL, "ordinary")?;
    heard(&mut ears, &half, folder.path())?;
    ears.dictate()?;
    ears.restart();
    assert_eq!(heard(&mut ears, &tape, folder.path())?, by_new, "after half a word and a note");
    Ok(())
}

#[test]
fn a_tag_after_a_note_that_began_while_somebody_talked_is_heard() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let mut ears = ears(folder.path())?;
    let mut tape = Tape::new();
    let talk =
        "the weather has been rather mild for this time of the year and the hay is still outside";
    tape.say(1.2, Voice::USUAL, talk)?;
    tape.say(2.5, Voice::USUAL, "yes")?.quiet(1.0);
    let file = folder.path().join("said.wav");
    tape.write(&file)?;
    let mut recording = Recording::open(&file)?;
    let (mut told, mut asked) = (Vec::new(), false);
    while let Some(frame) = recording.next_frame()? {
        // So long that the breath is taken for talk.
        if !asked && frame.end().as_secs_f64() > 4.2 {
            ears.dictate()?;
            asked = true;
        }
        told.extend(ears.hear(&frame));
    }
    let kinds = (told.iter().any(|it| matches!(it, Heard::Note { .. })), told.last());
    assert!(matches!(kinds, (true, Some(Heard::Tags(_)))), "{told:?}");
    Ok(())
}

#[test]
fn a_tag_after_a_dictation_that_was_left_is_heard_and_what_was_said_before_is_kept() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let mut ears = ears(folder.path())?;
    let mut tape = Tape::new();
    tape.say(1.2, Voice::USUAL, "the hay is still outside")?;
    tape.quiet(0.8).say(0.0, Voice::USUAL, "yes")?.quiet(1.0);
    let file = folder.path().join("said.wav");
    tape.write(&file)?;
    let mut recording = Recording::open(&file)?;
    let (mut told, mut left) = (Vec::new(), None);
    ears.dictate()?;
    while let Some(frame) = recording.next_frame()? {
        let level = frame.samples.iter().map(|sample| i32::from(*sample).abs()).max();
        // In the quiet before the tag, too short to end the dictation by itself.
        if left.is_none() && frame.end().as_secs_f64() > 2.4 && level < Some(50) {
            left = Some(ears.leave_dictation());
        }
        told.extend(ears.hear(&frame));
    }
    assert!(matches!(left, Some(Some(Heard::Note { .. }))), "{left:?}");
    assert!(matches!(told.last(), Some(Heard::Tags(_))), "{told:?}");
    assert_eq!(ears.leave_dictation(), None);
    Ok(())
}
