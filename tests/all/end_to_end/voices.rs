//! Breadth: many synthetic speakers over the whole vocabulary of the demo plan. Synthetic speech is easier
//! than people in some ways and harder in others; the score shows that nothing is broken, no more.

use std::path::Path;

use anyhow::Result;
use hushtally::plan::{Command, Plan, Role};

use super::{replay, tags};
use crate::speech::{Tape, Voice, words};

const VOICES: [Voice; 14] = [
    Voice::Espeak("en-us", 140),
    Voice::Espeak("en-us+f2", 140),
    Voice::Espeak("en-us+f3", 160),
    Voice::Espeak("en-us+f4", 130),
    Voice::Espeak("en-us+m1", 140),
    Voice::Espeak("en-us+m3", 150),
    Voice::Espeak("en-us+m5", 140),
    Voice::Espeak("en-us+m7", 130),
    Voice::Flite("slt"),
    Voice::Flite("rms"),
    Voice::Flite("awb"),
    Voice::Flite("kal16"),
    Voice::Festival("kal_diphone"),
    Voice::Festival("cmu_us_slt_arctic_hts"),
];
/// Share of phrases that must be heard exactly. A floor against breakage, not a goal; the score is printed.
const FLOOR: f64 = 0.80;

/// Every word of the plan in a phrase that makes sense: details after a marker or a change, commands called.
fn phrases(plan: &Plan) -> Vec<String> {
    // What is said before the session begins is a doubt.
    let mut phrases = vec![words(plan, &[Role::Command(Command::Begin)])];
    for (role, _) in plan.words.iter() {
        phrases.push(match role {
            Role::Attention | Role::Command(Command::Begin) => continue,
            // Ends the session or the program; said last, or not at all.
            Role::Command(Command::Finish | Command::Quit) => continue,
            // What follows would be dictation.
            Role::Command(Command::Note) => continue,
            Role::Step(_) | Role::Value(_) | Role::Side(_) => {
                words(plan, &[Role::Marker, role.clone()])
            }
            Role::Change => words(plan, &[Role::Change, Role::Step(2)]),
            role => words(plan, std::slice::from_ref(role)),
        });
    }
    phrases
}

#[test]
fn many_voices_are_heard() -> Result<()> {
    if !VOICES.into_iter().all(Voice::is_here) {
        return Ok(());
    }
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/pepino.toml");
    let plan = Plan::parse("pepino.toml", &std::fs::read_to_string(&file)?)?;
    let phrases = phrases(&plan);
    let folder = tempfile::tempdir()?;
    let (mut right, mut all) = (0, 0);
    for (number, voice) in VOICES.into_iter().enumerate() {
        let mut tape = Tape::new();
        for phrase in &phrases {
            tape.say(1.2, voice, phrase)?;
        }
        tape.quiet(1.5);
        let sound = folder.path().join(format!("{number}.wav"));
        tape.write(&sound)?;
        let lines = replay(&sound, &file)?;
        let heard_at = |onset: f64, end: f64| -> Vec<&str> {
            let within: Vec<_> = lines
                .iter()
                .filter(|l| l["at_s"].as_f64().is_some_and(|at| at > onset - 0.4 && at < end + 0.4))
                .cloned()
                .collect();
            // Only the words matter here.
            let texts = tags(&within).join(" ");
            phrases.iter().filter(|phrase| **phrase == texts).map(String::as_str).collect()
        };
        let its: Vec<bool> = tape
            .said
            .iter()
            .map(|said| heard_at(said.onset_s, said.end_s).contains(&said.words.as_str()))
            .collect();
        let hits = its.iter().filter(|hit| **hit).count();
        let missed: Vec<&str> = tape
            .said
            .iter()
            .zip(&its)
            .filter(|(_, hit)| !**hit)
            .map(|(s, _)| s.words.as_str())
            .collect();
        eprintln!("{voice:?}: {hits} of {}; not: {missed:?}", its.len());
        right += hits;
        all += its.len();
    }
    let share = right as f64 / all as f64;
    eprintln!(
        "{} voices, {} phrases: {right} of {all} exactly right ({:.1} %)",
        VOICES.len(),
        phrases.len(),
        100.0 * share
    );
    assert!(share >= FLOOR, "only {share:.3}");
    Ok(())
}
