//! What a session is told when it begins, and at which step it begins: the animal's past, from the record.

use jiff::ZonedDateTime;
use jiff::civil::Date;

use crate::history::body::Train;
use crate::history::course::Course;
use crate::history::next::{self, Moves};
use crate::history::{self, Ladder, body, standing};
use crate::known::Known;
use crate::plan::Plan;
use crate::session::{Allowed, Prior};
use crate::store::{AnimalRow, SessionRow, Store, StoreError, Told};

/// Of this many of the latest sessions those by the same trainer are told of: the pace is the trainer's too. With fewer
/// than [`OWN`] of them, everybody's are (common practice, no source).
const LOOKED_AT: usize = 3 * Prior::SESSIONS;
const OWN: usize = 3;

/// How a session begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Outset {
    /// What it is told.
    pub told: Told,
    /// The step that it begins at, counted from 1.
    pub step: u8,
    /// Against the last session.
    pub moves: Moves,
}

impl Outset {
    /// Of an animal of which nothing is known.
    pub fn unknown(plan: &Plan) -> Self {
        Outset { told: Told::default(), step: plan.start_step, moves: Moves::Begin }
    }

    /// By what the record knows of the plan's animal at `now`, on the local date of that moment. `person` is who
    /// trains. Only this much is read as says something about one session, however long the record is.
    ///
    /// # Errors
    /// The record cannot be read.
    pub fn of_record(
        store: &Store,
        plan: &Plan,
        person: Option<&str>,
        now: &ZonedDateTime,
    ) -> Result<Self, StoreError> {
        let animal = match store.find_animal(&plan.animal, Some(&plan.species)) {
            Err(StoreError::NoAnimal(_)) => return Ok(Outset::unknown(plan)),
            found => found?,
        };
        let known = Known::lately(store, &animal, &plan.behaviour)?;
        let today = now.date();
        let body = body::read_by(&known.body, today, &body::Bounds::of(plan));
        let train = body.train;
        let work = next::work_on(&known.history, plan, train, today);
        let present = Ladder::of(0, plan);
        let course = Course::new(&known.history, &plan.behaviour, &present);
        let (length, treats) = next::how_much(&known.history, plan, &course, &body, today);
        let learnt = length.until_decline_s.known().map(|quarter| quarter.point);
        let mut told = Told {
            prior: Prior {
                sessions: Vec::new(),
                kcal_today: history::treats::given_on(&known.history, today),
                learnt_length: learnt
                    .and_then(|seconds| std::time::Duration::try_from_secs_f64(seconds).ok()),
                ladder: standing::before_a_session(&course, &plan.advice, today),
                easy: train != Train::AsPlanned,
                allowed: Some(Allowed {
                    seconds: length.planned_s,
                    reps: length.planned_reps,
                    day_kcal: treats.day_kcal,
                }),
            },
            of: Vec::new(),
        };
        let rows: Vec<&SessionRow> =
            known.rows.iter().filter(|row| row.behaviour == plan.behaviour).collect();
        for row in telling(&rows, person) {
            let folded = match store.fold(row.id) {
                // The others tell enough.
                Err(error) if error.is_of_one_session() => continue,
                folded => folded?,
            };
            let onto = known.history.ladder(row.plan_version).map(|ladder| ladder.onto(&present));
            let past = folded.as_past();
            told.prior.sessions.push(match onto {
                Some(onto) => past.renumbered(&onto),
                None => past,
            });
            told.of.push(Some(row.id));
        }
        Ok(Outset { told: told.as_kept()?, step: work.step, moves: work.moves })
    }
}

/// Whether the day allows no more treats for a behaviour of an animal, as the next plan says.
///
/// # Errors
/// The record cannot be read.
pub fn treats_used_up(
    store: &Store,
    animal: &AnimalRow,
    plan: &Plan,
    today: Date,
) -> Result<bool, StoreError> {
    let known = Known::lately(store, animal, &plan.behaviour)?;
    let present = Ladder::of(0, plan);
    let course = Course::new(&known.history, &plan.behaviour, &present);
    let body = body::read_by(&known.body, today, &body::Bounds::of(plan));
    Ok(next::how_much(&known.history, plan, &course, &body, today).1.reps == 0)
}

/// The sessions that the next one is told of, in order of time.
fn telling<'a>(rows: &[&'a SessionRow], person: Option<&str>) -> Vec<&'a SessionRow> {
    let tried = |row: &&&SessionRow| row.rewarded + row.missed > 0;
    let mut latest: Vec<&SessionRow> =
        rows.iter().rev().filter(tried).take(LOOKED_AT).copied().collect();
    let own = |row: &&&SessionRow| person.is_some() && row.person.as_deref() == person;
    let by_person: Vec<&SessionRow> = latest.iter().filter(own).copied().collect();
    if by_person.len() >= OWN {
        latest = by_person;
    }
    latest.truncate(Prior::SESSIONS);
    latest.reverse();
    latest
}

#[cfg(test)]
mod tests;
