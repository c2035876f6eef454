//! Sessions: beginning one, finding those that were never finished.

use jiff::{Timestamp, ZonedDateTime};
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize};

use super::{
    AnimalId, EventId, SessionId, Store, StoreError, Told, append, hold, plan_version, told,
};
use crate::session::Logged;

/// How a session came to be recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Heard while it happened.
    Live,
    /// From a sound file.
    Recording,
    /// Scored from a film.
    Film,
    /// From earlier notes.
    Import,
    /// Made by the simulated learner.
    Simulated,
}

impl Source {
    /// Every source.
    pub const ALL: [Source; 5] =
        [Source::Live, Source::Recording, Source::Film, Source::Import, Source::Simulated];

    /// The name in the database and in exports.
    pub fn name(self) -> &'static str {
        match self {
            Source::Live => "live",
            Source::Recording => "recording",
            Source::Film => "film",
            Source::Import => "import",
            Source::Simulated => "simulated",
        }
    }

    pub(super) fn of_name(name: &str) -> Option<Source> {
        Source::ALL.into_iter().find(|source| source.name() == name)
    }
}

/// Which animal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AnimalRef {
    /// By a name it has or had, and its species; made known when there is none.
    Named {
        /// Name.
        name: String,
        /// Species.
        species: String,
    },
    /// By its key.
    Known(AnimalId),
}

/// A session about to begin.
#[derive(Debug, Clone, PartialEq)]
pub struct NewSession {
    /// Its key.
    pub id: SessionId,
    /// Who is trained.
    pub animal: AnimalRef,
    /// What is trained.
    pub behaviour: String,
    /// The plan's file, as the user named it.
    pub plan_file: String,
    /// The plan's whole text, by which the session will be replayed.
    pub plan_text: String,
    /// Step worked on at the start, counted from 1.
    pub start_step: u8,
    /// What it is told of the animal's past.
    pub told: Told,
    /// Who trains.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// Wall-clock moment of the first sample, with its time zone.
    pub began: ZonedDateTime,
    /// How it is recorded.
    pub source: Source,
    /// The file it is recorded from.
    pub source_name: Option<String>,
    /// Program version.
    pub made_by: String,
    /// The first session of its sitting; `None` for that one itself, and where a session stands alone.
    pub sitting: Option<SessionId>,
}

/// A session without an end: the program stopped in the middle of it, or is still at it.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenSession {
    /// Its key.
    pub id: SessionId,
    /// The animal's name.
    pub animal: String,
    /// What is trained.
    pub behaviour: String,
    /// Who trains.
    pub person: Option<String>,
    /// When it began.
    pub began: Timestamp,
    /// When its latest event came; the start when there is none.
    pub latest: Timestamp,
    /// Session time of its latest event.
    pub latest_at: crate::at::At,
    /// Number of its events.
    pub events: u64,
    /// Whether a program is in it right now.
    pub held: bool,
    /// The first session of its sitting; of a session that stands alone, itself.
    pub sitting: SessionId,
}

impl Store {
    /// Writes down that a session begins; on disk when this returns. Once more with the same key changes
    /// nothing.
    ///
    /// # Errors
    /// The database cannot be written, or several animals answer to the name.
    pub fn begin_session(&self, new: &NewSession) -> Result<SessionId, StoreError> {
        self.begin_with(new, &[], new.began.timestamp())?;
        Ok(new.id)
    }

    /// The same, with its first events: all of it or nothing.
    ///
    /// # Errors
    /// The same, and another program is in a session of this key.
    pub fn begin_with(
        &self,
        new: &NewSession,
        logged: &[(Logged, EventId)],
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        if self.held.borrow().contains_key(&new.id) {
            // Once more after a write that may have failed.
            return self.append_all(new.id, logged, utc);
        }
        // Locked before anybody can see it.
        let lock = match self.lock(new.id) {
            Ok(lock) => Some(lock),
            Err(error @ StoreError::InUse(_)) => return Err(error),
            Err(error) => {
                // A session is not to fail because of this: its turn guards it.
                tracing::warn!("the session cannot be marked as going on: {error}");
                None
            }
        };
        let tx = self.write()?;
        let no = insert(&tx, new)?;
        let turn = hold::next_turn(&tx, no)?;
        append::insert_all(&tx, no, new.id, logged, utc)?;
        tx.commit()?;
        self.hold(new.id, lock, turn);
        Ok(())
    }

