//! `hushtally probe ANIMAL`

use clap::{Args, ValueEnum};
use minijinja::context;

use super::body::{ask_of_signs, write};
use super::{View, Who, now, present_plan, print_json};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::cue;
use crate::known::Known;
use crate::store::{Entry, ProbeCue};
use crate::terminal::say;
use crate::wording::filled;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally probe Pepino own came                 its own cue was given, and it came
  hushtally probe Pepino none stayed              no cue, and it did not come
  hushtally probe Pepino other came --cue \"turn\"  another cue, and it came all the same
  hushtally probe Pepino own stayed --instead \"waves\"")]
pub(crate) struct ProbeArgs {
    #[command(flatten)]
    who: Who,
    /// What was given
    given: GivenArg,
    /// Whether the behaviour came
    came: Came,
    /// Which other cue
    #[arg(long, value_name = "CUE")]
    cue: Option<String>,
    /// What came instead
    #[arg(long, value_name = "BEHAVIOUR")]
    instead: Option<String>,
    /// Seconds from cue to behaviour
    #[arg(long, value_name = "SECONDS")]
    latency: Option<f64>,
    /// Another behaviour than the one trained last
    #[arg(long, value_name = "NAME")]
    behaviour: Option<String>,
    /// Who gave it
    #[arg(long, value_name = "NAME")]
    person: Option<String>,
    /// Where
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    #[command(flatten)]
    view: View,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum GivenArg {
    /// The behaviour's own cue
    Own,
    /// No cue
    None,
    /// Another cue
    Other,
}

#[derive(Debug, Clone, Copy, PartialEq, ValueEnum)]
enum Came {
    /// It came
    Came,
    /// It did not
    Stayed,
}

pub(crate) fn run(args: &ProbeArgs) -> Result<(), Failure> {
    let store = args.view.writable()?;
    let animal = args.who.find(&store)?;
    let behaviour = match &args.behaviour {
        Some(behaviour) => behaviour.clone(),
        None => present_plan(&Known::read(&store, &animal)?, None, None)?.behaviour,
    };
    let cue = match args.given {
        GivenArg::Own => ProbeCue::Own,
        GivenArg::None => ProbeCue::None,
        GivenArg::Other => args.cue.clone().map_or_else(ProbeCue::another, ProbeCue::Other),
    };
    let entry = Entry::Probe {
        behaviour: behaviour.clone(),
        cue,
        came: args.came == Came::Came,
        instead: args.instead.clone(),
        latency_s: args.latency,
        context: None,
    };
    write(&store, &Clock::real(), &animal, args.person.clone(), args.place.clone(), entry)?;
    ask_of_signs(&animal.name, now(&Clock::real()).date(), args.instead.as_deref());
    let known = Known::read(&store, &animal)?;
    let control = cue::control(known.probes.get(&behaviour).map_or(&[][..], Vec::as_slice));
    if args.view.json {
        return print_json(&control);
    }
    for row in &control.rows {
        let values = context! { condition => &row.name, held => row.held, probes => row.probes };
        say!("{}", filled("screen.probe_held", values));
    }
    say!("{}", filled("screen.next_is", context! { what => &control.next }));
    Ok(())
}
