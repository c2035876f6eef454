//! What can be looked at.

use std::sync::Arc;
use std::time::Duration;

use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use minijinja::context;
use serde::Deserialize;

use super::render::{SCRIPT, STYLE, Trouble, text_file};
use super::shown::{
    AgreePage, AnimalPage, CardPage, Decided, Listed, ScorePage, SessionPage, SessionsPage,
};
use super::{Review, health};
use crate::clock::Clock;
use crate::history::closer::{self, Closer};
use crate::history::course::Course;
use crate::history::cue::{self, Control, Grid};
use crate::history::length;
use crate::history::next::{self, Next};
use crate::history::{Ladder, body, capital, unknown};
use crate::known::Known;
use crate::plan::Plan;
use crate::review::chart::Scale;
use crate::review::session_view::{self, Head, SessionView};
use crate::review::{agree_view, animal_view, labels, report};
use crate::run::tests_of;
use crate::store::{
    AnimalId, EventId, Filter, Folded, SessionId, SessionRow, Store, StoreError, Stored,
};
use crate::wording::{Looked, Wording, filled, text};

pub(super) type Shared = State<Arc<Review>>;

/// This many sessions make a page of the list.
const LISTED: u32 = 100;
/// This many sessions of an animal are charted unless a period is named.
const CHARTED: u32 = 400;

/// Runs the making of a page; what goes wrong becomes a page too.
pub(super) fn or_trouble(
    review: &Review,
    make: impl FnOnce() -> Result<Response, Trouble>,
) -> Response {
    make().unwrap_or_else(|trouble| review.trouble(trouble))
}

pub(super) async fn nothing_here() -> Response {
    (StatusCode::NOT_FOUND, text("page.nothing_here")).into_response()
}

pub(super) async fn asset(Path(file): Path<String>) -> Response {
    match file.as_str() {
        "review.css" => text_file("text/css; charset=utf-8", STYLE.into()),
        "review.js" => text_file("text/javascript; charset=utf-8", SCRIPT.into()),
        _ => StatusCode::NOT_FOUND.into_response(),
    }
}

#[derive(Deserialize)]
pub(super) struct ListQuery {
    #[serde(default)]
    more: u32,
}

pub(super) async fn sessions(State(review): Shared, Query(query): Query<ListQuery>) -> Response {
    or_trouble(&review, || {
        let pages = query.more.clamp(1, 100);
        let latest = LISTED * pages;
        let store = review.store();
        let rows = store.sessions(&Filter { latest: Some(latest), ..Filter::default() })?;
        let mut animals = Vec::new();
        for animal in store.animals()? {
            let health = health::shown(&store, &review.clock, (animal.id, &animal.name), None)?;
            animals.push(Listed {
                id: animal.id.to_string(),
                name: animal.name,
                species: animal.species,
                sessions: animal.sessions,
                warnings: health.warnings,
            });
        }
        let heads: Vec<Head> = rows.iter().rev().map(session_view::head).collect();
        let more = (rows.len() == latest as usize).then_some(pages + 1);
        Ok(review.page("sessions.html", SessionsPage { heads, animals, more }))
    })
}

/// A session with everything that it follows from.
pub(super) struct Loaded {
    pub(super) id: SessionId,
    pub(super) row: SessionRow,
    pub(super) plan: Plan,
    pub(super) folded: Folded,
    pub(super) events: Vec<Stored>,
}

impl Loaded {
    pub(super) fn view(&self) -> SessionView {
        session_view::session(&self.row, &self.plan, &self.folded, &self.events)
    }
}

pub(super) fn load(store: &Store, id: &str) -> Result<Loaded, Trouble> {
    let id: SessionId = id.parse().map_err(|_| Trouble::missing("session"))?;
    let row = store.sessions(&Filter::session(id))?.pop().ok_or(StoreError::NoSession(id))?;
    let version = store.plan_of(id)?;
    let mut plan = Plan::parse(&version.file, &version.text)
        .map_err(|source| StoreError::Plan { session: id, source })?;
    plan.start_step = version.start_step;
    // As of one moment: the page says how many events it was made of.
    let (folded, events) = store.read_through(id)?;
    Ok(Loaded { id, row, plan, folded, events })
}

