//! What goes on around a trainer: a parrot that repeats the marker, a child who talks, a phone that rings, a trainer
//! who is out of breath. What the record is left with. (A laptop that dies: `tests/all/live/crash.rs`.)

use std::f64::consts::TAU;
use std::fs;

use anyhow::Result;
use serde_json::Value;

use super::replay;
use crate::needs;
use crate::speech::{Tape, Voice, hiss};

const PARROT: Voice = Voice::Espeak("en-us+f5", 190);
const CHILD: Voice = Voice::Espeak("en-us+f4", 170);

/// What became of the sound: moments of reps, and the words of doubts with their other reading.
struct Record {
    reps: Vec<f64>,
    doubts: Vec<(String, String)>,
    lines: Vec<Value>,
}

impl Record {
    fn of(tape: &Tape, words: &str) -> Result<Record> {
        let folder = tempfile::tempdir()?;
        let (sound, plan) = (folder.path().join("said.wav"), folder.path().join("plan.toml"));
        tape.write(&sound)?;
        let text = "animal = \"Pepino\"\nspecies = \"cockatiel\"\nbehaviour = \"rests a foot\"\n\
                    [[step]]\nname = \"looks\"\n[[step]]\nname = \"steps up\"\n";
        fs::write(&plan, format!("{text}[words]\n{words}\n"))?;
        let lines = replay(&sound, &plan)?;
        let of = |kind: &'static str| lines.iter().filter(move |line| line["kind"] == kind);
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        Ok(Record {
            reps: of("rep").filter_map(|line| line["at_s"].as_f64()).collect(),
            doubts: of("unsure").map(|line| (text(&line["words"]), text(&line["other"]))).collect(),
            lines,
        })
    }

    /// How many of the tags that the trainer said are reps, and how many reps nobody said.
    fn right_and_false(&self, tape: &Tape) -> (usize, usize) {
        let is_at = |at: f64, rep: &f64| (rep - at).abs() < 0.15;
        let said: Vec<f64> = tape.said.iter().map(|said| said.onset_s).collect();
        let right = said.iter().filter(|at| self.reps.iter().any(|rep| is_at(**at, rep))).count();
        let nobody = |rep: &&f64| !said.iter().any(|at| is_at(*at, rep));
        (right, self.reps.iter().filter(nobody).count())
    }
}

fn can_run() -> bool {
    Voice::USUAL.is_here() && needs::model()
}

#[test]
fn a_parrot_that_repeats_the_marker_makes_doubts_and_no_reps() -> Result<()> {
    if !can_run() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for _ in 0..3 {
        tape.say(1.5, Voice::USUAL, "yes")?;
    }
    for _ in 0..6 {
        tape.say(1.5, Voice::USUAL, "yes")?;
        tape.say_further(0.9, PARROT, "yes", 14.0)?;
    }
    tape.quiet(1.5);
    let record = Record::of(&tape, "others_near = true")?;
    assert_eq!(record.right_and_false(&tape), (9, 0), "{:#?}", record.lines);
    let parrot = ("yes".to_owned(), "said by somebody further away".to_owned());
    assert_eq!(record.doubts, vec![parrot; 6], "{:#?}", record.lines);
    // A plan that does not say so takes everybody for the trainer.
    let record = Record::of(&tape, "")?;
    assert_eq!(record.right_and_false(&tape), (9, 6), "{:#?}", record.lines);
    Ok(())
}

#[test]
fn a_child_who_talks_beside_the_trainer_writes_no_reps() -> Result<()> {
    if !can_run() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for sentence in [
        "look, he did it, can I give him one too",
        "yes yes look at him",
        "one, two, three, four, I can count",
        "why does he not want the red one",
        "is he tired",
    ] {
        tape.say(1.2, Voice::USUAL, "yes")?;
        tape.say(1.2, Voice::USUAL, "yes two")?;
        tape.say_further(0.8, CHILD, sentence, 12.0)?;
    }
    tape.quiet(1.5);
    let record = Record::of(&tape, "others_near = true")?;
    assert_eq!(record.right_and_false(&tape), (10, 0), "{:#?}", record.lines);
    Ok(())
}

#[test]
fn a_phone_that_rings_as_loud_as_the_trainer_is_not_a_tag() -> Result<()> {
    if !can_run() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for _ in 0..12 {
        tape.say(1.6, Voice::USUAL, "yes")?;
    }
    tape.quiet(1.5);
    // Two tones with a warble, two seconds in six: as phones ring (from memory).
    let ring = |t: f64| if (t + 3.0) % 6.0 < 2.0 { 1.0 } else { 0.0 };
    let warble = |t: f64| if t % 0.08 < 0.04 { 1_000.0 } else { 1_250.0 };
    tape.beside(|t| 2_500.0 * ring(t) * (TAU * warble(t) * t).sin());
    let record = Record::of(&tape, "")?;
    let between =
        tape.said.iter().filter(|said| ring(said.onset_s - 0.6) + ring(said.end_s + 0.3) == 0.0);
    let (right, false_reps) = record.right_and_false(&tape);
    assert!(right >= between.count() && false_reps == 0, "{right}: {:#?}", record.lines);
    Ok(())
}

#[test]
fn a_trainer_out_of_breath_is_heard_and_no_breath_is_a_tag() -> Result<()> {
    if !can_run() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for said in ["yes", "yes two", "miss", "yes", "tired", "yes", "yes two", "yes", "yes", "miss"] {
        tape.say(1.7, Voice::USUAL, said)?;
    }
    tape.quiet(1.5);
    // Breath in and out each 0.85 s, 20 dB below the words; in a word nobody breathes.
    let speaks: Vec<(f64, f64)> =
        tape.said.iter().map(|said| (said.onset_s - 0.05, said.end_s + 0.05)).collect();
    let noise: Vec<f64> = hiss(7).take(16_000).collect();
    tape.beside(|t| {
        let swell = (std::f64::consts::PI * ((t % 0.85) / 0.45).min(1.0)).sin();
        let breathes = !speaks.iter().any(|(from, to)| (*from..*to).contains(&t));
        if breathes { 700.0 * swell * noise[(t * 16_000.0) as usize % 16_000] } else { 0.0 }
    });
    let record = Record::of(&tape, "")?;
    let reps = tape.said.iter().filter(|said| said.words.starts_with("yes")).count();
    // A breath that goes over into a word may be taken for its beginning, so the onsets are not asked for here.
    assert_eq!((record.reps.len(), record.doubts.len()), (reps, 0), "{:#?}", record.lines);
    Ok(())
}
