//! What a sound check found, for people, for programs and for the settings, which take it over (`config`).

use serde::{Deserialize, Serialize};

use super::line::{Advice, Missed};

/// What is at the trainer's ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EarKind {
    /// Only the trainer hears it.
    Earphone,
    /// The animal hears it too.
    Loudspeaker,
}

/// How a word that was asked for came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WordOutcome {
    /// It was heard.
    Heard,
    /// Something else was heard.
    Missed,
    /// Nothing was said.
    Silent,
    /// A key went on to the next one.
    Skipped,
}

/// What came of one word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WordResult {
    /// The phrase asked for, and what it was taken for when it was not heard.
    #[serde(flatten)]
    pub missed: Missed,
    /// How it came in.
    pub result: WordOutcome,
    /// How often it was asked for.
    pub tries: u8,
}

/// What was found. Levels are in dBFS of the microphone; what was not measured is left out.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Report {
    /// The microphone, when one was heard.
    pub mic: Option<String>,
    /// The room's noise.
    pub noise_dbfs: Option<f32>,
    /// The trainer's word: loudest 0.3 s (RMS).
    pub speech_dbfs: Option<f32>,
    /// How far that stands above the noise, in dB.
    pub above_db: Option<f32>,
    /// Whether samples were at the limit while the trainer spoke.
    pub clipped: bool,
    /// The output that was chosen.
    pub ear: Option<String>,
    /// What it is, when that was answered.
    pub ear_kind: Option<EarKind>,
    /// The words asked for.
    pub words: Vec<WordResult>,
    /// What would make hearing better.
    pub advice: Vec<Advice>,
    /// Whether the voice was confirmed.
    pub voice_confirmed: bool,
    /// The voice, when another than before was chosen.
    pub voice: Option<String>,
    /// Whether the settings were written.
    pub saved: bool,
}

impl Report {
    /// How many words were heard, and how many were asked for without being skipped.
    pub fn heard(&self) -> (usize, usize) {
        let count = |result| self.words.iter().filter(|word| word.result == result).count();
        let right = count(WordOutcome::Heard);
        (right, right + count(WordOutcome::Missed) + count(WordOutcome::Silent))
    }
}