#[derive(Deserialize)]
pub(super) struct SessionQuery {
    #[serde(default)]
    rep: String,
    #[serde(default)]
    said: String,
}

pub(super) async fn session(
    State(review): Shared,
    Path(id): Path<String>,
    Query(query): Query<SessionQuery>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let loaded = load(&store, &id)?;
        let animal = (loaded.row.animal_id, loaded.row.animal.as_str());
        let health = health::shown(&store, &review.clock, animal, Some(loaded.id))?;
        let session = loaded.view();
        let new_scoring = review.clock.new_id().to_string();
        let chosen = query.rep;
        let said = match query.said.as_str() {
            "saved" => text("page.saved"),
            "placed" => text("page.film_is_placed"),
            _ => String::new(),
        };
        let others = others(&store, &loaded.row)?;
        let page = SessionPage { session, others, health, new_scoring, chosen, said };
        Ok(review.page("session.html", page))
    })
}

/// The other sessions of its sitting.
fn others(store: &Store, row: &SessionRow) -> Result<Vec<Head>, StoreError> {
    let Some(first) = row.sitting else { return Ok(Vec::new()) };
    let all = store.sessions(&Filter { sitting: Some(first), ..Filter::default() })?;
    Ok(all.iter().filter(|one| one.id != row.id).map(session_view::head).collect())
}

#[derive(Deserialize)]
pub(super) struct ScorerQuery {
    #[serde(default)]
    by: String,
}

pub(super) async fn score(
    State(review): Shared,
    Path((id, scoring)): Path<(String, String)>,
    Query(query): Query<ScorerQuery>,
) -> Response {
    or_trouble(&review, || {
        let scoring: EventId = scoring.parse().map_err(|_| Trouble::missing("scoring"))?;
        let loaded = load(&review.store(), &id)?;
        // Only what a second observer may know: whose session, the steps, the film's place, the own list.
        let own = agree_view::own(&loaded.events, scoring);
        // Keys made later sort later, so this one was scored last.
        let latest = own.iter().max_by_key(|rep| rep.id.clone()).cloned();
        let film = session_view::film(&loaded.events);
        let steps: Vec<&str> = loaded.plan.steps.iter().map(|step| step.name.as_str()).collect();
        let (animal, behaviour) = (loaded.row.animal.as_str(), loaded.row.behaviour.as_str());
        let day = loaded.row.day.to_string();
        // Whoever began it goes on with it.
        let known = agree_view::second(&loaded.events, scoring).0;
        let (scoring, by) = (scoring.to_string(), known.unwrap_or(query.by));
        Ok(review.page(
            "score.html",
            ScorePage { id, scoring, by, own, latest, film, steps, animal, behaviour, day },
        ))
    })
}

#[derive(Deserialize)]
pub(super) struct AgreeQuery {
    interval: Option<f64>,
    tolerance: Option<f64>,
}

pub(super) async fn agree(
    State(review): Shared,
    Path((id, scoring)): Path<(String, String)>,
    Query(query): Query<AgreeQuery>,
) -> Response {
    or_trouble(&review, || {
        let key: EventId = scoring.parse().map_err(|_| Trouble::missing("scoring"))?;
        let loaded = load(&review.store(), &id)?;
        let within = |value: Option<f64>, usual: f64, low: f64, high: f64| {
            value.filter(|v| v.is_finite()).unwrap_or(usual).clamp(low, high)
        };
        let view = agree_view::agreement(
            &loaded.folded,
            &loaded.events,
            key,
            within(query.interval, 10.0, 1.0, 3600.0),
            within(query.tolerance, 1.0, 0.05, 60.0),
        )
        .map_err(|error| Trouble::wrong(unknown(&error)))?;
        let head = session_view::head(&loaded.row);
        let film = session_view::film(&loaded.events);
        Ok(review.page("agree.html", AgreePage { id, scoring, view, head, film }))
    })
}

