//! Reports to hand on: one HTML file that needs nothing else. Pure but for the templates.

use jiff::Timestamp;
use minijinja::Value;
use minijinja::value::Serde;
use serde_json::json;

use super::animal_view::AnimalView;
use super::session_view::{Head, SessionView, local};
use super::web::render::{STYLE, templates};

/// The report of one session; `hide` leaves out every name and note.
///
/// # Errors
/// A template is broken; tests render them all.
pub fn of_session(
    mut session: SessionView,
    hide: bool,
    made: Timestamp,
) -> Result<String, minijinja::Error> {
    if hide {
        hide_head(&mut session.head);
        session.summary.animal = session.head.animal.clone();
        session.notes.clear();
        for edit in &mut session.edits {
            edit.by = None;
            edit.why = None;
        }
    }
    let made = local(made, 0);
    templates().get_template("report.html")?.render(Value::from(Serde(
        json!({ "session": session, "hide": hide, "made": made, "style": STYLE }),
    )))
}

/// The report of an animal over a period; `hide` leaves out every name.
///
/// # Errors
/// As [`of_session`].
pub fn of_animal(
    mut animal: AnimalView,
    hide: bool,
    made: Timestamp,
) -> Result<String, minijinja::Error> {
    if hide {
        animal.name = HIDDEN.into();
        animal.sessions.iter_mut().for_each(hide_head);
    }
    let made = local(made, 0);
    templates().get_template("report.html")?.render(Value::from(Serde(
        json!({ "animal": animal, "hide": hide, "made": made, "style": STYLE }),
    )))
}

const HIDDEN: &str = "the animal";

fn hide_head(head: &mut Head) {
    head.animal = HIDDEN.into();
    head.person = None;
    head.place = None;
}
