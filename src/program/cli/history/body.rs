//! `hushtally body ANIMAL …`

use clap::{Args, Subcommand};
use jiff::civil::Date;
use minijinja::context;
use serde::Serialize;

use super::{View, Who, body_of, now, print_json_with_alarms, wrong};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::history::Found;
use crate::history::body::{Body, NotedSigns, Train, parse_weight, waiting};
use crate::known::Known;
use crate::plan::Side;
use crate::store::{
    AnimalRef, AnimalRow, Entry, EventId, JournalFilter, JournalRow, NewEntry, ProbeCue, Store,
};
use crate::terminal::{say_part, tell};
use crate::wording::{Signs, Wording, filled, text as said};

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
        lines.push(format!("  {}", said("screen.log_nothing")));
    }
    if let Some(grams) = body.latest_g {
        let (change, days) = (body.change_pct, body.weighed_days_ago.unwrap_or(0));
        lines.push(filled("screen.weight_now", context! { grams, change, days }));
    }
    if let Some(trend) = &body.trend {
        let by = Wording::english().weight_trend(trend);
        lines.push(filled("screen.weight_changes", context! { by }));
    }
    if let Found::NotYet(why) = &body.baseline_g
        && body.latest_g.is_some()
    {
        lines.push(filled("screen.no_baseline", context! { why }));
    }
    if waiting(&body.alarms).is_some() {
        lines.push(filled("screen.is_it_a_concern", context! { animal => animal.to_owned() }));
    }
    lines.push(said(match body.train {
        Train::AsPlanned => "screen.train_as_planned",
        Train::Less => "screen.train_less",
        Train::NotAtAll => "screen.train_not_at_all",
    }));
    super::chart::fitted(&lines.join("\n"))
}

fn in_words(entry: &Entry) -> String {
    let (name, values) = match entry {
        Entry::Weight { grams, said } => {
            // What was said in grams is the same once more.
            let said = said.clone().filter(|said| !said.ends_with(" g"));
            ("weight", context! { grams => *grams, said })
        }
        Entry::Food { what, grams, kcal } => {
            ("food", context! { what, grams => *grams, kcal => *kcal })
        }
        Entry::Coat { text } => ("coat", context! { text }),
        Entry::Sides { text, .. } => ("sides", context! { text }),
        Entry::Sore { text } => ("sore", context! { text }),
        Entry::Ill { text } => ("ill", context! { text }),
        Entry::Concern { text } => ("concern", context! { text }),
        Entry::NoConcern { text } => ("no_concern", context! { text }),
        Entry::Well { text } => ("well", context! { text }),
        Entry::Note { text } => ("note", context! { text }),
        Entry::Captured { behaviour, .. } => ("captured", context! { behaviour }),
        Entry::Probe { behaviour, cue, came, .. } => {
            let (cue, held) = match cue {
                ProbeCue::Own => ("own", *came),
                ProbeCue::None => ("none", !came),
                ProbeCue::Other(_) => ("other", !came),
            };
            ("probe", context! { behaviour, cue, came => *came, held })
        }
        Entry::Planned { change, .. } => ("planned", context! { change }),
        Entry::TakenBack { .. } => ("taken_back", context! {}),
    };
    filled(&format!("screen.log_{name}"), values)
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
        Weight 82 grams, -10.9 % against the baseline.
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
