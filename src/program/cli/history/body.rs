//! `hushtally body ANIMAL …`

use clap::{Args, Subcommand};
use jiff::civil::Date;
use serde::Serialize;

use super::{View, Who, body_of, now, print_json_with_alarms, wrong};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::Found;
use crate::history::body::{Body, NotedSigns, Train, parse_weight, waiting};
use crate::known::Known;
use crate::plan::Side;
use crate::store::{
    AnimalRef, AnimalRow, Entry, EventId, JournalFilter, JournalRow, NewEntry, Store,
};
use crate::terminal::{say_part, tell};
use crate::wording::{Signs, Wording};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally body Pepino                       the log, with alarms
  hushtally body Pepino weight 92 g           also kg, oz, lb
  hushtally body Pepino food seed mix --grams 12
  hushtally body Brindle sides stiffer on the left --worse left
  hushtally body Brindle sore left fore, warm
  hushtally body Brindle ill coughs           no training is advised until:
  hushtally body Brindle well
  hushtally body Brindle concern blood on the left fore     the same, of any kind
  hushtally body Brindle no-concern the blood was beetroot  answers what was asked of a note

It is a log, not a diagnosis. Whatever it says, see a veterinarian when in doubt.")]
pub(crate) struct BodyArgs {
    #[command(flatten)]
    who: Who,
    #[command(subcommand)]
    fact: Option<FactArg>,
    /// Who says it
    #[arg(long, value_name = "NAME", global = true)]
    person: Option<String>,
    #[command(flatten)]
    view: View,
}

#[derive(Debug, Subcommand)]
enum FactArg {
    /// Weight with its unit: g, kg, oz, lb
    Weight {
        #[arg(required = true)]
        weight: Vec<String>,
    },
    /// What was eaten outside sessions
    Food {
        #[arg(required = true)]
        what: Vec<String>,
        /// In grams
        #[arg(long)]
        grams: Option<f64>,
        /// In kcal
        #[arg(long)]
        kcal: Option<f64>,
    },
    /// Moult or coat
    Coat {
        #[arg(required = true)]
        text: Vec<String>,
    },
    /// A difference between the sides
    Sides {
        #[arg(required = true)]
        text: Vec<String>,
        /// The side that is worse: left or right
        #[arg(long)]
        worse: Option<String>,
    },
    /// Soreness, a wound, a limp
    Sore {
        #[arg(required = true)]
        text: Vec<String>,
    },
    /// Ill from now on
    Ill {
        #[arg(required = true)]
        text: Vec<String>,
    },
    /// A health concern from now on
    Concern {
        #[arg(required = true)]
        text: Vec<String>,
    },
    /// Words of injury or illness that were noted so far are not a health concern
    NoConcern { text: Vec<String> },
    /// Well again from now on
    Well { text: Vec<String> },
    /// Anything else
    Note {
        #[arg(required = true)]
        text: Vec<String>,
    },
}

impl FactArg {
    fn entry(&self) -> Result<Entry, Failure> {
        let said = |words: &[String]| words.join(" ");
        Ok(match self {
            FactArg::Weight { weight } => {
                let said = said(weight);
                let grams = parse_weight(&said).ok_or_else(|| {
                    wrong(format!("\"{said}\" is not a possible weight; write a number with g, kg, oz or lb, from 1 g to 10 t"))
                })?;
                Entry::Weight { grams, said: Some(said) }
            }
            FactArg::Food { what, grams, kcal } => {
                Entry::Food { what: said(what), grams: *grams, kcal: *kcal }
            }
            FactArg::Coat { text } => Entry::Coat { text: said(text) },
            FactArg::Sides { text, worse } => {
                let worse = match worse.as_deref() {
                    None => None,
                    Some("left") => Some(Side::Left),
                    Some("right") => Some(Side::Right),
                    Some(other) => return Err(wrong(format!("--worse {other}: left or right"))),
                };
                Entry::Sides { worse, text: said(text) }
            }
            FactArg::Sore { text } => Entry::Sore { text: said(text) },
            FactArg::Ill { text } => Entry::Ill { text: said(text) },
            FactArg::Concern { text } => Entry::Concern { text: said(text) },
            FactArg::NoConcern { text } => Entry::NoConcern { text: said(text) },
            FactArg::Well { text } => Entry::Well { text: said(text) },
            FactArg::Note { text } => Entry::Note { text: said(text) },
        })
    }
}

#[derive(Serialize)]
struct Whole {
    animal: String,
    #[serde(flatten)]
    body: Body,
    log: Vec<BodyLogRow>,
}

#[derive(Serialize)]
struct BodyLogRow {
    id: String,
    day: Date,
    at: String,
    zone: String,
    person: Option<String>,
    #[serde(flatten)]
    entry: Entry,
}

pub(crate) fn run(args: &BodyArgs) -> Result<(), Failure> {
    let clock = Clock::real();
    let store = match &args.fact {
        Some(fact) => {
            let entry = fact.entry()?;
            let store = args.view.writable()?;
            write(&store, &clock, &args.who.find(&store)?, args.person.clone(), None, entry)?;
            store
        }
        None => args.view.store()?,
    };
    let animal = args.who.find(&store)?;
    let known = Known::read(&store, &animal)?;
    let body = body_of(&known, now(&clock).date());
    let filter = JournalFilter { animal: Some(animal.id), ..JournalFilter::default() };
    let log: Vec<JournalRow> = store.journal(&filter)?;
    if args.view.json {
        let line = |row: JournalRow| BodyLogRow {
            id: row.id.to_string(),
            day: row.day,
            at: row.utc.to_string(),
            zone: row.zone,
            person: row.person,
            entry: row.entry,
        };
        let log = log.into_iter().map(line).collect();
        let whole = Whole { animal: animal.name, body, log };
        return print_json_with_alarms(&whole, "/alarms", &whole.animal, &whole.body.alarms);
    }
    say_part!("{}", text(&animal.name, &body, &log));
    Ok(())
}

