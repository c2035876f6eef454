//! `hushtally replay FILE PLAN`

use std::io::{self, IsTerminal};
use std::path::PathBuf;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::{Failure, places};
use crate::audio::recording::Recording;
use crate::clock::Clock;
use crate::run::{self, Conductor, Desk, JsonLines, Origin, Plain, Printer, Recorder};
use crate::store::Source;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally replay monday.wav pepino.toml             see what was heard
  hushtally replay monday.mp4 pepino.toml --record    and keep it with the other sessions
  hushtally replay monday.wav pepino.toml --json      one JSON object a line, for other programs")]
pub(super) struct ReplayArgs {
    /// The recording: WAV, FLAC, MP3, Ogg, or a film (MP4) for its sound
    file: PathBuf,
    /// The plan (TOML)
    plan: PathBuf,
    /// Print one JSON object a line for every event
    #[arg(long)]
    json: bool,
    /// Keep the session in the record
    #[arg(long)]
    record: bool,
    #[command(flatten)]
    learnt: places::LearntArgs,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &ReplayArgs) -> Result<(), Failure> {
    let (plan, plan_text) = places::plan(&args.plan)?;
    let recording = Recording::open(&args.file)?;
    let learnt = args.learnt.load(args.places.db.as_deref())?;
    let mut ears = places::taught_ears(args.places.model.as_deref(), &plan, &learnt)?;
    let clock = Clock::real();
    let printer: Box<dyn Printer> = if args.json {
        Box::new(JsonLines(io::stdout()))
    } else {
        Box::new(Plain::new(io::stdout()))
    };
    let mut desk = Desk::new(printer, clock.clone());
    if args.record {
        let origin = Origin {
            plan: plan.clone(),
            plan_file: args.plan.to_string_lossy().into_owned(),
            plan_text,
            source: Source::Recording,
            source_name: Some(args.file.to_string_lossy().into_owned()),
            person: args.learnt.person.clone(),
            place: None,
        };
        desk.recorder =
            Some(Recorder::new(places::record(args.places.db.as_deref())?, clock, origin));
    }
    let bar = progress_bar(args.json);
    let mut conductor = Conductor::new(plan);
    run::replay(recording, &mut ears, &mut conductor, &mut desk, |share| {
        bar.set_position((share * 1000.0) as u64);
    })?;
    bar.finish_and_clear();
    let waiting = desk.recorder.as_ref().map_or(0, Recorder::waiting);
    if waiting > 0 {
        let error = anyhow::anyhow!(
            "{waiting} events could not be saved, for the reason above; the disk may be full. The recording is still there: free some space, then replay it again"
        );
        return Err(Failure::new(super::Class::Record, error));
    }
    Ok(())
}

/// Shows how far a recording is heard, on a terminal, in thousandths.
pub(super) fn progress_bar(json: bool) -> ProgressBar {
    if json || !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {percent}%").expect("a fixed template");
    ProgressBar::new(1000).with_style(style)
}
