//! The openly licensed records of real animals beside the checkout: tries with their times.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;
use std::process::Command;

use sha2::{Digest, Sha256};

use crate::population::Seeds;

/// What an animal did, as a trainer would tag it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum What {
    Rewarded,
    Missed,
    /// A movement on the way to a try that counts.
    Step,
}

/// One try. Seconds from the start of its recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Try {
    pub(crate) at: f64,
    pub(crate) what: What,
    /// When the cue was given.
    pub(crate) cue: Option<f64>,
}

/// All tries of one animal in one recording.
#[derive(Debug, Clone)]
pub(crate) struct Recording {
    /// Which set.
    pub(crate) set: &'static str,
    /// Whose sessions are its history.
    pub(crate) animal: String,
    pub(crate) tries: Vec<Try>,
}

/// A row of the records: what it says by column name.
pub(crate) type Row = BTreeMap<String, String>;

/// Half of the recordings are there to choose on, half to report: by the name's SHA-256.
pub(crate) fn seeds_of(name: &str) -> Seeds {
    match Sha256::digest(name.as_bytes())[0] >> 4 & 1 {
        0 => Seeds::Tuning,
        _ => Seeds::Reported,
    }
}

/// The rows of a file.
///
/// # Errors
/// The file cannot be unpacked or read.
pub(crate) fn rows(folder: &Path, file: &str) -> Result<Vec<Row>, Box<dyn Error>> {
    let unpacked = Command::new("gzip").arg("-dc").arg(folder.join(file)).output()?;
    if !unpacked.status.success() {
        return Err(String::from_utf8_lossy(&unpacked.stderr).into());
    }
    let mut reader = csv::Reader::from_reader(&unpacked.stdout[..]);
    Ok(reader.deserialize().collect::<Result<_, _>>()?)
}

/// The feeders in home cages: every poke that can count is a try, and the poke that a pellet follows is
/// the rewarded one. Where several pokes earn a pellet, those on the way to it are movements. Pokes while
/// a pellet lies there, is on its way, or in a time-out can earn nothing and are not tries.
pub(crate) fn feeders(folder: &Path) -> Result<Vec<Recording>, Box<dyn Error>> {
    let mut recordings: Vec<Recording> = Vec::new();
    let mut waiting: Option<(usize, bool)> = None;
    for row in rows(folder, "fed3_events.csv.gz")? {
        let animal = format!("{}/{}", row["group"], row["session"]);
        if recordings.last().is_none_or(|recording| recording.animal != animal) {
            recordings.push(Recording { set: "feeder", animal, tries: Vec::new() });
            waiting = None;
        }
        let Some(Recording { tries, .. }) = recordings.last_mut() else { continue };
        match row["event"].as_str() {
            "Pellet" => {
                if let Some((place, _)) = waiting.take() {
                    tries[place].what = What::Rewarded;
                }
            }
            "Left" | "Right" | "Poke" => {
                let side = row["side"].chars().next();
                let right_one = side == row["active"].chars().next();
                let several = row["fr"].parse().unwrap_or(1.0) > 1.0;
                let what = if right_one && several { What::Step } else { What::Missed };
                if right_one {
                    waiting = Some((tries.len(), several));
                }
                tries.push(Try { at: row["t_s"].parse()?, what, cue: None });
            }
            _ => {}
        }
    }
    Ok(recordings)
}

/// The go and no-go sessions: the trial's start is the cue, the answer follows it. Where nothing was to
/// be done, there was no cue.
pub(crate) fn trials(folder: &Path) -> Result<Vec<Recording>, Box<dyn Error>> {
    let mut recordings: Vec<Recording> = Vec::new();
    let mut name = String::new();
    for row in rows(folder, "trialexp_trials.csv.gz")? {
        let this = format!("{}/{}", row["subject"], row["session"]);
        if this != name {
            name = this;
            let animal = format!("trialexp/{}", row["subject"]);
            recordings.push(Recording { set: "go/no-go", animal, tries: Vec::new() });
        }
        let Some(recording) = recordings.last_mut() else { continue };
        let (began, answered): (f64, f64) = (row["t_s"].parse()?, row["latency_s"].parse()?);
        let what = if row["rewarded"] == "1" { What::Rewarded } else { What::Missed };
        let cue = (row["go"] != "False").then_some(began);
        recording.tries.push(Try { at: began + answered, what, cue });
    }
    Ok(recordings)
}
