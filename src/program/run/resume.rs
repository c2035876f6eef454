//! Sessions without an end: going on with one that was cut off, and telling of those that somebody is in.

use std::time::Duration;

use jiff::Timestamp;

use super::{Desk, Happening, Shell};
use crate::at::At;
use crate::dialogue::DialogueLine;
use crate::interpret::Said;
use crate::plan::{Command, Plan, Role};
use crate::session::{Derived, Event, Input, Logged, Output, Session, Tries, WhyEnded};
use crate::store::{EventId, OpenSession, Store, StoreError};

/// A session older than this is left to the review.
const NOT_OLDER: jiff::SignedDuration = jiff::SignedDuration::from_hours(12);

/// What there is of an animal that has no end.
#[derive(Debug, Clone, Default)]
pub struct Unfinished {
    /// The latest session by this plan that was cut off not long ago. It is this program's own from now on.
    pub resumable: Option<Resumable>,
    /// Sessions of the animal that other programs are in.
    pub elsewhere: Vec<OpenSession>,
}

impl Unfinished {
    /// Looks for them. Nothing of a session is gone on with that was read before it was this program's own.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn find(store: &Store, plan: &Plan, now: Timestamp) -> Result<Self, StoreError> {
        let mut found = Unfinished::default();
        for open in store.open_sessions()? {
            if open.animal != plan.animal {
                continue;
            }
            let fits = open.behaviour == plan.behaviour
                && now.duration_since(open.latest) < NOT_OLDER
                && found.resumable.is_none();
            if open.held {
                found.elsewhere.push(open);
            } else if fits {
                match Resumable::take_up(store, &open, plan, now) {
                    Ok(resumable) => found.resumable = resumable,
                    Err(StoreError::InUse(_)) => {
                        found.elsewhere.push(OpenSession { held: true, ..open });
                    }
                    // The new session matters more than the old one, which is left to the review.
                    Err(error) => tracing::warn!("a session that was cut off stays so: {error}"),
                }
            }
        }
        Ok(found)
    }

    /// With the sessions by these plans that were in a sitting with the one that can be gone on with.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn and(mut self, store: &Store, others: &[Plan]) -> Result<Self, StoreError> {
        if let Some(resumable) = &mut self.resumable {
            resumable.take_up_others(store, others)?;
        }
        Ok(self)
    }
}

/// Tells who is in session.
pub(super) fn in_session(open: &OpenSession, now: Timestamp) -> DialogueLine {
    DialogueLine::InSession {
        person: open.person.clone(),
        animal: open.animal.clone(),
        behaviour: open.behaviour.clone(),
        minutes: minutes(between(open.began, now)),
    }
}

fn between(then: Timestamp, now: Timestamp) -> Duration {
    // A clock that was set back gives none.
    Duration::try_from(now.duration_since(then)).unwrap_or_default()
}

/// Begun minutes, at least one.
fn minutes(span: Duration) -> u64 {
    span.as_secs().div_ceil(60).max(1)
}

/// A session of the same animal and behaviour that was never finished. The store has taken it up.
#[derive(Debug, Clone)]
pub struct Resumable {
    open: OpenSession,
    session: Session,
    since: Duration,
    /// Whether the plan was changed since it began.
    edited: bool,
    /// Whether other words are listened for by the plan that it began with.
    other_words: bool,
    /// The other sessions of its sitting, by the place of their plan.
    others: Vec<(usize, OpenSession, Session)>,
}

/// A session that goes on.
pub struct Resumed {
    /// The session.
    pub session: Session,
    /// The others of its sitting, by the place of their plan.
    pub others: Vec<(usize, Session)>,
    /// What is added to the time of the new sound to make it the session's.
    pub offset: Duration,
}

impl Resumable {
    /// Makes the session this program's own, compares the plan that it began with with the present one, and goes through it once more. `None` when it has ended meanwhile.
    fn take_up(
        store: &Store,
        seen: &OpenSession,
        plan: &Plan,
        now: Timestamp,
    ) -> Result<Option<Self>, StoreError> {
        match store.take_up(seen.id) {
            Err(StoreError::Ended(_) | StoreError::NoSession(_)) => return Ok(None),
            other => other?,
        }
        // Whoever was in it may have said more since it was seen.
        let Some(open) = store.open_sessions()?.into_iter().find(|open| open.id == seen.id) else {
            return Ok(None);
        };
        let session = match store.resume(open.id) {
            Ok(session) => session,
            Err(error) => {
                store.let_go(open.id);
                return Err(error);
            }
        };
        let since = between(open.latest, now);
        let then = session.plan();
        let start_step = then.start_step;
        // Comments and spaces change nothing, nor does the step that it happened to begin at.
        let edited = *then != Plan { start_step, ..plan.clone() };
        let other_words = then.words != plan.words || then.model != plan.model;
        let others = Vec::new();
        Ok(Some(Resumable { open, session, since, edited, other_words, others }))
    }

