//! `hushtally capture ANIMAL WHAT`

use clap::Args;
use minijinja::context;
use minijinja::value::{Serde, Value};

use super::body::{ask_of_signs, write};
use super::{View, Who, chart, now, print_json, wrong};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::captured;
use crate::known::Known;
use crate::plan::RewardValue;
use crate::store::Entry;
use crate::terminal::{say, say_part};
use crate::wording::{filled, text};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally capture Pepino stretches a wing
  hushtally capture Pepino stretches a wing --value high --context \"after a bath\"
  hushtally capture Pepino                      how often what was captured")]
pub(crate) struct CaptureArgs {
    #[command(flatten)]
    who: Who,
    /// The behaviour that came by itself and was rewarded
    what: Vec<String>,
    /// What it was paid: low, high or jackpot
    #[arg(long, value_name = "VALUE", default_value = "low")]
    value: String,
    /// What went on around it
    #[arg(long)]
    context: Option<String>,
    /// Who saw it
    #[arg(long, value_name = "NAME")]
    person: Option<String>,
    /// Where
    #[arg(long, value_name = "NAME")]
    place: Option<String>,
    #[command(flatten)]
    view: View,
}

pub(crate) fn run(args: &CaptureArgs) -> Result<(), Failure> {
    let clock = Clock::real();
    let store = if args.what.is_empty() { args.view.store()? } else { args.view.writable()? };
    let animal = args.who.find(&store)?;
    if !args.what.is_empty() {
        let value = match args.value.as_str() {
            "low" => RewardValue::Low,
            "high" => RewardValue::High,
            "jackpot" => RewardValue::Jackpot,
            other => return Err(wrong(format!("--value {other}: low, high or jackpot"))),
        };
        let entry = Entry::Captured {
            behaviour: args.what.join(" "),
            value,
            context: args.context.clone(),
        };
        write(&store, &clock, &animal, args.person.clone(), args.place.clone(), entry)?;
        ask_of_signs(&animal.name, now(&clock).date(), args.context.as_deref());
    }
    let known = Known::read(&store, &animal)?;
    let all = captured::of(&known.captured, now(&clock).date());
    if args.view.json {
        return print_json(&all);
    }
    if all.is_empty() {
        say!("{}", text("screen.captured_none"));
    }
    for one in &all {
        let rate = one.per_day.known().map(|rate| Value::from(Serde(rate)));
        let (times, days) = (one.times, one.days.len());
        let values = context! { behaviour => &one.behaviour, times, days, rate };
        say_part!("{}", chart::labelled("", &filled("screen.captured_so", values), 2));
    }
    Ok(())
}
