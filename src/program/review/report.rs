//! Reports to hand on: one HTML file that needs nothing else. Pure but for the templates.

use jiff::Timestamp;
use minijinja::value::Serde;
use minijinja::{Value, context};
use serde::Serialize;

use super::animal_view::AnimalView;
use super::session_view::{Head, SessionView, local};
use super::web::render::{STYLE, templates};
use crate::wording::{filled, text};

/// The report of one session; `hide` leaves out every name and note.
///
/// # Errors
/// A template is broken; tests render them all.
pub fn of_session(
    mut session: SessionView,
    hide: bool,
    made: Timestamp,
) -> Result<String, minijinja::Error> {
    let title = title(&session.head.animal, &session.head.behaviour, hide);
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
    let of = Of::Session(Box::new(session));
    report(&Report { of, hide, made, style: STYLE, title })
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
    let title = title(&animal.name, &animal.behaviour, hide);
    if hide {
        animal.name = text("page.the_animal");
        animal.sessions.iter_mut().for_each(hide_head);
    }
    let made = local(made, 0);
    let of = Of::Animal(Box::new(animal));
    report(&Report { of, hide, made, style: STYLE, title })
}

/// What `report.html` is given.
#[derive(Serialize)]
struct Report {
    #[serde(flatten)]
    of: Of,
    hide: bool,
    made: String,
    style: &'static str,
    title: String,
}

/// As `session` or as `animal`.
#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum Of {
    Session(Box<SessionView>),
    Animal(Box<AnimalView>),
}

fn report(report: &Report) -> Result<String, minijinja::Error> {
    templates().get_template("report.html")?.render(Value::from(Serde(report)))
}

/// What the report is about: without names, the behaviour alone.
fn title(animal: &str, behaviour: &str, hidden: bool) -> String {
    filled("page.report_title", context! { animal, behaviour, hidden })
}

fn hide_head(head: &mut Head) {
    head.animal = text("page.the_animal");
    head.person = None;
    head.place = None;
}