#[derive(Deserialize)]
pub(super) struct AnimalQuery {
    behaviour: Option<String>,
    from: Option<String>,
    to: Option<String>,
    hide: Option<String>,
    scale: Option<String>,
}

fn date(day: Option<&String>) -> Result<Option<Date>, Trouble> {
    let Some(day) = day.filter(|day| !day.is_empty()) else { return Ok(None) };
    let parsed = day.parse();
    parsed.map(Some).map_err(|_| Trouble::wrong(text("page.trouble_day")))
}

/// What is shown of an animal and one of its behaviours, and everything the record knows of it.
struct OfAnimal {
    behaviours: Vec<String>,
    view: animal_view::AnimalView,
    latest: SessionRow,
    known: Known,
}

fn animal_data(store: &Store, id: &str, query: &AnimalQuery) -> Result<OfAnimal, Trouble> {
    let animal: AnimalId = id.parse().map_err(|_| Trouble::missing("animal"))?;
    let everything = Filter { latest: Some(CHARTED), ..Filter::animal(animal) };
    let recent = store.sessions(&everything)?;
    let last = recent.last().ok_or_else(|| Trouble::missing("session"))?;
    let behaviour = query
        .behaviour
        .clone()
        .filter(|behaviour| !behaviour.is_empty())
        .unwrap_or_else(|| last.behaviour.clone());
    let mut behaviours: Vec<String> = recent.iter().map(|row| row.behaviour.clone()).collect();
    behaviours.sort();
    behaviours.dedup();
    let (from, to) = (date(query.from.as_ref())?, date(query.to.as_ref())?);
    let named = from.is_some() || to.is_some();
    let filter = Filter {
        behaviour: Some(behaviour.clone()),
        from,
        to,
        latest: if named { Some(10 * CHARTED) } else { Some(CHARTED) },
        ..Filter::animal(animal)
    };
    let sessions = store.sessions(&filter)?;
    let reps = store.reps(&filter)?;
    let row = store.animals()?.into_iter().find(|row| row.id == animal);
    let known = Known::read(store, &row.ok_or_else(|| Trouble::missing("animal"))?)?;
    let scale = if query.scale.as_deref() == Some("ratio") { Scale::Ratio } else { Scale::Linear };
    let plan = known.plans.get(&behaviour).map(|(_, plan)| plan);
    let shown = animal_view::Shown { history: &known.history, plan, scale };
    let view = animal_view::animal(&sessions, &reps, shown).ok_or_else(|| {
        Trouble::new(StatusCode::NOT_FOUND, text("page.trouble_there_is_no_session_in"))
    })?;
    let latest = sessions.last().cloned().ok_or_else(|| Trouble::missing("session"))?;
    Ok(OfAnimal { behaviours, view, latest, known })
}

pub(super) async fn animal(
    State(review): Shared,
    Path(id): Path<String>,
    Query(query): Query<AnimalQuery>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let OfAnimal { behaviours, view: animal, known, latest, .. } =
            animal_data(&store, &id, &query)?;
        let health =
            health::shown(&store, &review.clock, (latest.animal_id, &known.history.animal), None)?;
        let Advised { next, said, control, grid, closer, looked, tests, .. } =
            advised(&known, &review.clock, &animal.behaviour)?;
        let animal = animal.with_length(&next.length);
        Ok(review.page(
            "animal.html",
            AnimalPage {
                animal,
                behaviours,
                next,
                said,
                health,
                control,
                grid,
                closer,
                looked,
                tests,
            },
        ))
    })
}

/// What is advised, from everything the record knows of the animal.
struct Advised {
    next: Next,
    said: Decided,
    /// What needs attention, in sentences: shown before all else.
    warnings: Vec<String>,
    control: Control,
    grid: Grid,
    closer: Closer,
    looked: Looked,
    /// How the tests of a change of plan stand.
    tests: Vec<String>,
}

