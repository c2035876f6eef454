//! `hushtally recap`

use std::path::PathBuf;
use std::time::Duration;

use clap::Args;
use jiff::ZonedDateTime;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::{Class, Failure, places, sound};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::history::body;
use crate::known::health;
use crate::plan::Plan;
use crate::run::{Sounds, treats_used_up};
use crate::session::Summary;
use crate::store::Filter;
use crate::terminal::{self, say, tell};
use crate::wording::Wording;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally recap              the latest session, printed and read aloud
  hushtally recap --quiet      printed only
  hushtally recap --json       its numbers")]
pub(super) struct RecapArgs {
    /// Print only, do not read aloud
    #[arg(long)]
    quiet: bool,
    /// Print its numbers as one JSON object
    #[arg(long)]
    json: bool,
    /// Where it is read: part of the output's name
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_EAR")]
    ear: Option<String>,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

#[derive(Serialize)]
struct Whole<'a> {
    /// Open health concerns, before all else.
    concerns: &'a [body::Alarm],
    #[serde(flatten)]
    summary: &'a Summary,
}

pub(super) fn run(args: &RecapArgs) -> Result<(), Failure> {
    let store = places::record_to_look(args.db.as_deref())?;
    let latest = store.sessions(&Filter::latest())?;
    let Some(latest) = latest.first() else {
        let error = anyhow::anyhow!(
            "there is no session in the record yet; `hushtally listen PLAN` begins one"
        );
        return Err(Failure::new(Class::Failed, error));
    };
    let mut summary = store.fold(latest.id)?.summary;
    summary.was_begun_by(latest.person.as_deref());
    let today = ZonedDateTime::new(Clock::real().utc(), TimeZone::system()).date();
    let concerns = health(&store, latest.animal_id, today)?.concerns();
    if args.json {
        let whole = Whole { concerns: &concerns, summary: &summary };
        let mut json = serde_json::to_value(&whole).map_err(anyhow::Error::from)?;
        if body::holds(&concerns) {
            json["next"] = serde_json::Value::Null;
        }
        terminal::json(&json.to_string());
        return Ok(());
    }
    let version = store.plan_of(latest.id)?;
    let used_up = match (
        Plan::parse(&version.file, &version.text),
        store.find_animal(&latest.animal, None),
    ) {
        (Ok(plan), Ok(animal)) => treats_used_up(&store, &animal, &plan, today)?,
        _ => false,
    };
    let text = Wording::english().recap(&summary, &concerns, used_up);
    say!("{text}");
    if !args.quiet {
        let settings = places::settings()?;
        let ear = DeviceChoice::from_setting(args.ear.as_deref().or(settings.ear.as_deref()));
        let mut sounds = Sounds::start(ear, sound::tuning(&settings), Clock::real(), |trouble| {
            tell!("{trouble}")
        })
        .map_err(anyhow::Error::from)?;
        sounds.say(&text);
        sounds.finish(Duration::from_secs(45));
    }
    Ok(())
}
