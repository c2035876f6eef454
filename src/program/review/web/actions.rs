//! What can be done: every change is a new event.

use std::path::PathBuf;
use std::sync::Arc;

use axum::Form;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use minijinja::context;
use serde::Deserialize;

use super::Review;
use super::pages::{load, or_trouble};
use super::render::Trouble;
use crate::at::At;
use crate::interpret::Details;
use crate::plan::{RewardValue, Side};
use crate::review::align::align;
use crate::review::corrections::{self, Refused};
use crate::review::{film, session_view};
use crate::run::settle_doubt;
use crate::session::{MissedBecause, Outcome};
use crate::settle::Settled;
use crate::store::{Change, Edit, EventId, Folded, RepEdit, SessionId, Store, Stored};
use crate::wording;

type Shared = State<Arc<Review>>;

/// Longest name and reason kept, in characters.
const LONGEST: usize = 500;

fn some(text: &str) -> Option<String> {
    let text: String = text.trim().chars().take(LONGEST).collect();
    (!text.is_empty()).then_some(text)
}

impl Review {
    fn back(&self, id: &str, rest: &str) -> Response {
        Redirect::to(&self.path(&format!("session/{id}{rest}"))).into_response()
    }

    /// Writes edits down if, as the session stands at that moment, they may be made; the key of the first.
    fn write(
        &self,
        store: &Store,
        session: SessionId,
        edits: Vec<Edit>,
        may: impl FnOnce(&Folded, &[Stored]) -> Result<(), Refused>,
    ) -> Result<EventId, Trouble> {
        let first = EventId(self.clock.new_id());
        let later = std::iter::repeat_with(|| EventId(self.clock.new_id()));
        let edits = std::iter::once(first).chain(later).zip(edits).collect();
        store.amend(session, self.clock.utc(), |folded, events| {
            may(folded, events).map(|()| edits).map_err(Trouble::from)
        })?;
        Ok(first)
    }
}

#[derive(Deserialize)]
pub(super) struct EditForm {
    #[serde(default)]
    rep: String,
    #[serde(rename = "do")]
    what: String,
    #[serde(default)]
    at_s: String,
    #[serde(default)]
    by: String,
    #[serde(default)]
    why: String,
    #[serde(default)]
    seen: usize,
}

pub(super) async fn edit(
    State(review): Shared,
    Path(id): Path<String>,
    Form(form): Form<EditForm>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let loaded = load(&store, &id)?;
        let change = change(&form, loaded.plan.steps.len())?;
        let target = corrections::target_of(&change);
        let adds = matches!(change, Change::Add { .. });
        let edit = Edit { change, by: some(&form.by), why: some(&form.why) };
        let made = review.write(&store, loaded.id, vec![edit], |folded, events| match target {
            Some(target) => corrections::may_correct(folded, events, target, form.seen),
            None => Ok(()),
        })?;
        // An added rep is named by the edit that added it.
        let chosen = if adds {
            format!("e{made}")
        } else {
            form.rep.chars().filter(|c| c.is_ascii_alphanumeric() || *c == '-').collect()
        };
        Ok(review.back(&id, &format!("?rep={chosen}&said=saved")))
    })
}

