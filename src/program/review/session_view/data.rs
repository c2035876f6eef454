//! What a session's page shows, ready for a template.

use serde::Serialize;

use crate::session::{Summary, Tries};

/// A session, everything that its page shows.
#[derive(Debug, Clone, Serialize)]
pub struct SessionView {
    /// Its head.
    pub head: Head,
    /// In numbers.
    pub summary: Summary,
    /// How many tries, of them rewarded and missed, in words.
    pub tries: String,
    /// Who scored how many where hands changed, and breaks for play; in words.
    pub also: Vec<String>,
    /// Length, pauses left out.
    pub length: String,
    /// Names of the steps, in order.
    pub steps: Vec<String>,
    /// Tries in order of time.
    pub reps: Vec<RepView>,
    /// Tags to settle.
    pub doubts: Vec<DoubtView>,
    /// Nudges with their reasons.
    pub nudges: Vec<NudgeView>,
    /// States of the animal.
    pub moods: Vec<TimedText>,
    /// Notes, whole.
    pub notes: Vec<TimedText>,
    /// Corrections, latest first.
    pub edits: Vec<EditView>,
    /// Where its film lies.
    pub film: Option<FilmView>,
    /// Second scorings.
    pub scorings: Vec<ScoringView>,
    /// Number of events, to notice what others changed in the meantime.
    pub seen: usize,
    /// Timeline, as SVG.
    pub timeline: String,
    /// Rate over time, as SVG; `None` where there are too few rewards for one.
    pub rate: Option<String>,
}

/// What stands in a list of sessions.
#[derive(Debug, Clone, Serialize)]
pub struct Head {
    /// Key.
    pub id: String,
    /// Animal's key.
    pub animal_id: String,
    /// Animal.
    pub animal: String,
    /// Species.
    pub species: String,
    /// Behaviour.
    pub behaviour: String,
    /// Whether it was one of several in a sitting.
    pub several: bool,
    /// Local day and time.
    pub when: String,
    /// Local day.
    pub day: String,
    /// Length.
    pub length: String,
    /// Tries, of them rewarded and missed.
    #[serde(flatten)]
    pub tries: Tries,
    /// Rewards per minute.
    pub rate: Option<String>,
    /// Tags to settle.
    pub unsure: u32,
    /// Edits that count.
    pub edits: u32,
    /// Step at the end.
    pub step: u8,
    /// Who trained.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// How it was recorded.
    pub source: &'static str,
    /// Whether it has an end.
    pub finished: bool,
}

/// A rep in the table.
#[derive(Debug, Clone, Serialize)]
pub struct RepView {
    /// Its place, from 1.
    pub number: usize,
    /// How forms name it.
    pub target: String,
    /// Seconds since the first sample.
    pub at_s: f64,
    /// The same as minutes and seconds.
    pub at: String,
    /// Step reached.
    pub step: u8,
    /// Step worked on.
    pub working: u8,
    /// low, high, jackpot, missed…; a value that was named by its word.
    pub outcome: String,
    /// Whether it was rewarded.
    pub rewarded: bool,
    /// Side.
    pub side: Option<String>,
    /// Seconds from cue to marker.
    pub latency: Option<String>,
    /// Seconds held.
    pub held: Option<String>,
    /// Whether an edit touched it.
    pub edited: bool,
    /// In words, for captions.
    pub words: String,
}

/// A tag to settle.
#[derive(Debug, Clone, Serialize)]
pub struct DoubtView {
    /// Its event.
    pub id: String,
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// What was heard.
    pub words: String,
    /// What else it may have been, or why it did not count.
    pub other: String,
}

/// A nudge and why.
#[derive(Debug, Clone, Serialize)]
pub struct NudgeView {
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// What it means.
    pub means: String,
    /// Why, in a sentence.
    pub because: String,
    /// The numbers behind it.
    pub inputs: Vec<String>,
    /// Method.
    pub method: String,
    /// Source.
    pub source: String,
}

/// A line with its time.
#[derive(Debug, Clone, Serialize)]
pub struct TimedText {
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// Text.
    pub text: String,
}

/// A correction in the history of edits.
#[derive(Debug, Clone, Serialize)]
pub struct EditView {
    /// Its key.
    pub id: String,
    /// When it was made, local.
    pub when: String,
    /// What it did.
    pub what: String,
    /// Who made it.
    pub by: Option<String>,
    /// Why.
    pub why: Option<String>,
    /// Whether it was taken back later.
    pub undone: bool,
}

/// Where the film lies.
#[derive(Debug, Clone, Serialize)]
pub struct FilmView {
    /// The film's name.
    pub name: String,
    /// Film time of the session's first sample.
    pub offset_s: f64,
    /// Drift.
    pub drift_ppm: f64,
    /// Half-width of its interval, when found by sound.
    pub error_ms: Option<f64>,
}

/// A second scoring.
#[derive(Debug, Clone, Serialize)]
pub struct ScoringView {
    /// Its key.
    pub id: String,
    /// By whom.
    pub by: String,
    /// Number of reps in it.
    pub count: usize,
}