/// Shows back and asks about words of injury or illness in what was just noted in passing.
pub(super) fn ask_of_signs(animal: &str, day: Date, note: Option<&str>) {
    let Some(note) = note else { return };
    let words = Signs::english().find(note);
    if !words.is_empty() {
        let noted = NotedSigns { animal: animal.to_owned(), day, words, text: note.to_owned() };
        tell!("{}", Wording::english().noted_signs(&noted));
    }
}

/// Writes an entry about an animal that is in the record.
pub(super) fn write(
    store: &Store,
    clock: &Clock,
    animal: &AnimalRow,
    person: Option<String>,
    place: Option<String>,
    entry: Entry,
) -> Result<(), Failure> {
    store.write_entry(&NewEntry {
        id: EventId(clock.new_id()),
        animal: Some(AnimalRef::Known(animal.id)),
        when: now(clock),
        person,
        place,
        entry,
    })?;
    Ok(())
}

fn text(animal: &str, body: &Body, log: &[JournalRow]) -> String {
    let mut lines = vec![animal.to_owned()];
    lines.extend(
        Wording::english().warnings(animal, &body.alarms).into_iter().map(|one| format!("{one}.")),
    );
    for row in log.iter().rev().take(20).rev() {
        lines.push(format!("  {}  {}", row.day, in_words(&row.entry)));
    }
    if log.is_empty() {
        lines.push("  nothing in the log yet".into());
    }
    if let Some(grams) = body.latest_g {
        let change = body
            .change_pct
            .map_or(String::new(), |change| format!(", {change:+.1} % against the baseline"));
        let ago = match body.weighed_days_ago.unwrap_or(0) {
            ..2 => String::new(),
            days => format!(", weighed {days} days ago"),
        };
        lines.push(format!("Weight {grams:.0} g{change}{ago}."));
    }
    if let Some(trend) = &body.trend {
        lines.push(format!("It changes by {}.", Wording::english().weight_trend(trend)));
    }
    if let Found::NotYet(why) = &body.baseline_g
        && body.latest_g.is_some()
    {
        lines.push(format!("No baseline yet: {why}."));
    }
    if waiting(&body.alarms).is_some() {
        lines.push(format!(
            "Is it a health concern? `hushtally body {animal} concern WORDS` logs it, `hushtally body {animal} no-concern` says that it is none."
        ));
    }
    lines.push(
        match body.train {
            Train::AsPlanned => {
                "Nothing in the log speaks against training; your own eyes go first."
            }
            Train::Less => "Train less: half as long, and only what is easy.",
            Train::NotAtAll => "Do not train today.",
        }
        .into(),
    );
    lines.join("\n") + "\n"
}

fn in_words(entry: &Entry) -> String {
    match entry {
        Entry::Weight { grams, said } => match said {
            Some(said) if !said.ends_with(" g") => {
                format!("weight {grams:.1} g (said: {said})")
            }
            _ => format!("weight {grams:.1} g"),
        },
        Entry::Food { what, grams, kcal } => {
            let grams = grams.map_or(String::new(), |grams| format!(", {grams} g"));
            let kcal = kcal.map_or(String::new(), |kcal| format!(", {kcal} kcal"));
            format!("food: {what}{grams}{kcal}")
        }
        Entry::Coat { text } => format!("coat: {text}"),
        Entry::Sides { text, .. } => format!("sides: {text}"),
        Entry::Sore { text } => format!("sore: {text}"),
        Entry::Ill { text } => format!("ill: {text}"),
        Entry::Concern { text } => format!("health concern: {text}"),
        Entry::NoConcern { text } => format!("no health concern {text}").trim_end().to_owned(),
        Entry::Well { text } => format!("well again {text}").trim_end().to_owned(),
        Entry::Note { text } => format!("note: {text}"),
        Entry::Captured { behaviour, .. } => format!("captured: {behaviour}"),
        Entry::Probe { behaviour, came, .. } => {
            format!("probe: {behaviour} {}", if *came { "came" } else { "did not come" })
        }
        Entry::Planned { change, .. } => format!("a change is tested by lot: {change}"),
        Entry::TakenBack { .. } => "taken back".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::body::{Fact, Noted, read};
    use jiff::civil::date;

    #[test]
    fn an_alarm_ends_at_the_veterinarian() {
        let day = |d| date(2026, 1, d);
        let log: Vec<Noted> = [(1, 92.0), (8, 93.0), (15, 92.0), (22, 82.0)]
            .map(|(d, grams)| Noted { day: day(d), fact: Fact::Weight(grams) })
            .into();
        insta::assert_snapshot!(text("Pepino", &read(&log, day(22)), &[]), @r"
        Pepino
        weight is down by 10.9 %: see a veterinarian today.
          nothing in the log yet
        Weight 82 g, -10.9 % against the baseline.
        Do not train today.
        ");
    }

    #[test]
    fn a_weight_that_cannot_be_is_refused_with_what_to_write() {
        let fact = FactArg::Weight { weight: vec!["5".into(), "stone".into()] };
        let failure = fact.entry().unwrap_err();
        assert!(failure.error.to_string().contains("g, kg, oz or lb"), "{}", failure.error);
    }
}