fn change(form: &EditForm, steps: usize) -> Result<Change, Trouble> {
    let at = || {
        let seconds: Option<f64> = form.at_s.parse().ok().filter(|s: &f64| s.is_finite());
        seconds
            .filter(|s| (0.0..1e6).contains(s))
            .map(At::from_secs_f64)
            .ok_or_else(|| Trouble::wrong(wording::text("page.trouble_choose_film_for_time")))
    };
    if form.what == "add" {
        return Ok(Change::Add { at: at()?, rep: RepEdit::default(), settles: None });
    }
    let target = session_view::target(&form.rep)
        .ok_or_else(|| Trouble::wrong(wording::text("page.trouble_choose_try_first")))?;
    let to = |to: RepEdit| Ok(Change::Revise { target, to });
    let paid = |value| RepEdit { outcome: Some(Outcome::Rewarded(value)), ..RepEdit::default() };
    let side = |side| RepEdit { side: Some(side), ..RepEdit::default() };
    match form.what.as_str() {
        "remove" => Ok(Change::Remove { target }),
        "move" => to(RepEdit { at: Some(at()?), ..RepEdit::default() }),
        "low" => to(paid(RewardValue::Low)),
        "high" => to(paid(RewardValue::High)),
        "jackpot" => to(paid(RewardValue::Jackpot)),
        "miss" => to(RepEdit {
            outcome: Some(Outcome::Missed(MissedBecause::Said)),
            ..RepEdit::default()
        }),
        "left" => to(side(Some(Side::Left))),
        "right" => to(side(Some(Side::Right))),
        "no-side" => to(side(None)),
        other => {
            let step: Option<u8> = other.strip_prefix("step-").and_then(|n| n.parse().ok());
            match step {
                Some(step) if step >= 1 && usize::from(step) <= steps => {
                    to(RepEdit { step: Some(step), ..RepEdit::default() })
                }
                _ => Err(Trouble::wrong(wording::text("page.trouble_this_cannot_be_done_to"))),
            }
        }
    }
}

#[derive(Deserialize)]
pub(super) struct SettleForm {
    event: EventId,
    #[serde(rename = "do")]
    what: String,
    #[serde(default)]
    by: String,
}

pub(super) async fn settle(
    State(review): Shared,
    Path(id): Path<String>,
    Form(form): Form<SettleForm>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let loaded = load(&store, &id)?;
        let settled = match form.what.as_str() {
            "rep" => Settled::Rep(Details::default()),
            "miss" => Settled::Miss(Details::default()),
            "none" => Settled::Nothing { no_rep: false },
            _ => return Err(Trouble::wrong(wording::text("page.trouble_a_tag_is_a_rewarded"))),
        };
        let by = some(&form.by);
        let edit = settle_doubt(&store, &review.clock, loaded.id, form.event, settled, by)?;
        if edit.is_none() {
            let text = wording::text("page.trouble_already_settled");
            return Err(Trouble::new(StatusCode::CONFLICT, text));
        }
        Ok(review.back(&id, "?said=saved"))
    })
}

#[derive(Deserialize)]
pub(super) struct UndoForm {
    event: EventId,
    #[serde(default)]
    by: String,
    #[serde(default)]
    back: String,
}

pub(super) async fn undo(
    State(review): Shared,
    Path(id): Path<String>,
    Form(form): Form<UndoForm>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let loaded = load(&store, &id)?;
        let change = Change::Undo { target: form.event };
        let edit = Edit { change, by: some(&form.by), why: None };
        review.write(&store, loaded.id, vec![edit], |_, events| {
            corrections::may_undo(events, form.event)
        })?;
        let scoring: Option<EventId> = form.back.parse().ok();
        match scoring {
            Some(scoring) => Ok(review.back(&id, &format!("/score/{scoring}"))),
            None => Ok(review.back(&id, "?said=saved")),
        }
    })
}

#[derive(Deserialize)]
pub(super) struct NoteForm {
    text: String,
}

pub(super) async fn note(
    State(review): Shared,
    Path(id): Path<String>,
    Form(form): Form<NoteForm>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let loaded = load(&store, &id)?;
        let text = form.text.trim();
        if text.is_empty() {
            return Err(Trouble::wrong(wording::text("page.trouble_the_note_is_empty")));
        }
        store.add_note(loaded.id, text, EventId(review.clock.new_id()), review.clock.utc())?;
        Ok(review.back(&id, "?said=saved"))
    })
}

#[derive(Deserialize)]
pub(super) struct FilmForm {
    #[serde(default)]
    path: String,
    #[serde(default)]
    offset_s: String,
}

/// Places a film: by its sound when a path is given, by hand when an offset is.
pub(super) async fn film(
    State(review): Shared,
    Path(id): Path<String>,
    Form(form): Form<FilmForm>,
) -> Response {
    let worker = review.clone();
    // Hearing a film takes a while; other pages go on meanwhile.
    let placed = tokio::task::spawn_blocking(move || place_film(&worker, &id, &form).map(|()| id));
    match placed.await {
        Ok(Ok(id)) => review.back(&id, "?said=placed"),
        Ok(Err(trouble)) => review.trouble(trouble),
        Err(_) => review.trouble(Trouble::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            wording::text("page.trouble_hearing_the_film_failed_the"),
        )),
    }
}