    /// Takes up what else was open of its sitting. What cannot be is left to the review.
    fn take_up_others(&mut self, store: &Store, plans: &[Plan]) -> Result<(), StoreError> {
        for open in store.open_sessions()? {
            let is_by =
                |plan: &&Plan| plan.animal == open.animal && plan.behaviour == open.behaviour;
            let place = plans.iter().position(|plan| is_by(&plan));
            let (Some(place), false) = (place, open.held) else { continue };
            if open.sitting != self.open.sitting || open.id == self.open.id {
                continue;
            }
            match store.take_up(open.id).and_then(|()| store.resume(open.id)) {
                Ok(session) => self.others.push((place + 1, open, session)),
                Err(error) => {
                    store.let_go(open.id);
                    tracing::warn!("a session that was cut off stays so: {error}");
                }
            }
        }
        Ok(())
    }

    /// What to say about it.
    pub(super) fn offer(&self) -> DialogueLine {
        let (plan, animal) = (self.session.plan(), self.open.animal.clone());
        let phrase = |command| {
            let words = [Role::Attention, Role::Command(command)];
            words.map(|role| plan.words.of(&role).first().cloned().unwrap_or_default()).join(" ")
        };
        DialogueLine::CutOff {
            animal,
            minutes: minutes(self.since),
            tries: Tries::of(self.session.reps()),
            go_on: phrase(Command::GoOn),
            begin: phrase(Command::Begin),
            edited: self.edited,
        }
    }

    /// The plan that it began with, when other words are listened for by it than by the present one.
    pub(super) fn plan_of_other_words(&self) -> Option<&Plan> {
        self.other_words.then(|| self.session.plan())
    }

    /// Whatever is listened for now, it is gone on with.
    pub(super) fn with_these_ears(mut self) -> Self {
        self.other_words = false;
        self
    }

    /// Goes on with it at `at` of the new sound. The time in between counts as a pause.
    pub fn go_on(self, at: At, desk: &mut Desk) -> Resumed {
        let latest = self.others.iter().map(|(_, open, _)| open.latest_at);
        let latest = latest.chain([self.open.latest_at]).max().unwrap_or(At::ZERO);
        let offset = (latest.elapsed() + self.since).saturating_sub(at.elapsed());
        let sitting = self.open.sitting;
        let goes_on = |place, open: OpenSession, mut session: Session, desk: &mut Desk| {
            desk.turn_to(place);
            if let Some(recorder) = &mut desk.recorder {
                recorder.go_on_with(open.id, sitting);
            }
            // One that rested goes on resting.
            if !session.resting() {
                pause(&mut session, open.latest_at, desk);
            }
            session
        };
        let others = self.others.into_iter();
        let others = others
            .map(|(place, open, session)| (place, goes_on(place, open, session, desk)))
            .collect();
        let session = goes_on(0, self.open, self.session, desk);
        Resumed { session, others, offset }
    }

    /// Ends it where it was cut off, since another one begins.
    pub fn leave(self, desk: &mut Desk, mut id: impl FnMut() -> EventId, now: Timestamp) {
        let Some(recorder) = &desk.recorder else { return };
        let store = recorder.store();
        let others = self.others.into_iter().map(|(_, open, _)| open);
        let mut done = Ok(());
        for open in [self.open].into_iter().chain(others) {
            let event = Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded });
            let ended = Logged { at: open.latest_at, event };
            let ended = store.append(open.id, &ended, id(), now);
            done = done.and(ended.and_then(|()| store.finish(open.id).map(drop)));
            store.let_go(open.id);
        }
        if let Err(error) = done {
            desk.show_line(&DialogueLine::StaysOpen { why: error.to_string() });
        }
    }
}

/// It was paused when it was cut off.
fn pause(session: &mut Session, at: At, desk: &mut Desk) {
    let pause = Input::said(Said::Command { command: Command::Pause }, "");
    let appended = session.handle(at, pause).into_iter().filter_map(|output| match output {
        Output::Append(logged) => Some(logged),
        _ => None,
    });
    let appended: Vec<Logged> = appended.collect();
    desk.append(&appended);
    for logged in &appended {
        let words = &session.plan().words;
        let (heard, rep, took, working) = (None, None, None, session.working());
        let (idle, of, person) = (false, None, session.person());
        desk.show(Happening { logged, heard, rep, words, took, idle, working, of, person });
    }
}
