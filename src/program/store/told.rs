//! What a session was told of the animal's past when it began: kept with it, so that it is replayed as it was.

use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::{SessionId, Store, StoreError};
use crate::session::{PastSession, Prior};

/// What a session is told when it begins, and of which sessions of this record that tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Told {
    /// What it is told.
    pub prior: Prior,
    /// For each of `prior.sessions` the session that it tells of; none for one from a file, or beyond the end.
    pub of: Vec<Option<SessionId>>,
}

impl From<Prior> for Told {
    /// From elsewhere than this record.
    fn from(prior: Prior) -> Self {
        Told { prior, of: Vec::new() }
    }
}

impl Told {
    /// The same as it comes back from the record, so that a session goes by what is kept and by nothing else: of the
    /// earlier sessions only as many as are looked at.
    ///
    /// # Errors
    /// A number in it is none.
    pub fn as_kept(mut self) -> Result<Self, StoreError> {
        let older = self.prior.sessions.len().saturating_sub(Prior::SESSIONS);
        self.prior.sessions.drain(..older);
        self.of.drain(..older.min(self.of.len()));
        for past in &mut self.prior.sessions {
            *past = serde_json::from_str(&in_json(past)?).map_err(none)?;
        }
        let sessions = std::mem::take(&mut self.prior.sessions);
        self.prior = serde_json::from_str(&in_json(&self.prior)?).map_err(none)?;
        self.prior.sessions = sessions;
        Ok(self)
    }
}

impl Store {
    /// What a session was told when it began.
    ///
    /// # Errors
    /// The session is unknown, or what it was told cannot be read.
    pub fn told(&self, session: SessionId) -> Result<Prior, StoreError> {
        read(&self.conn, super::session::no(&self.conn, session)?, session)
    }
}

/// Keeps what session `no` is told; one that is told nothing has no rows.
pub(super) fn insert(conn: &Connection, no: i64, told: &Told) -> Result<(), StoreError> {
    if told.prior == Prior::default() {
        return Ok(());
    }
    let mut statement = conn.prepare_cached("INSERT INTO told (session, body) VALUES (?1, ?2)")?;
    statement.execute(params![no, in_json(&told.prior)?])?;
    let mut statement =
        conn.prepare_cached("INSERT INTO told_of (session, place, past) VALUES (?1, ?2, ?3)")?;
    for (place, past) in told.prior.sessions.iter().enumerate() {
        let of = told.of.get(place).copied().flatten();
        // One that was forgotten since it was read is nobody's any more.
        let origin = of.and_then(|of| super::session::no(conn, of).ok());
        let place = i64::try_from(place).unwrap_or(i64::MAX);
        statement.execute(params![no, place, past_no(conn, origin, past)?])?;
    }
    Ok(())
}

/// The number under which an earlier session's numbers stand.
fn past_no(conn: &Connection, origin: Option<i64>, past: &PastSession) -> Result<i64, StoreError> {
    let body = in_json(past)?;
    let sum = Sha256::digest(body.as_bytes());
    let mut find = conn.prepare_cached("SELECT no FROM past WHERE sha256 = ?1 AND origin IS ?2")?;
    let found = find.query_row(params![sum.as_slice(), origin], |row| row.get(0)).optional()?;
    if let Some(no) = found {
        return Ok(no);
    }
    conn.prepare_cached("INSERT INTO past (origin, sha256, body) VALUES (?1, ?2, ?3)")?
        .execute(params![origin, sum.as_slice(), body])?;
    Ok(conn.last_insert_rowid())
}

/// What session `no` was told; nothing, for one from before this was kept.
pub(super) fn read(conn: &Connection, no: i64, session: SessionId) -> Result<Prior, StoreError> {
    let unreadable = |source| StoreError::Told { session, source };
    let mut statement = conn.prepare_cached("SELECT body FROM told WHERE session = ?1")?;
    let body: Option<String> = statement.query_row([no], |row| row.get(0)).optional()?;
    let Some(body) = body else { return Ok(Prior::default()) };
    let mut prior: Prior = serde_json::from_str(&body).map_err(unreadable)?;
    let mut statement = conn.prepare_cached(
        "SELECT p.body FROM told_of t JOIN past p ON p.no = t.past WHERE t.session = ?1 ORDER BY t.place",
    )?;
    let mut rows = statement.query([no])?;
    while let Some(row) = rows.next()? {
        let body = row.get_ref(0)?.as_str().map_err(rusqlite::Error::from)?;
        prior.sessions.push(serde_json::from_str(body).map_err(unreadable)?);
    }
    Ok(prior)
}

/// How many of the earlier sessions that session `no` was told of have been forgotten since.
pub(super) fn forgotten(conn: &Connection, no: i64) -> Result<u32, StoreError> {
    let mut statement = conn.prepare_cached("SELECT forgotten FROM told WHERE session = ?1")?;
    Ok(statement.query_row([no], |row| row.get(0)).optional()?.unwrap_or(0))
}

/// Takes out what the sessions whose numbers stand in `temp.gone` were told, and what others were told of them; the
/// others among them are behind from then on.
pub(super) fn forget(conn: &Connection) -> Result<(), StoreError> {
    conn.execute_batch(
        "DELETE FROM told_of WHERE session IN (SELECT no FROM temp.gone);
         DELETE FROM told WHERE session IN (SELECT no FROM temp.gone);
         CREATE TEMP TABLE told_too AS
             SELECT t.session, count(*) AS lost FROM told_of t JOIN past p ON p.no = t.past
             WHERE p.origin IN (SELECT no FROM temp.gone) GROUP BY t.session;
         UPDATE told SET forgotten = forgotten + (SELECT lost FROM temp.told_too o WHERE o.session = told.session)
             WHERE session IN (SELECT session FROM temp.told_too);
         INSERT OR IGNORE INTO stale (session) SELECT session FROM temp.told_too;
         DELETE FROM told_of WHERE past IN (SELECT no FROM past WHERE origin IN (SELECT no FROM temp.gone));
         DELETE FROM past WHERE origin IN (SELECT no FROM temp.gone)
             OR no NOT IN (SELECT past FROM told_of);
         DROP TABLE temp.told_too;",
    )?;
    Ok(())
}

fn in_json<T: serde::Serialize>(value: &T) -> Result<String, StoreError> {
    serde_json::to_string(value).map_err(none)
}

fn none(error: serde_json::Error) -> StoreError {
    StoreError::Refused(format!("what a session is told cannot be written down: {error}"))
}
