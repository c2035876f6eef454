//! Puts a session's events on disk, and keeps those that could not be saved until they can.

use jiff::ZonedDateTime;

use crate::clock::Clock;
use crate::plan::Plan;
use crate::session::Logged;
use crate::store::{AnimalRef, EventId, NewSession, SessionId, Source, Store, StoreError};

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
    origin: Origin,
    session: Option<SessionId>,
    unsaved: Vec<(Logged, EventId)>,
}

impl Recorder {
    /// Records into `store`; a session begins with its first event.
    pub fn new(store: Store, clock: Clock, origin: Origin) -> Self {
        Recorder { store, clock, origin, session: None, unsaved: Vec::new() }
    }

    /// Goes on with a session that is in the store already.
    pub fn go_on_with(&mut self, session: SessionId) {
        self.session = Some(session);
    }

    /// The store.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// The session being recorded.
    pub fn session(&self) -> Option<SessionId> {
        self.session
    }

    /// Puts an event on disk, after any that are still waiting.
    ///
    /// # Errors
    /// When it could not be saved. It is kept, and tried again with the next one.
    pub fn append(&mut self, logged: &Logged) -> Result<(), StoreError> {
        self.unsaved.push((logged.clone(), EventId(self.clock.new_id())));
        self.save()
    }

    /// Tries again to save what is waiting.
    ///
    /// # Errors
    /// As for [`Recorder::append`].
    pub fn save(&mut self) -> Result<(), StoreError> {
        let Some((first, _)) = self.unsaved.first() else { return Ok(()) };
        let session = match self.session {
            Some(session) => session,
            None => self.begin(first.at.elapsed())?,
        };
        self.session = Some(session);
        self.store.append_all(session, &self.unsaved, self.clock.utc())?;
        self.unsaved.clear();
        Ok(())
    }

    /// Events that are not on disk.
    pub fn waiting(&self) -> usize {
        self.unsaved.len()
    }

    /// The session has ended: brings its rows up to date; the next event begins another.
    ///
    /// # Errors
    /// The database cannot be written.
    pub fn ended(&mut self) -> Result<Option<SessionId>, StoreError> {
        self.save()?;
        let ended = self.session.take();
        if let Some(session) = ended {
            self.store.finish(session)?;
        }
        Ok(ended)
    }

    fn begin(&self, sound_so_far: std::time::Duration) -> Result<SessionId, StoreError> {
        // A live session's clock began with its first sample; a recording has no time of day of its own.
        let now = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system());
        let began = match self.origin.source {
            Source::Live => now.saturating_sub(sound_so_far),
            _ => now,
        };
        self.store.begin_session(&NewSession {
            id: SessionId(self.clock.new_id()),
            animal: AnimalRef::Named {
                name: self.origin.plan.animal.clone(),
                species: self.origin.plan.species.clone(),
            },
            behaviour: self.origin.plan.behaviour.clone(),
            plan_file: self.origin.plan_file.clone(),
            plan_text: self.origin.plan_text.clone(),
            start_step: self.origin.plan.start_step,
            person: self.origin.person.clone(),
            place: self.origin.place.clone(),
            began,
            source: self.origin.source,
            source_name: self.origin.source_name.clone(),
            made_by: concat!("hushtally ", env!("CARGO_PKG_VERSION")).to_owned(),
        })
    }
}
