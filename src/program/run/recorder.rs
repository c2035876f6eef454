//! Puts the events of sessions on disk, several at a time where a sitting has several, and keeps those that could not be saved until they can.
//!
//! The engine's outputs are carried out in order, and the record comes first: "heard" is never played for a tag that is not
//! on disk; such a tag is kept and tried again.

use std::collections::VecDeque;
use std::time::Duration;

use jiff::ZonedDateTime;

use super::Outset;
use crate::at::At;
use crate::clock::Clock;
use crate::plan::Plan;
use crate::session::{Derived, Event, Input, Logged, Output, Session};
use crate::store::{AnimalRef, EventId, NewSession, SessionId, Source, Store, StoreError, Told};

/// Where sessions come from and by which plan.
#[derive(Debug, Clone)]
pub struct Origin {
    /// The plan.
    pub plan: Plan,
    /// Its file, as the user named it.
    pub plan_file: String,
    /// Its whole text.
    pub plan_text: String,
    /// How sessions are recorded.
    pub source: Source,
    /// The file they are recorded from.
    pub source_name: Option<String>,
    /// Who trains.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
}

/// Writes sessions to the store, one after the other.
pub struct Recorder {
    store: Store,
    clock: Clock,
    /// One for each plan of a sitting.
    lanes: Vec<Lane>,
    /// Whose events come now.
    turn: usize,
    /// The first session of the sitting, while one of them is open.
    sitting: Option<SessionId>,
    /// Whether what sessions are told was given, and the record is not asked.
    told_fixed: bool,
    unsaved: VecDeque<Together>,
}

/// Sessions by one plan, one after the other.
struct Lane {
    origin: Origin,
    /// What sessions are told that begin now.
    told: Told,
    /// The step that they begin at.
    step: u8,
    session: Option<SessionId>,
    adrift: Option<Vec<(At, Input)>>,
}

impl Lane {
    fn new(origin: Origin) -> Self {
        let step = origin.plan.start_step;
        Lane { origin, told: Told::default(), step, session: None, adrift: None }
    }
}

/// What is written at once: something that happened, with what followed from it.
struct Together {
    /// Its lane.
    of: usize,
    session: SessionId,
    /// Of a session's first events.
    begins: Option<NewSession>,
    events: Vec<(Logged, EventId)>,
}

impl Together {
    fn ends(&self) -> bool {
        self.events.iter().any(|(logged, _)| is_end(logged))
    }
}

fn is_end(logged: &Logged) -> bool {
    matches!(logged.event, Event::Derived(Derived::Finished { .. }))
}

impl Recorder {
    /// Records into `store`; a session begins with its first event.
    pub fn new(store: Store, clock: Clock, origin: Origin) -> Self {
        Recorder {
            store,
            clock,
            lanes: vec![Lane::new(origin)],
            turn: 0,
            sitting: None,
            told_fixed: false,
            unsaved: VecDeque::new(),
        }
    }

    /// Sessions by these plans may be in the same sitting.
    #[must_use]
    pub fn and(mut self, others: impl IntoIterator<Item = Origin>) -> Self {
        self.lanes.extend(others.into_iter().map(Lane::new));
        self
    }

    /// What follows is of the plan at this place.
    pub fn turn_to(&mut self, place: usize) {
        self.turn = place.min(self.lanes.len() - 1);
    }

    fn lane(&self) -> &Lane {
        &self.lanes[self.turn]
    }

    fn lane_mut(&mut self) -> &mut Lane {
        &mut self.lanes[self.turn]
    }

    /// Sessions begin so, and the record is not asked.
    pub fn tell(&mut self, outset: Outset) {
        let lane = self.lane_mut();
        (lane.told, lane.step) = (outset.told, outset.step);
        self.told_fixed = true;
    }

