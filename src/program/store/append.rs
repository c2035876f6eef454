//! Writing an event down and reading it back.

use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, OptionalExtension, params};

use super::session::{micros, moment, no};
use super::{Edit, EventId, SessionId, Store, StoreError};
use crate::at::At;
use crate::session::{Derived, Event, Input, Logged};

/// What a stored event says.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// A fact of the session.
    Event(Event),
    /// A later correction.
    Edit(Edit),
}

/// An event as it stands in the database.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// Its key.
    pub id: EventId,
    /// Its place in the session, from 0 without holes.
    pub ordinal: i64,
    /// Session time; of an edit, that of the event before it.
    pub at: At,
    /// Wall-clock moment at which it was written down, to the microsecond.
    pub utc: Timestamp,
    /// What it says.
    pub content: Content,
}

impl Stored {
    /// The event with its session time; `None` for an edit.
    pub fn logged(&self) -> Option<Logged> {
        match &self.content {
            Content::Event(event) => Some(Logged { at: self.at, event: event.clone() }),
            Content::Edit(_) => None,
        }
    }
}

impl Store {
    /// Writes an event down at the end of its session; it is on disk when this returns. The session becomes
    /// this program's own, if it is not so already. The same event with the same key once more is accepted and
    /// changes nothing, so that a write that may have failed can be tried again.
    ///
    /// # Errors
    /// The session is unknown or has ended, another program is in it or has taken it over, the key belongs to
    /// another event, or the database cannot be written; then the event is not in the database.
    pub fn append(
        &self,
        session: SessionId,
        logged: &Logged,
        id: EventId,
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        self.append_all(session, &[(logged.clone(), id)], utc)
    }

    /// Writes several events down at once: all or none, with one wait for the disk.
    ///
    /// # Errors
    /// As for [`Store::append`].
    pub fn append_all(
        &self,
        session: SessionId,
        logged: &[(Logged, EventId)],
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        self.claim(session)?;
        let done = self.append_ours(session, logged, utc);
        if done.as_ref().is_err_and(StoreError::is_out_of_session) {
            self.let_go(session);
        }
        done
    }

    fn append_ours(
        &self,
        session: SessionId,
        logged: &[(Logged, EventId)],
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        let tx = self.write()?;
        let no = no(&tx, session)?;
        self.still_ours(&tx, no, session)?;
        insert_all(&tx, no, session, logged, utc)?;
        Ok(tx.commit()?)
    }

    /// Adds a note to a session of anybody's, also one that has ended or is going on; on disk when this returns.
    ///
    /// # Errors
    /// The session is unknown, the key is taken, or the database cannot be written.
    pub fn add_note(
        &self,
        session: SessionId,
        text: &str,
        id: EventId,
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        let (kind, body) = encode(&Event::Input(Input::Noted { text: text.to_owned() }))?;
        let note = Row { id, at: None, utc: micros(utc), kind, body: &body };
        let tx = self.write()?;
        insert(&tx, no(&tx, session)?, session, &note)?;
        Ok(tx.commit()?)
    }

    /// Every event of a session in order, corrections included.
    ///
    /// # Errors
    /// The session is unknown, or an event cannot be read.
    pub fn events(&self, session: SessionId) -> Result<Vec<Stored>, StoreError> {
        let no = no(&self.conn, session)?;
        read(&self.conn, no, session)
    }
}

/// Kind and JSON of an event.
pub(super) fn encode(event: &Event) -> Result<(&'static str, String), StoreError> {
    let finite = only_finite(event);
    let event = finite.as_ref().unwrap_or(event);
    let body = serde_json::to_string(event)
        .map_err(|e| StoreError::Refused(format!("an event cannot be written down: {e}")))?;
    Ok((kind(event), body))
}

/// The tag that serde gives the event in JSON, which a test compares.
fn kind(event: &Event) -> &'static str {
    match event {
        Event::Input(Input::Tagged { .. }) => "tagged",
        Event::Input(Input::Doubted { .. }) => "doubted",
        Event::Input(Input::Gap { .. }) => "gap",
        Event::Input(Input::Trouble { .. }) => "trouble",
        Event::Input(Input::Noted { .. }) => "noted",
        Event::Input(Input::Elsewhere(_)) => "elsewhere",
        Event::Derived(Derived::Began { .. }) => "began",
        Event::Derived(Derived::HoldRanOut) => "hold_ran_out",
        Event::Derived(Derived::Nudged { .. }) => "nudged",
        Event::Derived(Derived::Finished { .. }) => "finished",
    }
}

/// JSON has no word for "not a number": such inputs of a reason are left out. `None` when there are none.
fn only_finite(event: &Event) -> Option<Event> {
    let Event::Derived(Derived::Nudged { nudge, reason }) = event else { return None };
    let whole = reason.inputs.iter().all(|input| input.value.is_finite())
        && reason.probability.is_none_or(f64::is_finite);
    if whole {
        return None;
    }
    let mut reason = reason.clone();
    reason.inputs.retain(|input| input.value.is_finite());
    reason.probability = reason.probability.filter(|p| p.is_finite());
    Some(Event::Derived(Derived::Nudged { nudge: *nudge, reason }))
}

