//! What is open of an animal's health, on its pages, and what can be said of it there.

use std::sync::Arc;

use axum::Form;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use jiff::ZonedDateTime;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use super::Review;
use super::pages::or_trouble;
use super::render::Trouble;
use crate::clock::Clock;
use crate::history::body::{Alarm, Warning};
use crate::run::health;
use crate::store::{AnimalId, AnimalRef, Entry, EventId, NewEntry, SessionId, Store, StoreError};
use crate::wording::Wording;

/// What `health.html` shows.
#[derive(Serialize)]
pub(super) struct Shown {
    name: String,
    animal_id: String,
    session_id: Option<String>,
    /// What needs attention, in sentences.
    pub(super) warnings: Vec<String>,
    /// Whether a note waits for an answer.
    asked: bool,
    /// Whether anything else is open until the animal is well.
    open: bool,
}

/// What is open of an animal, on a page of it or of one of its sessions.
pub(super) fn shown(
    store: &Store,
    clock: &Clock,
    animal: (AnimalId, &str),
    session: Option<SessionId>,
) -> Result<Shown, StoreError> {
    let (id, name) = animal;
    let today = ZonedDateTime::new(clock.utc(), TimeZone::system()).date();
    let alarms = health(store, id, today)?.alarms;
    let any = |fits: fn(&Alarm) -> bool| alarms.iter().any(fits);
    let noted = |alarm: &Alarm| {
        matches!(
            alarm.warning,
            Warning::Ill(_) | Warning::Concern(_) | Warning::Sore(_) | Warning::Sides(_)
        )
    };
    Ok(Shown {
        name: name.to_owned(),
        animal_id: id.to_string(),
        session_id: session.map(|session| session.to_string()),
        warnings: Wording::english().warnings(name, &alarms),
        asked: any(|alarm| matches!(alarm.warning, Warning::Unanswered { .. })),
        open: any(noted),
    })
}

#[derive(Deserialize)]
pub(super) struct HealthForm {
    #[serde(rename = "do")]
    what: String,
    #[serde(default)]
    session: String,
}

/// Logs what was noted as a concern, or that it is none, or that the animal is well again.
pub(super) async fn answer(
    State(review): State<Arc<Review>>,
    Path(id): Path<String>,
    Form(form): Form<HealthForm>,
) -> Response {
    or_trouble(&review, || {
        let animal: AnimalId = id.parse().map_err(|_| Trouble::missing("animal"))?;
        let store = review.store();
        let when = ZonedDateTime::new(review.clock.utc(), TimeZone::system());
        // What is logged is what the notes say that wait.
        let open = health(&store, animal, when.date())?.alarms;
        let notes: Vec<String> = open
            .into_iter()
            .filter_map(|alarm| match alarm.warning {
                Warning::Unanswered { since, .. } => Some(since.text),
                _ => None,
            })
            .collect();
        let text = notes.join("; ");
        let entry = match form.what.as_str() {
            "concern" if !notes.is_empty() => Entry::Concern { text },
            "no-concern" if !notes.is_empty() => Entry::NoConcern { text },
            "well" => Entry::Well { text: String::new() },
            "concern" | "no-concern" => {
                return Err(Trouble::wrong("Somebody has answered this already."));
            }
            _ => return Err(Trouble::wrong("A note is a health concern, or is none.")),
        };
        store.write_entry(&NewEntry {
            id: EventId(review.clock.new_id()),
            animal: Some(AnimalRef::Known(animal)),
            when,
            person: None,
            place: None,
            entry,
        })?;
        let to = match form.session.parse::<SessionId>() {
            Ok(session) => format!("session/{session}?said=saved"),
            Err(_) => format!("animal/{animal}"),
        };
        Ok(Redirect::to(&review.path(&to)).into_response())
    })
}
