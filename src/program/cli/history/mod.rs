//! The verbs about weeks of sessions: what they share.

pub(super) mod animals;
pub(super) mod body;
pub(super) mod capture;
pub(super) mod chart;
pub(super) mod demo;
pub(super) mod exchange;
pub(super) mod handover;
mod invented;
pub(super) mod mapping;
mod next;
pub(super) mod plan;
pub(super) mod probe;
pub(super) mod progress;
pub(super) mod session;
pub(super) mod sessions;
pub(super) mod trial;

use std::path::{Path, PathBuf};

use jiff::ZonedDateTime;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::Value;

use super::{Class, Failure, places};
use crate::clock::Clock;
use crate::history::body::{Alarm, Body, read_by};
use crate::known::Known;
use crate::plan::Plan;
use crate::store::{AnimalRow, Store};
use crate::terminal;
use crate::wording::Wording;

/// Which record, and in which form.
#[derive(Debug, clap::Args)]
pub(crate) struct View {
    /// Print exact numbers as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    pub(super) db: Option<PathBuf>,
}

/// Which animal.
#[derive(Debug, clap::Args)]
pub(crate) struct Who {
    /// The animal: a name it has or had, or its key
    #[arg(value_name = "ANIMAL")]
    pub(super) animal: String,
    /// Its species, when two have one name
    #[arg(long)]
    pub(super) species: Option<String>,
}

impl View {
    /// The record, for reading only.
    pub(super) fn store(&self) -> Result<Store, Failure> {
        places::record_to_look(self.db.as_deref())
    }

    /// The record, for writing.
    pub(super) fn writable(&self) -> Result<Store, Failure> {
        places::record(self.db.as_deref())
    }
}

impl Who {
    /// The animal's row.
    pub(super) fn find(&self, store: &Store) -> Result<AnimalRow, Failure> {
        if let Ok(id) = self.animal.parse() {
            let known = store.animals()?.into_iter().find(|row| row.id == id);
            return known.ok_or_else(|| wrong(format!("no animal has the key {}", self.animal)));
        }
        match store.find_animal(&self.animal, self.species.as_deref()) {
            Ok(row) => Ok(row),
            Err(error) => {
                // The begin of a key is enough, as `animals` shows it.
                let animals = store.animals()?;
                let begins = |row: &&AnimalRow| row.id.to_string().starts_with(&self.animal);
                let mut found = animals.iter().filter(begins);
                if let (Some(one), None) = (found.next(), found.next())
                    && self.animal.len() >= sessions::LEAST_KEY
                {
                    return Ok(one.clone());
                }
                let names: Vec<String> = animals
                    .iter()
                    .map(|row| format!("{} ({}, key {})", row.name, row.species, row.id))
                    .collect();
                let list = if names.is_empty() { "none yet".into() } else { names.join("; ") };
                Err(wrong(format!("{error}. Known animals: {list}")))
            }
        }
    }
}

/// Now, in the zone of this computer.
pub(super) fn now(clock: &Clock) -> ZonedDateTime {
    ZonedDateTime::new(clock.utc(), TimeZone::system())
}

/// Which behaviour, by which plan: the plan's file, or what the latest session of the behaviour was trained by.
pub(super) fn present_plan(
    known: &Known,
    behaviour: Option<&str>,
    file: Option<&Path>,
) -> Result<Plan, Failure> {
    if let Some(file) = file {
        return Ok(places::plan(file)?.0);
    }
    let names = known.history.behaviours();
    let Some(name) = behaviour.or_else(|| names.first().copied()) else {
        return Err(wrong(format!(
            "{} has no session yet; name its plan with --plan FILE",
            known.history.animal
        )));
    };
    let found = known.plans.get(name).map(|(_, plan)| plan.clone());
    found.ok_or_else(|| {
        wrong(format!("there is no session of \"{name}\"; trained so far: {}", names.join("; ")))
    })
}

/// How the body log stands.
pub(super) fn body_of(known: &Known, today: Date) -> Body {
    read_by(&known.body, today, &known.bounds())
}

pub(super) fn wrong(message: String) -> Failure {
    Failure::new(Class::Usage, anyhow::anyhow!(message))
}

/// Prints a value as one JSON document, each of the health alarms at `place` (a JSON pointer) with its sentence beside it.
pub(super) fn print_json_with_alarms(
    value: &impl Serialize,
    place: &str,
    animal: &str,
    alarms: &[Alarm],
) -> Result<(), Failure> {
    let mut value = serde_json::to_value(value).map_err(anyhow::Error::from)?;
    let told = value.pointer_mut(place).and_then(Value::as_array_mut).into_iter().flatten();
    for (alarm, says) in told.zip(Wording::english().warnings(animal, alarms)) {
        alarm["says"] = says.into();
    }
    print_json(&value)
}

/// Prints a value as one JSON document.
pub(super) fn print_json(value: &impl Serialize) -> Result<(), Failure> {
    let json = serde_json::to_string(value).map_err(anyhow::Error::from)?;
    terminal::json(&json);
    Ok(())
}
