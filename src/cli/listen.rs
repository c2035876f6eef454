//! `hushtally listen PLAN`

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::screen::Screen;
use super::{Failure, places};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::run::{
    self, Desk, JsonLines, LiveEnd, Origin, Plain, Printer, Recorder, Resumable, Sounds,
};
use crate::store::Source;

/// A recap is read to its end, unless something is wrong with the output.
const LONGEST_RECAP: Duration = Duration::from_secs(45);

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally listen pepino.toml
  hushtally listen pepino.toml --mic headset --ear headset
  hushtally listen pepino.toml --quiet      no sound in your ear, everything on the screen")]
pub(super) struct ListenArgs {
    /// The plan (TOML)
    plan: PathBuf,
    /// Microphone: part of its name, as `hushtally devices` lists it
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_MIC")]
    mic: Option<String>,
    /// Where nudges and the recap are played: part of its name
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_EAR")]
    ear: Option<String>,
    /// Play and say nothing
    #[arg(long)]
    quiet: bool,
    /// Plain lines only, nothing that is written over (for screen readers)
    #[arg(long)]
    plain: bool,
    /// Print one JSON object a line for every event
    #[arg(long)]
    json: bool,
    /// Who trains
    #[arg(long, value_name = "NAME")]
    person: Option<String>,
    /// Where
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &ListenArgs) -> Result<(), Failure> {
    let (plan, plan_text) = places::plan(&args.plan)?;
    let ears = places::ears(args.places.model.as_deref(), &plan)?;
    let store = places::record(args.places.db.as_deref())?;
    let clock = Clock::real();
    let resumable = Resumable::find(&store, &plan, clock.utc())?;
    let mut desk = Desk::new(printer(args), clock.clone());
    if !args.quiet {
        let ear = DeviceChoice::from_setting(args.ear.as_deref());
        let mut troubles = Vec::new();
        match Sounds::start(ear, clock.clone(), |trouble| troubles.push(trouble)) {
            Ok(sounds) => desk.sounds = Some(sounds),
            Err(error) => troubles.push(format!("nothing can be played: {error}")),
        }
        for trouble in troubles {
            desk.printer.remark(&trouble);
        }
    }
    let origin = Origin {
        plan: plan.clone(),
        plan_file: args.plan.to_string_lossy().into_owned(),
        plan_text,
        source: Source::Live,
        source_name: None,
        person: args.person.clone(),
        place: args.place.clone(),
    };
    desk.recorder = Some(Recorder::new(store, clock.clone(), origin));
    let microphone = DeviceChoice::from_setting(args.mic.as_deref());
    let end = run::listen(plan, ears, microphone, resumable, &mut desk, &clock)?;
    let waiting = desk.recorder.as_ref().map_or(0, Recorder::waiting);
    if let Some(sounds) = desk.sounds.take() {
        let longest = if end == LiveEnd::Finished { LONGEST_RECAP } else { Duration::ZERO };
        sounds.finish(longest);
    }
    if waiting > 0 {
        let error = anyhow::anyhow!(
            "{waiting} events could not be saved; they stand above. Free some space and write down what matters"
        );
        return Err(Failure::new(super::Class::Record, error));
    }
    Ok(())
}

fn printer(args: &ListenArgs) -> Box<dyn Printer> {
    if args.json {
        Box::new(JsonLines(io::stdout()))
    } else if args.plain || !io::stderr().is_terminal() {
        Box::new(Plain::new(io::stdout()))
    } else {
        Box::new(Screen::new())
    }
}
