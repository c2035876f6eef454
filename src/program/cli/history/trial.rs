//! `hushtally plan test ANIMAL`

use std::path::PathBuf;

use clap::Args;

use super::body::write;
use super::{View, Who, present_plan, print_json, wrong};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::planned::{BASELINE, LOT};
use crate::known::Known;
use crate::run::{draw, tests_of};
use crate::terminal::say;
use crate::wording::text;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally plan test Pepino --change \"a fresh sunflower heart\"   draw the session of the change by lot
  hushtally plan test Pepino                                      how the tests stand: before each session
  hushtally plan test Pepino --change \"mornings\" --baseline 8 --lot 25

A change is tested fairly when nobody chose its day. The record keeps the day that was drawn and tells it
when it has come; in the end the difference is compared with what every other day would have given.")]
pub(crate) struct TestArgs {
    #[command(flatten)]
    who: Who,
    /// What will be changed: begins a test
    #[arg(long, value_name = "WORDS")]
    change: Option<String>,
    /// Sessions before the first that may be drawn
    #[arg(long, default_value_t = BASELINE, value_name = "SESSIONS")]
    baseline: usize,
    /// Sessions that one is drawn from; 20 can just show a change at 5 %
    #[arg(long, default_value_t = LOT, value_name = "SESSIONS")]
    lot: usize,
    /// Another behaviour than the one trained last
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// The plan as it is now, instead of as the latest session had it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    #[command(flatten)]
    view: View,
}

pub(crate) fn run(args: &TestArgs) -> Result<(), Failure> {
    let store = if args.change.is_some() { args.view.writable()? } else { args.view.store()? };
    let animal = args.who.find(&store)?;
    let mut known = Known::read(&store, &animal)?;
    let plan = present_plan(&known, args.behaviour.as_deref(), args.plan.as_deref())?;
    if let Some(change) = &args.change {
        let clock = Clock::real();
        let sizes = (args.baseline, args.lot);
        let drawn = draw(Some(&known), &plan, change, sizes, &clock).map_err(wrong)?;
        write(&store, &clock, &animal, None, None, drawn)?;
        known = Known::read(&store, &animal)?;
    }
    let tests = tests_of(&known, &plan);
    if args.view.json {
        return print_json(&tests);
    }
    if tests.is_empty() {
        say!("{}", text("screen.no_test"));
    }
    for (planned, stands) in &tests {
        say!("{}.", stands.said(&planned.change));
    }
    Ok(())
}