    /// Sessions without an end, latest first.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn open_sessions(&self) -> Result<Vec<OpenSession>, StoreError> {
        let mut statement = self.conn.prepare_cached(
            "SELECT s.id, a.name, s.behaviour, s.began_us,
                (SELECT max(utc_us) FROM event e WHERE e.session = s.no),
                coalesce((SELECT max(at_ns) FROM event e WHERE e.session = s.no), 0),
                (SELECT count(*) FROM event e WHERE e.session = s.no), s.person,
                coalesce(s.sitting, s.id)
             FROM session s JOIN animal a ON a.no = s.animal
             WHERE NOT EXISTS (SELECT 1 FROM event e WHERE e.session = s.no AND e.kind = 'finished')
             ORDER BY s.began_us DESC, s.no DESC",
        )?;
        let rows = statement.query_map([], |row| {
            let (id, began): (SessionId, i64) = (row.get(0)?, row.get(3)?);
            Ok(OpenSession {
                id,
                held: self.is_held(id),
                animal: row.get(1)?,
                behaviour: row.get(2)?,
                person: row.get(7)?,
                sitting: row.get(8)?,
                began: moment(began),
                latest: moment(row.get::<_, Option<i64>>(4)?.unwrap_or(began)),
                latest_at: u64::try_from(row.get::<_, i64>(5)?).unwrap_or(0).into(),
                events: u64::try_from(row.get::<_, i64>(6)?).unwrap_or(0),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// Adds a session, its animal and its plan where they are not known yet; gives its number.
pub(super) fn insert(conn: &Connection, new: &NewSession) -> Result<i64, StoreError> {
    // Once more after a write that may have failed: it is there already.
    if let Ok(no) = no(conn, new.id) {
        return Ok(no);
    }
    let utc = micros(new.began.timestamp());
    let animal = animal_no(conn, &new.animal, AnimalId(new.id.0), utc)?;
    let plan = plan_version::no(conn, animal, &new.behaviour, &new.plan_file, &new.plan_text, utc)?;
    let (zone, offset_s, day) = local(&new.began);
    let mut statement = conn.prepare_cached(
        "INSERT INTO session (id, animal, plan, behaviour, start_step, person, place, began_us, zone,
            offset_s, day, source, source_name, made_by, sitting)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
    )?;
    statement.execute(params![
        new.id,
        animal,
        plan,
        new.behaviour,
        new.start_step.max(1),
        new.person,
        new.place,
        utc,
        zone,
        offset_s,
        day,
        new.source.name(),
        new.source_name,
        new.made_by,
        new.sitting,
    ])?;
    let no = conn.last_insert_rowid();
    told::insert(conn, no, &new.told)?;
    Ok(no)
}

/// The animal's number; a name that nobody has yet makes it known under `id`.
pub(super) fn animal_no(
    conn: &Connection,
    animal: &AnimalRef,
    id: AnimalId,
    utc: i64,
) -> Result<i64, StoreError> {
    let (name, species) = match animal {
        AnimalRef::Known(id) => {
            let mut statement = conn.prepare_cached("SELECT no FROM animal WHERE id = ?1")?;
            let no = statement.query_row([id], |row| row.get(0)).optional()?;
            return no.ok_or_else(|| StoreError::NoAnimal(id.to_string()));
        }
        AnimalRef::Named { name, species } => (name, species),
    };
    let mut statement = conn.prepare_cached(
        "SELECT a.no FROM animal a JOIN animal_name n ON n.animal = a.no
         WHERE n.name = ?1 AND a.species = ?2 COLLATE NOCASE",
    )?;
    let found: Vec<i64> =
        statement.query_map([name, species], |row| row.get(0))?.collect::<Result<_, _>>()?;
    match found[..] {
        [no] => Ok(no),
        [] => {
            conn.execute(
                "INSERT INTO animal (id, name, species) VALUES (?1, ?2, ?3)",
                params![id, name, species],
            )?;
            let no = conn.last_insert_rowid();
            conn.execute(
                "INSERT INTO animal_name (animal, name, since_us) VALUES (?1, ?2, ?3)",
                params![no, name, utc],
            )?;
            Ok(no)
        }
        _ => Err(StoreError::SeveralAnimals { name: name.clone(), count: found.len() }),
    }
}

/// The number of a session.
pub(super) fn no(conn: &Connection, session: SessionId) -> Result<i64, StoreError> {
    let mut statement = conn.prepare_cached("SELECT no FROM session WHERE id = ?1")?;
    let no = statement.query_row([session], |row| row.get(0)).optional()?;
    no.ok_or(StoreError::NoSession(session))
}

/// Time zone name, seconds east of UTC, and local date.
pub(super) fn local(moment: &ZonedDateTime) -> (String, i32, String) {
    let zone = moment.time_zone();
    let name = zone.iana_name().map_or_else(|| moment.offset().to_string(), str::to_owned);
    (name, moment.offset().seconds(), moment.date().to_string())
}

/// Microseconds since 1970, as stored; finer parts are cut off.
pub(super) fn micros(moment: Timestamp) -> i64 {
    moment.as_microsecond()
}

/// The moment of stored microseconds; one out of reach becomes 1970.
pub(super) fn moment(micros: i64) -> Timestamp {
    Timestamp::from_microsecond(micros).unwrap_or(Timestamp::UNIX_EPOCH)
}
