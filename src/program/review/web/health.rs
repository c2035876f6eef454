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
use crate::history::body::{Answer, open_until_well, waiting};
use crate::known::health;
use crate::store::{AnimalId, AnimalRef, Entry, EventId, NewEntry, SessionId, Store, StoreError};
use crate::wording;
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
    Ok(Shown {
        name: name.to_owned(),
        animal_id: id.to_string(),
        session_id: session.map(|session| session.to_string()),
        warnings: Wording::english().warnings(name, &alarms),
        asked: waiting(&alarms).is_some(),
        open: open_until_well(&alarms),
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
        let answer = match form.what.as_str() {
            "concern" => Answer::Concern,
            "no-concern" => Answer::NoConcern,
            "well" => Answer::Well,
            _ => return Err(Trouble::wrong(wording::text("page.trouble_a_note_is_a_health"))),
        };
        let open = health(&store, animal, when.date())?.alarms;
        let answered =
            || Trouble::wrong(wording::text("page.trouble_somebody_has_answered_this_already"));
        let text = answer.words(&open).ok_or_else(answered)?;
        let entry = match answer {
            Answer::Concern => Entry::Concern { text },
            Answer::NoConcern => Entry::NoConcern { text },
            Answer::Well => Entry::Well { text },
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
