//! `hushtally replay FILE PLAN`: a recording, or timed tags.

use std::io::{BufReader, BufWriter};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use jiff::ZonedDateTime;
use jiff::tz::TimeZone;

use super::shelf::add_turns;
use super::{Class, Failure, places};
use crate::audio::recording::Recording;
use crate::clock::Clock;
use crate::given;
use crate::hear::Ears;
use crate::plan::Plan;
use crate::run::{
    self, Conductor, Desk, JsonLines, Origin, Outset, Plain, Printer, Recorder, tags,
};
use crate::session::{Prior, Session};
use crate::store::Source;
use crate::terminal::{self, Out};

/// How a file of timed tags ends.
const TAGS: &str = "jsonl";

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally replay monday.wav pepino.toml             see what was heard
  hushtally replay monday.mp4 pepino.toml --record    and keep it with the other sessions
  hushtally replay monday.wav pepino.toml --json      one JSON object a line, for other programs
  hushtally replay tags.jsonl pepino.toml --json      sessions of timed tags instead of sound
  hushtally replay tags.jsonl pepino.toml --json --after last-week.jsonl
                                                      the same for an animal that is known

Timed tags: a file that ends in .jsonl, one JSON object a line, as --json prints them; thousands of
sessions may follow each other. Taken in are the kinds rep, miss, detail, change, take_back, put_back,
cue, hold_start, state, own, behaviour, animal, command, note, unsure, gap and trouble; what follows from them (began, nudge, said)
follows again. A line of kind finished ends a session, and so does another number in \"session\"; the
times of the next one may start again at 0. src/program/run/json/LINES.md says which fields each kind has.")]
pub(super) struct ReplayArgs {
    /// The recording: WAV, FLAC, MP3, Ogg, or a film (MP4) for its sound; or timed tags (.jsonl)
    file: PathBuf,
    /// The plan (TOML)
    plan: PathBuf,
    /// Plans that the session turns to as well ("juniper behaviour turn", or an animal's name); listened for by the
    /// words of the first
    others: Vec<PathBuf>,
    /// Print one JSON object a line for every event
    #[arg(long)]
    json: bool,
    /// Keep the session in the record (not for timed tags)
    #[arg(long)]
    record: bool,
    /// The animal's earlier sessions: files of timed tags, or a record. Without it, what is kept goes by the record that
    /// it is kept in
    #[arg(long, value_name = "FILE", num_args = 1..)]
    after: Vec<PathBuf>,
    #[command(flatten)]
    learnt: places::LearntArgs,
    #[command(flatten)]
    places: places::PlaceArgs,
}

pub(super) fn run(args: &ReplayArgs) -> Result<(), Failure> {
    let (plan, plan_text) = places::plan(&args.plan)?;
    let others = args.others.iter().map(|file| Ok((file, places::plan(file)?)));
    let others: Vec<(&PathBuf, (Plan, String))> = others.collect::<Result<_, Failure>>()?;
    let other_plans: Vec<Plan> = others.iter().map(|(_, (plan, _))| plan.clone()).collect();
    let person = args.learnt.person.as_deref();
    let clock = Clock::real();
    let now = ZonedDateTime::new(clock.utc(), TimeZone::system());
    let outset = (!args.after.is_empty())
        .then(|| tags::before(&args.after, &plan, person, &now))
        .transpose()
        .map_err(anyhow::Error::from)?;
    if args.file.extension().is_some_and(|ending| ending.eq_ignore_ascii_case(TAGS)) {
        let prior = outset.map_or_else(Prior::default, |outset| outset.told.prior);
        return replay_tags(args, &plan, &other_plans, &prior);
    }
    let recording = Recording::open(&args.file)?;
    let learnt = args.learnt.load(args.places.db.as_deref())?;
    let mut model = places::speech_model(args.places.model.as_deref(), &plan)?;
    let mut words = plan.words.clone();
    add_turns(&mut words, &plan, &other_plans, |word| model.knows(word));
    let mut ears = Ears::taught(model, &words, &learnt)?;
    let printer: Box<dyn Printer> = if args.json {
        Box::new(JsonLines::new(Out::json()))
    } else {
        Box::new(Plain::new(Out::text()))
    };
    let mut desk = Desk::new(printer, clock.clone());
    if args.record {
        let origin = |file: &Path, plan: Plan, plan_text: String| Origin {
            plan,
            plan_file: file.to_string_lossy().into_owned(),
            plan_text,
            source: Source::Recording,
            source_name: Some(args.file.to_string_lossy().into_owned()),
            person: args.learnt.person.clone(),
            place: None,
        };
        let first = origin(&args.plan, plan.clone(), plan_text);
        let lanes = others.into_iter().map(|(file, (plan, text))| origin(file, plan, text));
        let store = places::record(args.places.db.as_deref())?;
        let mut recorder = Recorder::new(store, clock, first).and(lanes);
        if let Some(outset) = &outset {
            recorder.tell(outset.clone());
        }
        desk.recorder = Some(recorder);
    }
    let bar = progress_bar(args.json);
    let outset = outset.unwrap_or_else(|| Outset::unknown(&plan));
    let plan = Plan { start_step: outset.step, ..plan };
    let mut conductor = Conductor::of(Session::with_prior(plan, outset.told.prior))
        .and(other_plans)
        .begun_by_word();
    run::replay(recording, &mut ears, &mut conductor, &mut desk, |share| {
        bar.set_position((share * 1000.0) as u64);
    })?;
    bar.finish_and_clear();
    let waiting = desk.recorder.as_ref().map_or(0, Recorder::waiting);
    if waiting > 0 {
        let error = anyhow::anyhow!(
            "{waiting} events could not be saved, for the reason above; the disk may be full. The recording is still there: free some space, then replay it again"
        );
        return Err(Failure::new(Class::Record, error));
    }
    Ok(ears.still_hear()?)
}

/// Goes through sessions of timed tags.
fn replay_tags(
    args: &ReplayArgs,
    plan: &Plan,
    others: &[Plan],
    prior: &Prior,
) -> Result<(), Failure> {
    if args.record {
        let error = anyhow::anyhow!(
            "timed tags are not kept in the record; `hushtally import` takes in earlier notes"
        );
        return Err(Failure::new(Class::Usage, error));
    }
    let name = |path: &Path| path.display().to_string();
    let file = given::open(&args.file)
        .with_context(|| format!("{} cannot be read", name(&args.file)))
        .map_err(|error| Failure::new(Class::Usage, error))?;
    let printer: Box<dyn Printer> = if args.json {
        Box::new(JsonLines::at_leisure(BufWriter::new(Out::json())))
    } else {
        Box::new(Plain::new(Out::text()))
    };
    let mut desk = Desk::new(printer, Clock::real());
    tags::replay_tags(BufReader::new(file), plan, others, prior, &mut desk)
        .with_context(|| name(&args.file))?;
    Ok(())
}

/// Shows how far a recording is heard, on a terminal, in thousandths.
pub(super) fn progress_bar(json: bool) -> ProgressBar {
    if json || !terminal::errors_are_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:40} {percent}%").expect("a fixed template");
    ProgressBar::new(1000).with_style(style)
}