/// Adds events at the end of session `no`.
pub(super) fn insert_all(
    conn: &Connection,
    no: i64,
    session: SessionId,
    logged: &[(Logged, EventId)],
    utc: Timestamp,
) -> Result<(), StoreError> {
    for (logged, id) in logged {
        let (kind, body) = encode(&logged.event)?;
        let row = Row { id: *id, at: Some(logged.at), utc: micros(utc), kind, body: &body };
        insert(conn, no, session, &row)?;
    }
    Ok(())
}

/// An event about to stand in the table.
pub(super) struct Row<'a> {
    pub(super) id: EventId,
    /// Without it the time is that of the event before.
    pub(super) at: Option<At>,
    /// In microseconds since 1970.
    pub(super) utc: i64,
    pub(super) kind: &'a str,
    pub(super) body: &'a str,
}

/// Adds an event at the end of session `no`.
pub(super) fn insert(
    conn: &Connection,
    no: i64,
    session: SessionId,
    row: &Row<'_>,
) -> Result<(), StoreError> {
    let Row { id, at, utc, kind, body } = *row;
    let at = match at {
        Some(at) => Some(i64::try_from(at.as_nanos()).map_err(|_| {
            StoreError::Refused("a session time beyond 292 years cannot be written down".into())
        })?),
        None => None,
    };
    let mut statement = conn.prepare_cached(
        "INSERT INTO event (session, ordinal, id, at_ns, utc_us, kind, body)
         SELECT ?1, coalesce(max(ordinal) + 1, 0), ?2, coalesce(?3, max(at_ns), 0), ?4, ?5, ?6
         FROM event WHERE session = ?1",
    )?;
    match statement.execute(params![no, id, at, utc, kind, body]) {
        Ok(_) => Ok(()),
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
            if already_there(conn, no, id, kind, body)? {
                Ok(())
            } else {
                Err(refused(session, id, error))
            }
        }
        Err(error) => Err(error.into()),
    }
}

fn refused(session: SessionId, id: EventId, error: rusqlite::Error) -> StoreError {
    use rusqlite::ffi::{SQLITE_CONSTRAINT_TRIGGER, SQLITE_CONSTRAINT_UNIQUE};
    match error.sqlite_error().map(|code| code.extended_code) {
        Some(SQLITE_CONSTRAINT_UNIQUE) => StoreError::Taken(id),
        Some(SQLITE_CONSTRAINT_TRIGGER) => StoreError::Ended(session),
        _ => StoreError::Sqlite(error),
    }
}

fn already_there(
    conn: &Connection,
    no: i64,
    id: EventId,
    kind: &str,
    body: &str,
) -> Result<bool, StoreError> {
    let mut statement = conn.prepare_cached(
        "SELECT 1 FROM event WHERE id = ?1 AND session = ?2 AND kind = ?3 AND body = ?4",
    )?;
    let found = statement.query_row(params![id, no, kind, body], |_| Ok(())).optional()?;
    Ok(found.is_some())
}

pub(super) fn read(
    conn: &Connection,
    no: i64,
    session: SessionId,
) -> Result<Vec<Stored>, StoreError> {
    let mut statement = conn.prepare_cached(
        "SELECT id, ordinal, at_ns, utc_us, kind, body FROM event WHERE session = ?1 ORDER BY ordinal",
    )?;
    let mut rows = statement.query([no])?;
    let mut events = Vec::new();
    while let Some(row) = rows.next()? {
        let ordinal = row.get(1)?;
        let body = row.get_ref(5)?.as_str().map_err(rusqlite::Error::from)?;
        let content = decode(row.get_ref(4)?.as_str().map_err(rusqlite::Error::from)?, body)
            .map_err(|source| StoreError::Unreadable { session, ordinal, source })?;
        events.push(Stored {
            id: row.get(0)?,
            ordinal,
            at: u64::try_from(row.get::<_, i64>(2)?).unwrap_or(0).into(),
            utc: moment(row.get(3)?),
            content,
        });
    }
    Ok(events)
}

pub(super) fn decode(kind: &str, body: &str) -> Result<Content, serde_json::Error> {
    match kind {
        "edit" => serde_json::from_str(body).map(Content::Edit),
        // By kind, not by trying: clearer errors, and no second pass over the text.
        "began" | "hold_ran_out" | "nudged" | "finished" => serde_json::from_str::<Derived>(body)
            .map(|derived| Content::Event(Event::Derived(derived))),
        _ => serde_json::from_str::<Input>(body).map(|input| Content::Event(Event::Input(input))),
    }
}
