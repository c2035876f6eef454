//! How well the trainer is heard, by the levels of speech and room.

use serde::Serialize;

/// Whether the trainer is heard well enough.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AudibilityVerdict {
    /// Well enough.
    Well,
    /// Too little above the room's noise.
    Noisy,
    /// Too near to the microphone.
    Loud,
    /// Nothing was heard to judge by.
    Unknown,
}

/// How well the trainer is heard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Audibility {
    /// Whether that is well enough.
    pub verdict: AudibilityVerdict,
    /// Speech above the room's noise, in dB.
    pub above_db: Option<f32>,
}

impl Audibility {
    /// By the levels of speech and noise in dBFS. Words are heard well from some 15 dB above the noise, the
    /// distance at which people understand nearly all of fluent speech (ANSI S3.5 takes 15 dB; from memory).
    pub fn of(speech_dbfs: Option<f32>, noise_dbfs: Option<f32>) -> Self {
        let (Some(speech), Some(noise)) = (speech_dbfs, noise_dbfs) else {
            return Audibility { verdict: AudibilityVerdict::Unknown, above_db: None };
        };
        let above = speech - noise;
        let verdict = match above {
            _ if speech > -6.0 => AudibilityVerdict::Loud,
            above if above < 15.0 => AudibilityVerdict::Noisy,
            _ => AudibilityVerdict::Well,
        };
        Audibility { verdict, above_db: Some(above) }
    }
}
