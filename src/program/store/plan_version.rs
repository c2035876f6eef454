//! The plan as it read when a session began.

use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::{SessionId, Store, StoreError};

/// A plan's text as a session was trained by it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanVersion {
    /// The file it was read from, as the user named it.
    pub file: String,
    /// Its whole text.
    pub text: String,
    /// Step worked on at the start of the session.
    pub start_step: u8,
}

impl Store {
    /// The plan that a session was trained by.
    ///
    /// # Errors
    /// There is no such session, or the database cannot be read.
    pub fn plan_of(&self, session: SessionId) -> Result<PlanVersion, StoreError> {
        let mut statement = self.conn.prepare_cached(
            "SELECT p.file, p.text, s.start_step FROM session s JOIN plan_version p ON p.no = s.plan
             WHERE s.id = ?1",
        )?;
        let found = statement.query_row([session], |row| {
            Ok(PlanVersion { file: row.get(0)?, text: row.get(1)?, start_step: row.get(2)? })
        });
        found.optional()?.ok_or(StoreError::NoSession(session))
    }
}

pub(super) fn no(
    conn: &Connection,
    animal: i64,
    behaviour: &str,
    file: &str,
    text: &str,
    utc: i64,
) -> Result<i64, StoreError> {
    let sum = Sha256::digest(text.as_bytes());
    let mut find =
        conn.prepare_cached("SELECT no FROM plan_version WHERE animal = ?1 AND sha256 = ?2")?;
    let found = find.query_row(params![animal, sum.as_slice()], |row| row.get(0)).optional()?;
    if let Some(no) = found {
        return Ok(no);
    }
    conn.execute(
        "INSERT INTO plan_version (animal, behaviour, file, text, sha256, first_used_us)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![animal, behaviour, file, text, sum.as_slice(), utc],
    )?;
    Ok(conn.last_insert_rowid())
}
