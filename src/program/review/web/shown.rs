//! What each page's template is given, by the names that it uses.

use serde::Serialize;

use super::health;
use crate::history::closer::Closer;
use crate::history::cue::{Control, Grid};
use crate::history::next::Next;
use crate::review::agree_view::{AgreeView, OwnRep};
use crate::review::animal_view::AnimalView;
use crate::review::session_view::{FilmView, Head, SessionView};
use crate::wording::Looked;

/// `sessions.html`: the latest first, under the animals.
#[derive(Serialize)]
pub(super) struct SessionsPage {
    pub(super) heads: Vec<Head>,
    pub(super) animals: Vec<Listed>,
    /// How many pages of sessions to ask for next; `None` when all are shown.
    pub(super) more: Option<u32>,
}

/// An animal of the list.
#[derive(Serialize)]
pub(super) struct Listed {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) species: String,
    pub(super) sessions: u64,
    pub(super) warnings: Vec<String>,
}

/// `session.html`.
#[derive(Serialize)]
pub(super) struct SessionPage {
    pub(super) session: SessionView,
    /// The other sessions of its sitting.
    pub(super) others: Vec<Head>,
    pub(super) health: health::Shown,
    /// The key of a scoring that is begun on this page.
    pub(super) new_scoring: String,
    /// The try that is looked at.
    pub(super) chosen: String,
    /// What came of the last change.
    pub(super) said: String,
}

/// `score.html`: only what a second observer may know.
#[derive(Serialize)]
pub(super) struct ScorePage<'a> {
    pub(super) id: String,
    pub(super) scoring: String,
    pub(super) by: String,
    pub(super) own: Vec<OwnRep>,
    pub(super) latest: Option<OwnRep>,
    pub(super) film: Option<FilmView>,
    pub(super) steps: Vec<&'a str>,
    pub(super) animal: &'a str,
    pub(super) behaviour: &'a str,
    pub(super) day: String,
}

/// `agree.html`.
#[derive(Serialize)]
pub(super) struct AgreePage {
    pub(super) id: String,
    pub(super) scoring: String,
    pub(super) view: AgreeView,
    pub(super) head: Head,
    pub(super) film: Option<FilmView>,
}

/// `animal.html`.
#[derive(Serialize)]
pub(super) struct AnimalPage {
    pub(super) animal: AnimalView,
    pub(super) behaviours: Vec<String>,
    pub(super) next: Next,
    pub(super) said: Decided,
    pub(super) health: health::Shown,
    pub(super) control: Control,
    pub(super) grid: Grid,
    pub(super) closer: Closer,
    pub(super) looked: Looked,
    /// How the tests of a change of plan stand.
    pub(super) tests: Vec<String>,
}

/// What is decided, in words.
#[derive(Serialize)]
pub(super) struct Decided {
    pub(super) says: String,
    pub(super) beside: Vec<String>,
    pub(super) used_up: String,
}

/// `card.html`.
#[derive(Serialize)]
pub(super) struct CardPage {
    pub(super) animal: AnimalView,
    pub(super) next: Next,
    pub(super) said: Decided,
    /// What needs attention, in sentences.
    pub(super) warnings: Vec<String>,
    /// What can be changed next, in words.
    pub(super) ways: Vec<String>,
    pub(super) length: String,
    pub(super) session: SessionView,
    pub(super) note: Option<String>,
}