fn advised(known: &Known, clock: &Clock, behaviour: &str) -> Result<Advised, Trouble> {
    let (_, plan) = known.plans.get(behaviour).ok_or_else(|| Trouble::missing("plan"))?;
    let today = jiff::ZonedDateTime::new(clock.utc(), TimeZone::system()).date();
    let probes = known.probes.get(behaviour).map_or(&[][..], Vec::as_slice);
    let present = Ladder::of(0, plan);
    let course = Course::new(&known.history, behaviour, &present);
    let next = next::plan(
        &known.history,
        plan,
        &body::read_by(&known.body, today, &body::Bounds::of(plan)),
        today,
    );
    let closer = closer::look(&course, plan);
    let wording = Wording::english();
    let told = wording.decision(&next.decision, Some(&next.work.name));
    let said = Decided {
        says: capital(&told),
        beside: wording.beside(&next.decision).iter().map(|more| capital(more)).collect(),
        used_up: capital(&wording.used_up()),
    };
    Ok(Advised {
        said,
        looked: wording.look(&closer),
        tests: tests_of(known, plan)
            .iter()
            .map(|(planned, stands)| capital(&stands.said(&planned.change)))
            .collect(),
        closer,
        warnings: wording.warnings(&next.animal, &next.alarms),
        next,
        control: cue::control(probes),
        grid: cue::grid(&course, probes),
    })
}

pub(super) async fn card(
    State(review): Shared,
    Path(id): Path<String>,
    Query(query): Query<AnimalQuery>,
) -> Response {
    or_trouble(&review, || {
        let store = review.store();
        let OfAnimal { view: animal, latest, known, .. } = animal_data(&store, &id, &query)?;
        let Advised { next, said, warnings, .. } =
            advised(&known, &review.clock, &animal.behaviour)?;
        let loaded = load(&store, &latest.id.to_string())?;
        let ways: Vec<String> =
            next.change.iter().flat_map(|change| &change.ways).map(|w| w.way.said()).collect();
        let length = labels::clock(Duration::from_secs_f64(next.length.planned_s.max(0.0)));
        let (session, note) = (loaded.view(), loaded.plan.note);
        Ok(review.page(
            "card.html",
            CardPage { animal, next, said, warnings, ways, length, session, note },
        ))
    })
}

pub(super) async fn session_report(
    State(review): Shared,
    Path(id): Path<String>,
    Query(query): Query<AnimalQuery>,
) -> Response {
    or_trouble(&review, || {
        let loaded = load(&review.store(), &id)?;
        let made = review.clock.utc();
        let hide = query.hide.is_some();
        let page = report::of_session(loaded.view(), hide, made).map_err(broken)?;
        Ok(attached("session", page))
    })
}

pub(super) async fn animal_report(
    State(review): Shared,
    Path(id): Path<String>,
    Query(query): Query<AnimalQuery>,
) -> Response {
    or_trouble(&review, || {
        let OfAnimal { view: animal, known, .. } = animal_data(&review.store(), &id, &query)?;
        let animal = match known.plans.get(&animal.behaviour) {
            Some((_, plan)) => {
                let length = length::advise(&known.history, &plan.behaviour, &plan.limits);
                animal.with_length(&length)
            }
            None => animal,
        };
        let made = review.clock.utc();
        let page = report::of_animal(animal, query.hide.is_some(), made).map_err(broken)?;
        Ok(attached("animal", page))
    })
}

fn broken(error: minijinja::Error) -> Trouble {
    Trouble::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        filled("page.trouble_report", context! { error => error.to_string() }),
    )
}

/// A report is a file to keep: its own styles would not be allowed on a page of ours.
fn attached(what: &str, page: String) -> Response {
    let name = format!("attachment; filename=\"hushtally-{what}.html\"");
    let headers = [
        (header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()),
        (header::CONTENT_DISPOSITION, name),
    ];
    (headers, page).into_response()
}
