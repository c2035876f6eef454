//! `hushtally progress ANIMAL`

mod shown;

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::{View, Who, body_of, chart, now, present_plan, print_json_with_alarms};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::Ladder;
use crate::history::body::Body;
use crate::history::captured::{self, Captured};
use crate::history::change::{self, Change};
use crate::history::closer::{self, Closer};
use crate::history::course::Course;
use crate::history::cue::{self, Control, Grid};
use crate::history::length::{self, Length};
use crate::history::people::{self, Person};
use crate::history::planned::{self, Planned, Stands};
use crate::history::progress::{self, StepProgress};
use crate::history::record::{self, FallBack, StepRecord};
use crate::known::Known;
use crate::terminal::say_part;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally progress Pepino                        how it goes, and three numbers
  hushtally progress Pepino --behaviour \"targets\"
  hushtally progress Pepino --plan pepino.toml     by the plan as it is now
  hushtally progress Pepino --why                  step by step, with numbers and why
  hushtally progress Pepino --json                 all of it, exact")]
pub(crate) struct ProgressArgs {
    #[command(flatten)]
    who: Who,
    /// Another behaviour than the one trained last
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Everything, step by step, and why: numbers, method and source
    #[arg(long)]
    why: bool,
    #[command(flatten)]
    view: View,
}

#[derive(Serialize)]
struct Whole {
    animal: String,
    behaviour: String,
    invented: bool,
    sessions: usize,
    working: Option<u8>,
    steps: Vec<StepProgress>,
    record: Vec<StepRecord>,
    gone: std::collections::BTreeMap<String, u32>,
    fall_back: Option<FallBack>,
    change: Option<Change>,
    length: Length,
    closer: Closer,
    people: Vec<Person>,
    control: Control,
    grid: Grid,
    captured: Vec<Captured>,
    tests: Vec<(Planned, Stands)>,
    body: Body,
}

pub(crate) fn run(args: &ProgressArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let known = Known::read(&store, &args.who.find(&store)?)?;
    let today = now(&Clock::real()).date();
    let plan = present_plan(&known, args.behaviour.as_deref(), args.plan.as_deref())?;
    let present = Ladder::of(0, &plan);
    let course = Course::new(&known.history, &plan.behaviour, &present);
    let working = course.working();
    let records = record::steps(&course, today, plan.advice.raise_at);
    let probes = known.probes.get(&plan.behaviour).map_or(&[][..], Vec::as_slice);
    let whole = Whole {
        animal: known.history.animal.clone(),
        behaviour: plan.behaviour.clone(),
        invented: course.sessions.iter().any(|trained| trained.session.simulated),
        sessions: course.sessions.len(),
        working,
        steps: progress::steps(&course, &plan.advice),
        fall_back: working.and_then(|step| record::fall_back(&records, step)),
        change: working.and_then(|step| change::advise(&course, step, &plan.advice, today)),
        length: length::advise(&known.history, &plan.behaviour, &plan.limits),
        closer: closer::look(&course, &plan),
        people: people::compare(&course),
        control: cue::control(probes),
        grid: cue::grid(&course, probes),
        captured: captured::of(&known.captured, today),
        tests: planned::of(&course, &known.planned, &plan.behaviour),
        body: body_of(&known, today),
        gone: course.gone.clone(),
        record: records,
    };
    if args.view.json {
        let (animal, alarms) = (&whole.animal, &whole.body.alarms);
        return print_json_with_alarms(&whole, "/body/alarms", animal, alarms);
    }
    say_part!("{}", chart::fitted(&shown::text(&whole, args.why)));
    Ok(())
}