    /// How the session begins that comes next, by the record as it is now; at `step` when that is asked for. `None` when
    /// what it is told was given. When the record cannot be read, it begins as if nothing were known, and why is reported:
    /// a session is not to fail because of its past.
    pub fn begins(
        &mut self,
        place: usize,
        step: Option<u8>,
    ) -> Option<(Outset, Option<StoreError>)> {
        if self.told_fixed {
            return None;
        }
        let now = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system());
        let lane = self.lanes.get_mut(place)?;
        let Origin { plan, person, .. } = &lane.origin;
        let found = Outset::of_record(&self.store, plan, person.as_deref(), &now);
        let (mut outset, error) = match found {
            Ok(outset) => (outset, None),
            Err(error) => (Outset::unknown(plan), Some(error)),
        };
        outset.step = step.unwrap_or(outset.step);
        (lane.told, lane.step) = (outset.told.clone(), outset.step);
        Some((outset, error))
    }

    /// Whether the day allows no more treats for what is trained.
    ///
    /// # Errors
    /// The record cannot be read.
    pub fn treats_used_up(&self) -> Result<bool, StoreError> {
        let plan = &self.lane().origin.plan;
        let animal = self.store.find_animal(&plan.animal, Some(&plan.species))?;
        let now = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system());
        super::treats_used_up(&self.store, &animal, plan, now.date())
    }

    /// Goes on with a session that is in the store already, and that the store has taken up; `first` began its sitting.
    pub fn go_on_with(&mut self, session: SessionId, first: SessionId) {
        self.lane_mut().session = Some(session);
        self.sitting = Some(first);
    }

    /// The step that sessions begin with from now on.
    pub fn start_at(&mut self, step: u8) {
        self.lane_mut().step = step;
    }

    /// What sessions by this plan are recorded with: who trains, where, from which file.
    pub fn origin(&self) -> &Origin {
        &self.lane().origin
    }

    /// The store.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Who trains, as sessions begin.
    pub fn person(&self) -> Option<&str> {
        self.origin().person.as_deref()
    }

    /// The session being recorded.
    pub fn session(&self) -> Option<SessionId> {
        self.lane().session
    }

    /// Puts something that happened and what followed from it on disk, all or nothing, after what is still waiting.
    /// What comes after an end belongs to a new session.
    ///
    /// # Errors
    /// When it could not be saved. It is kept and tried again with the next one; or, when another program ended the
    /// session or took it over, see [`Recorder::adrift`].
    pub fn append(&mut self, logged: &[Logged]) -> Result<(), StoreError> {
        let Some(first) = logged.first() else { return Ok(()) };
        let (session, begins) = match self.lane().session {
            Some(session) => (session, None),
            None => {
                let new = self.new_session(self.turn, first.at.elapsed());
                self.sitting.get_or_insert(new.id);
                (new.id, Some(new))
            }
        };
        let events = logged.iter().map(|one| (one.clone(), EventId(self.clock.new_id()))).collect();
        self.lane_mut().session = (!logged.iter().any(is_end)).then_some(session);
        if self.lanes.iter().all(|lane| lane.session.is_none()) {
            self.sitting = None;
        }
        self.unsaved.push_back(Together { of: self.turn, session, begins, events });
        self.save()
    }

    /// Tries again to save what is waiting.
    ///
    /// # Errors
    /// As for [`Recorder::append`].
    pub fn save(&mut self) -> Result<(), StoreError> {
        while let Some(first) = self.unsaved.front() {
            let utc = self.clock.utc();
            let saved = match &first.begins {
                Some(new) => self.store.begin_with(new, &first.events, utc),
                None => self.store.append_all(first.session, &first.events, utc),
            };
            match saved {
                Ok(()) => {}
                Err(error) if error.is_out_of_session() => {
                    let session = first.session;
                    if self.cast_off(session) {
                        return Err(error);
                    }
                    continue;
                }
                Err(error) => return Err(error),
            }
            if first.ends()
                && let Err(error) = self.store.finish(first.session)
            {
                // The log is whole, and views catch up by themselves.
                tracing::warn!("the session's rows are made later: {error}");
                self.store.let_go(first.session);
            }
            self.unsaved.pop_front();
        }
        Ok(())
    }

    /// What came in and cannot be written to its session any more, since another program ended that or took it
    /// over, in order; once. It is to be replayed, as a session of its own.
    pub fn adrift(&mut self) -> Option<Vec<(At, Input)>> {
        self.lane_mut().adrift.take()
    }

    /// Events that are not on disk.
    pub fn waiting(&self) -> usize {
        self.unsaved.iter().map(|together| together.events.len()).sum()
    }

    /// What waits for a session that cannot be written to any more needs another one. Whether that is still going on.
    fn cast_off(&mut self, session: SessionId) -> bool {
        let (gone, rest): (VecDeque<_>, VecDeque<_>) =
            self.unsaved.drain(..).partition(|one: &Together| one.session == session);
        self.unsaved = rest;
        let of = gone.front().map_or(0, |together| together.of);
        let events = gone.into_iter().flat_map(|one| one.events).map(|(logged, _)| logged);
        let came_in: Vec<(At, Input)> = events
            .filter_map(|logged| match logged.event {
                Event::Input(input) => Some((logged.at, input)),
                Event::Derived(_) => None,
            })
            .collect();
        if let Some(lane) = self.lanes.iter_mut().find(|lane| lane.session == Some(session)) {
            lane.session = None;
            lane.adrift = Some(came_in);
            return true;
        }
        if let Some(whole) = self.whole_session(of, came_in) {
            self.unsaved.push_front(whole);
        }
        false
    }

    /// A session of its own for what came in and ended since; `None` when nothing but the end is left of it.
    fn whole_session(&self, of: usize, came_in: Vec<(At, Input)>) -> Option<Together> {
        let lane = &self.lanes[of];
        let latest = came_in.iter().map(|(at, _)| *at).max()?;
        let plan = Plan { start_step: lane.step, ..lane.origin.plan.clone() };
        let mut session = Session::with_prior(plan, lane.told.prior.clone());
        let mut outputs: Vec<Output> =
            came_in.into_iter().flat_map(|(at, input)| session.handle(at, input)).collect();
        outputs.extend(session.close(latest));
        let appended = outputs.into_iter().filter_map(|output| match output {
            Output::Append(logged) => Some((logged, EventId(self.clock.new_id()))),
            _ => None,
        });
        let new = self.new_session(of, latest.elapsed());
        (session.begun() || session.summary().unsure > 0).then(|| Together {
            of,
            session: new.id,
            begins: Some(new),
            events: appended.collect(),
        })
    }

    fn new_session(&self, of: usize, sound_so_far: Duration) -> NewSession {
        let Lane { origin, told, step, .. } = &self.lanes[of];
        // A live session's clock began with its first sample; a recording has no time of day of its own.
        let now = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system());
        let began = match origin.source {
            Source::Live => now.saturating_sub(sound_so_far),
            _ => now,
        };
        NewSession {
            id: SessionId(self.clock.new_id()),
            animal: AnimalRef::Named {
                name: origin.plan.animal.clone(),
                species: origin.plan.species.clone(),
            },
            behaviour: origin.plan.behaviour.clone(),
            plan_file: origin.plan_file.clone(),
            plan_text: origin.plan_text.clone(),
            start_step: *step,
            told: told.clone(),
            sitting: self.sitting,
            person: origin.person.clone(),
            place: origin.place.clone(),
            began,
            source: origin.source,
            source_name: origin.source_name.clone(),
            made_by: crate::MADE_BY.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests;
