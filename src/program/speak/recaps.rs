//! How long it takes to read a recap.

use super::VoiceSettings;
use super::engine::Engine;
use super::installed::Installed;
use crate::session::Answer;
use crate::wording::Wording;

#[path = "../../core/wording/tests/longest.rs"]
mod longest;
use longest::longest;

/// Spoken length, at the speed that is the default.
fn spoken_s(text: &str) -> Option<f64> {
    let Ok(engine) = Installed::find() else {
        eprintln!("skipped: flite and espeak-ng are missing; models/fetch brings them");
        return None;
    };
    let spoken = engine.speak(text, &VoiceSettings::default()).unwrap().unwrap();
    Some(spoken.samples.len() as f64 / f64::from(spoken.rate.get()))
}

#[test]
fn a_recap_lasts_at_most_thirty_seconds() {
    let english = Wording::english();
    let Some(recap) = spoken_s(&english.say(&Answer::Recap(longest()))) else { return };
    let Some(details) = spoken_s(&english.details(&longest())) else { return };
    println!("\nrecap_s\t{recap:.1}\ndetails_s\t{details:.1}");
    assert!(recap > 2.0 && recap <= 30.0, "{recap} s");
    assert!(details <= 30.0, "{details} s");
}
