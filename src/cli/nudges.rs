//! `hushtally nudges`: what each quiet sound is, and how it sounds.

use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::{Failure, places, sound};
use crate::clock::Clock;
use crate::nudge::family::{Family, Tone};
use crate::nudge::hearing::Hearing;
use crate::run::{Sounds, Tuning};
use crate::session::NudgeKind;
use crate::terminal::{self, say, tell};

/// Long enough for one nudge and the sentence after it.
const LONGEST: Duration = Duration::from_secs(15);

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally nudges                     play each, and say what it means
  hushtally nudges end_soon end_now    only these, to tell them apart
  hushtally nudges --quiet             the list only
  hushtally nudges --species dog       with what is known about a dog's hearing")]
pub(super) struct NudgesArgs {
    /// Only these, by name
    names: Vec<String>,
    /// List only, play nothing
    #[arg(long)]
    quiet: bool,
    /// Print the list as JSON, play nothing
    #[arg(long)]
    json: bool,
    /// The animal that may hear them
    #[arg(long)]
    species: Option<String>,
    #[command(flatten)]
    sound: sound::SoundArgs,
}

#[derive(Serialize)]
struct Row<'a> {
    nudge: &'static str,
    means: &'a str,
    rhythm: String,
    pitch_hz: f32,
    length_ms: u32,
    fade_ms: u32,
    level_dbfs: f32,
}

pub(super) fn run(args: &NudgesArgs) -> Result<(), Failure> {
    let hearing = args.species.as_deref().map(Hearing::of);
    let family = match &hearing {
        Some(hearing) => Family::built_in().below(hearing),
        None => Family::built_in(),
    };
    let wanted = wanted(&args.names)?;
    let rows: Vec<Row> = wanted.iter().map(|kind| row(&family, *kind)).collect();
    if args.json {
        let list = serde_json::json!({ "nudges": rows, "hearing": hearing });
        terminal::json(&list);
        return Ok(());
    }
    if let Some(hearing) = &hearing {
        let [low, high] = hearing.best_hz;
        say!(
            "Hears best from {low:.0} to {high:.0} Hz ({}). Nudges stay below {:.0} Hz.",
            hearing.source,
            hearing.highest_hz()
        );
    }
    let settings = places::settings()?;
    for (kind, row) in wanted.iter().zip(&rows) {
        say!("{:<14} {:<18} {:>4.0} Hz  {}", row.nudge, row.rhythm, row.pitch_hz, row.means);
        if !args.quiet {
            // One player a nudge: its end is waited for, so that sound and sentence stay together.
            let ear = args.sound.ear(&settings);
            // Whoever asks to hear them hears them.
            let tuning = Tuning { loudspeaker: true, ..args.sound.tuning(&settings) };
            let mut sounds =
                Sounds::start(ear, tuning, Clock::real(), |trouble| tell!("{trouble}"))
                    .map_err(anyhow::Error::from)?;
            sounds.nudge(*kind);
            std::thread::sleep(Duration::from_millis(u64::from(row.length_ms) + 300));
            sounds.say(row.means);
            sounds.finish(LONGEST);
        }
    }
    Ok(())
}

fn wanted(names: &[String]) -> Result<Vec<NudgeKind>, Failure> {
    if names.is_empty() {
        return Ok(NudgeKind::ALL.to_vec());
    }
    let all: Vec<&str> = NudgeKind::ALL.map(NudgeKind::name).to_vec();
    names
        .iter()
        .map(|name| {
            NudgeKind::ALL.into_iter().find(|kind| kind.name() == name).ok_or_else(|| {
                let error =
                    anyhow::anyhow!("there is no nudge {name}; there are {}", all.join(", "));
                Failure::new(super::Class::Usage, error)
            })
        })
        .collect()
}

fn row(family: &Family, kind: NudgeKind) -> Row<'_> {
    let nudge = family.get(kind);
    let tones: Vec<&str> = nudge
        .rhythm
        .iter()
        .map(|tone| if *tone == Tone::Short { "short" } else { "long" })
        .collect();
    Row {
        nudge: kind.name(),
        means: &nudge.means,
        rhythm: tones.join(" "),
        pitch_hz: nudge.pitch_hz,
        length_ms: nudge.length_ms(),
        fade_ms: nudge.fade_ms,
        level_dbfs: nudge.level_dbfs,
    }
}
