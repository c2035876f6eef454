//! `hushtally handover ANIMAL`

use std::path::PathBuf;

use clap::Args;

use super::{View, Who, body_of, chart, now, present_plan, print_json};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::next;
use crate::known::Known;
use crate::terminal::say_part;
use crate::wording::handover;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally handover Pepino            a note for whoever trains next
  hushtally handover Pepino --json")]
pub(crate) struct HandoverArgs {
    #[command(flatten)]
    who: Who,
    /// Another behaviour than the one trained last
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    #[command(flatten)]
    view: View,
}

pub(crate) fn run(args: &HandoverArgs) -> Result<(), Failure> {
    let store = args.view.store()?;
    let known = Known::read(&store, &args.who.find(&store)?)?;
    let today = now(&Clock::real()).date();
    let plan = present_plan(&known, args.behaviour.as_deref(), args.plan.as_deref())?;
    let body = body_of(&known, today);
    let next = next::plan(&known.history, &plan, &body, today);
    let note = handover::note(&known.history, &next);
    if args.view.json {
        return print_json(&note);
    }
    let title = format!("{}, {}", note.animal, note.behaviour);
    let lines = std::iter::once(&title).chain(&note.lines);
    lines.for_each(|line| say_part!("{}", chart::labelled("", line, 0)));
    Ok(())
}