/// How far the film is heard that is being placed, in percent; nothing when none is.
pub(super) async fn film_heard(State(review): Shared, Path(id): Path<String>) -> Response {
    match review.heard().get(&id) {
        Some(percent) => percent.to_string().into_response(),
        None => StatusCode::NO_CONTENT.into_response(),
    }
}

fn place_film(review: &Review, id: &str, form: &FilmForm) -> Result<(), Trouble> {
    let loaded = load(&review.store(), id)?;
    let change = if form.path.trim().is_empty() {
        let offset: f64 = form.offset_s.parse().unwrap_or(f64::NAN);
        if !(-1e5..1e6).contains(&offset) {
            return Err(Trouble::wrong(wording::text("page.trouble_the_films_place_is_a")));
        }
        let name = wording::text("page.film_by_hand_name");
        Change::Film { name, offset_s: offset, drift_ppm: 0.0, error_ms: None }
    } else {
        let path = PathBuf::from(form.path.trim());
        // The lock on the store is not held while the film is heard.
        let mut progress = |percent| {
            review.heard().insert(id.to_owned(), percent);
        };
        let heard = (review.hear)(&path, &loaded.plan, &mut progress);
        review.heard().remove(id);
        let heard = heard.map_err(Trouble::wrong)?;
        let found = align(&film::logged(&loaded.events), &heard).map_err(|error| {
            Trouble::wrong(wording::filled(
                "page.trouble_film_not_placed",
                context! { error => error.to_string() },
            ))
        })?;
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let (offset_s, drift_ppm) = (found.offset_s, found.drift_ppm);
        Change::Film { name, offset_s, drift_ppm, error_ms: Some(found.error_ms) }
    };
    let edit = Edit { change, by: None, why: None };
    review.write(&review.store(), loaded.id, vec![edit], |_, _| Ok(()))?;
    Ok(())
}

#[derive(Deserialize)]
pub(super) struct ScoreForm {
    at_s: String,
    step: u8,
    paid: String,
    #[serde(default)]
    by: String,
    #[serde(default)]
    last: String,
}

/// A rep of a second scoring; with `last`, it stands in for that one.
pub(super) async fn score(
    State(review): Shared,
    Path((id, scoring)): Path<(String, String)>,
    Form(form): Form<ScoreForm>,
) -> Response {
    or_trouble(&review, || {
        let scoring: EventId = scoring.parse().map_err(|_| Trouble::missing("scoring"))?;
        let store = review.store();
        let loaded = load(&store, &id)?;
        let seconds: f64 = form.at_s.parse().unwrap_or(f64::NAN);
        if !(0.0..1e6).contains(&seconds) {
            return Err(Trouble::wrong(wording::text("page.trouble_the_film_is_before_the")));
        }
        let outcome = match form.paid.as_str() {
            "low" => Outcome::Rewarded(RewardValue::Low),
            "high" => Outcome::Rewarded(RewardValue::High),
            "jackpot" => Outcome::Rewarded(RewardValue::Jackpot),
            "miss" => Outcome::Missed(MissedBecause::Said),
            _ => return Err(Trouble::wrong(wording::text("page.trouble_a_try_is_low_high"))),
        };
        let steps = u8::try_from(loaded.plan.steps.len()).unwrap_or(u8::MAX);
        let step = Some(form.step.clamp(1, steps));
        let rep = RepEdit { step, outcome: Some(outcome), ..RepEdit::default() };
        let at = At::from_secs_f64(seconds);
        let by = some(&form.by);
        let last: Option<EventId> = form.last.parse().ok();
        let changes = corrections::scored(Change::Scored { scoring, at, rep }, last);
        let edits = changes.into_iter().map(|change| Edit { change, by: by.clone(), why: None });
        review.write(&store, loaded.id, edits.collect(), |_, events| {
            corrections::may_score(events, scoring, last)
        })?;
        Ok(review.back(&id, &format!("/score/{scoring}")))
    })
}
