//! `hushtally replay FILE PLAN`

use std::io::{self, IsTerminal};
use std::path::PathBuf;

use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};

use super::{Failure, places};
use crate::at::At;
use crate::audio::recording::Recording;
use crate::hear::{Ears, SpeechModel};
use crate::plan::Command;
use crate::run::{self, Conductor, Happening, JsonLines, Plain, Printer, Shell};
use crate::session::{Answer, NudgeKind};
use crate::wording::Wording;

#[derive(Debug, Args)]
#[command(after_help = "\
Example: hushtally replay monday.mp4 pepino.toml --json")]
pub(super) struct ReplayArgs {
    /// The recording
    file: PathBuf,
    /// The plan (TOML)
    plan: PathBuf,
    /// Print one JSON object a line for every event
    #[arg(long)]
    json: bool,
    /// Folder of another speech model, or the name of a fetched one
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_MODEL")]
    model: Option<PathBuf>,
}

pub(super) fn run(args: &ReplayArgs) -> Result<(), Failure> {
    let plan = places::plan(&args.plan)?;
    let recording = Recording::open(&args.file)?;
    let model = SpeechModel::load(&places::model_folder(args.model.as_deref(), &plan)?)
        .map_err(crate::hear::HearError::from)?;
    let mut ears = Ears::new(model, &plan.words)?;
    let printer: Box<dyn Printer> = if args.json {
        Box::new(JsonLines(io::stdout()))
    } else {
        Box::new(Plain::new(io::stdout()))
    };
    let mut shell = Unrecorded { printer, wording: Wording::english() };
    let bar = progress_bar(args.json);
    let mut conductor = Conductor::new(plan);
    run::replay(recording, &mut ears, &mut conductor, &mut shell, |share| {
        bar.set_position((share * 1000.0) as u64);
    })?;
    bar.finish_and_clear();
    Ok(())
}

fn progress_bar(json: bool) -> ProgressBar {
    if json || !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {percent}%").expect("a fixed template");
    ProgressBar::new(1000).with_style(style)
}

/// Shows a session without keeping a record of it.
struct Unrecorded {
    printer: Box<dyn Printer>,
    wording: Wording,
}

impl Shell for Unrecorded {
    fn append(&mut self, happening: Happening) -> bool {
        self.printer.event(&happening);
        true
    }
    fn play(&mut self, at: At, nudge: NudgeKind) {
        self.printer.nudge(at, nudge);
    }
    fn say(&mut self, at: At, answer: &Answer) {
        let text = self.wording.say(answer);
        self.printer.said(at, &text);
    }
    fn asked(&mut self, _: At, _: Command) {}
    fn ended(&mut self) {}
}
