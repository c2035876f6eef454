//! Forgetting for good. The one way past the triggers that keep the log: rows are removed with their bytes
//! overwritten, the file is written anew without them, and the write-ahead log is emptied.
//!
//! Out of reach are copies made by the user or by the file system, and blocks that a disk keeps after a
//! file has let go of them; the user is told of the first.

use std::path::PathBuf;

use jiff::civil::Date;
use rusqlite::{Connection, params};
use sha2::{Digest, Sha256};

use super::open::remove_if_there;
use super::{AnimalId, Store, StoreError};
use crate::own_files;

/// What is to be forgotten.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Forget {
    /// An animal, with its sessions, journal entries and plans.
    Animal(AnimalId),
    /// A person: the name is taken out of sessions, entries, edits and free text. The animals' own record
    /// stays.
    Person(String),
    /// Every session and entry of these local dates.
    Days {
        /// First.
        from: Date,
        /// Last.
        to: Date,
    },
}

/// What was forgotten.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Forgotten {
    /// Sessions removed.
    pub sessions: u64,
    /// Journal entries removed.
    pub entries: u64,
    /// Texts in which a name was replaced.
    pub texts: u64,
    /// Copies beside the database that were removed with it.
    pub copies: Vec<PathBuf>,
}

/// Stands where a name stood.
const GONE: &str = "(forgotten)";
/// Fields of events and entries that hold free text.
const FREE_TEXT: [&str; 10] =
    ["text", "words", "other", "why", "by", "what", "context", "instead", "said", "name"];

impl Store {
    /// Forgets for good. Run once more, it does what an interruption left undone.
    ///
    /// # Errors
    /// There is no such animal, the database cannot be written, or another program has it open: then
    /// the rows are gone, but their bytes may still be in the file until this is run again.
    pub fn forget(&self, what: &Forget) -> Result<Forgotten, StoreError> {
        let mut forgotten = Forgotten::default();
        let tx = self.write()?;
        tx.execute("INSERT INTO forgetting (what) VALUES ('x')", [])?;
        match what {
            Forget::Animal(id) => animal(&tx, *id, &mut forgotten)?,
            Forget::Person(name) => person(&tx, name, &mut forgotten)?,
            Forget::Days { from, to } => {
                tx.execute_batch("CREATE TEMP TABLE gone (no INTEGER PRIMARY KEY)")?;
                let days = params![from.to_string(), to.to_string()];
                tx.execute(
                    "INSERT INTO temp.gone SELECT no FROM session WHERE day BETWEEN ?1 AND ?2",
                    days,
                )?;
                forgotten.sessions = remove_sessions(&tx)?;
                let sql = "DELETE FROM journal WHERE day BETWEEN ?1 AND ?2";
                forgotten.entries = count(tx.execute(sql, days)?);
            }
        }
        tx.execute("DELETE FROM forgetting", [])?;
        tx.commit()?;
        self.refresh()?;
        forgotten.copies = self.remove_copies()?;
        self.write_anew()?;
        Ok(forgotten)
    }

    /// Writes the file anew without its free space, and empties the write-ahead log.
    fn write_anew(&self) -> Result<(), StoreError> {
        self.conn.execute_batch("VACUUM")?;
        let busy: i64 =
            self.conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
        if busy != 0 {
            return Err(StoreError::Refused(
                "it is forgotten, but another program still holds the old file: close it, then forget \
                 once more, so that the bytes go as well"
                    .into(),
            ));
        }
        Ok(())
    }

    /// Copies that this program itself has put beside the database.
    fn remove_copies(&self) -> Result<Vec<PathBuf>, StoreError> {
        let copies = own_files::copies(&self.path).map_err(|source| StoreError::Files {
            doing: "look for copies beside",
            path: self.path.clone(),
            source,
        })?;
        for copy in &copies {
            remove_if_there(copy)?;
        }
        Ok(copies)
    }
}

fn animal(conn: &Connection, id: AnimalId, forgotten: &mut Forgotten) -> Result<(), StoreError> {
    conn.execute_batch("CREATE TEMP TABLE gone (no INTEGER PRIMARY KEY)")?;
    conn.execute(
        "INSERT INTO temp.gone SELECT no FROM session WHERE animal = (SELECT no FROM animal WHERE id = ?1)",
        [id],
    )?;
    forgotten.sessions = remove_sessions(conn)?;
    let own = "(SELECT no FROM animal WHERE id = ?1)";
    forgotten.entries =
        count(conn.execute(&format!("DELETE FROM journal WHERE animal = {own}"), [id])?);
    conn.execute(&format!("DELETE FROM plan_version WHERE animal = {own}"), [id])?;
    conn.execute(&format!("DELETE FROM animal_name WHERE animal = {own}"), [id])?;
    if conn.execute("DELETE FROM animal WHERE id = ?1", [id])? == 0 {
        return Err(StoreError::NoAnimal(id.to_string()));
    }
    Ok(())
}

/// Removes the sessions whose numbers stand in `temp.gone`.
fn remove_sessions(conn: &Connection) -> Result<u64, StoreError> {
    for table in ["stale", "rep", "mark", "session_summary", "event"] {
        let sql = format!("DELETE FROM {table} WHERE session IN (SELECT no FROM temp.gone)");
        conn.execute(&sql, [])?;
    }
    let removed = conn.execute("DELETE FROM session WHERE no IN (SELECT no FROM temp.gone)", [])?;
    conn.execute_batch(
        "DROP TABLE temp.gone;
         DELETE FROM plan_version WHERE no NOT IN (SELECT plan FROM session);",
    )?;
    Ok(count(removed))
}

fn person(conn: &Connection, name: &str, forgotten: &mut Forgotten) -> Result<(), StoreError> {
    if name.trim().is_empty() {
        return Err(StoreError::Refused("a name is needed to forget a person".into()));
    }
    for table in ["session", "journal"] {
        let sql = format!("UPDATE {table} SET person = NULL WHERE person = ?1 COLLATE NOCASE");
        forgotten.texts += count(conn.execute(&sql, [name])?);
    }
    for column in ["place", "source_name"] {
        redact_column(conn, "session", "no", column, name, forgotten)?;
    }
    redact_column(conn, "journal", "ordinal", "place", name, forgotten)?;
    redact_column(conn, "animal", "no", "note", name, forgotten)?;
    redact_column(conn, "plan_version", "no", "file", name, forgotten)?;
    redact_plans(conn, name, forgotten)?;
    redact_bodies(conn, "journal", "ordinal", "0", name, forgotten)?;
    redact_bodies(conn, "event", "session", "ordinal", name, forgotten)
}

/// Rows of a table in which a text contains the name.
fn with_name(
    conn: &Connection,
    table: &str,
    keys: &str,
    column: &str,
    name: &str,
) -> Result<Vec<(i64, i64, String)>, StoreError> {
    let sql = format!("SELECT {keys}, {column} FROM {table} WHERE {column} LIKE ?1 ESCAPE '\\'");
    let like = name.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
    // In JSON a quote or a control character in a name stands escaped.
    let mut statement = conn.prepare(&sql)?;
    let rows = statement
        .query_map([format!("%{like}%")], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn redact_column(
    conn: &Connection,
    table: &str,
    key: &str,
    column: &str,
    name: &str,
    forgotten: &mut Forgotten,
) -> Result<(), StoreError> {
    for (no, _, text) in with_name(conn, table, &format!("{key}, 0"), column, name)? {
        if let Some(text) = without(&text, name) {
            let sql = format!("UPDATE {table} SET {column} = ?2 WHERE {key} = ?1");
            conn.execute(&sql, params![no, text])?;
            forgotten.texts += 1;
        }
    }
    Ok(())
}

fn redact_plans(
    conn: &Connection,
    name: &str,
    forgotten: &mut Forgotten,
) -> Result<(), StoreError> {
    for (no, _, text) in with_name(conn, "plan_version", "no, 0", "text", name)? {
        if let Some(text) = without(&text, name) {
            let sum = Sha256::digest(text.as_bytes());
            conn.execute(
                "UPDATE plan_version SET text = ?2, sha256 = ?3 WHERE no = ?1",
                params![no, text, sum.as_slice()],
            )?;
            forgotten.texts += 1;
        }
    }
    Ok(())
}

fn redact_bodies(
    conn: &Connection,
    table: &str,
    key: &str,
    second: &str,
    name: &str,
    forgotten: &mut Forgotten,
) -> Result<(), StoreError> {
    let in_json = serde_json::to_string(name).unwrap_or_default();
    let in_json = in_json.trim_matches('"');
    for (no, ordinal, body) in with_name(conn, table, &format!("{key}, {second}"), "body", in_json)?
    {
        let Ok(mut value) = serde_json::from_str(&body) else { continue };
        if !redact(&mut value, name) {
            continue;
        }
        let sql = format!("UPDATE {table} SET body = ?3 WHERE {key} = ?1 AND {second} = ?2");
        conn.execute(&sql, params![no, ordinal, value.to_string()])?;
        forgotten.texts += 1;
        if table == "event" {
            // Marks repeat the begin of notes.
            conn.execute("DELETE FROM mark WHERE session = ?1", [no])?;
            conn.execute("INSERT OR IGNORE INTO stale (session) VALUES (?1)", [no])?;
        }
    }
    Ok(())
}

/// Takes a name out of the free texts of an event; false when it is in none.
fn redact(value: &mut serde_json::Value, name: &str) -> bool {
    use serde_json::Value;
    let Value::Object(fields) = value else { return false };
    let mut found = false;
    for (field, value) in fields.iter_mut() {
        match value {
            Value::String(text) if FREE_TEXT.contains(&field.as_str()) => {
                if let Some(clean) = without(text, name) {
                    *text = clean;
                    found = true;
                }
            }
            Value::Object(_) => found |= redact(value, name),
            _ => {}
        }
    }
    found
}

/// The text with the name replaced wherever it stands as a word of its own; `None` when it does not.
fn without(text: &str, name: &str) -> Option<String> {
    let (lower, sought) = (text.to_ascii_lowercase(), name.to_ascii_lowercase());
    let mut clean = String::with_capacity(text.len());
    let mut from = 0;
    let mut searched = 0;
    while let Some(found) = lower[searched..].find(&sought).map(|found| found + searched) {
        let end = found + sought.len();
        let before = lower[..found].chars().next_back().is_some_and(char::is_alphanumeric);
        let after = lower[end..].chars().next().is_some_and(char::is_alphanumeric);
        if !before && !after {
            clean.push_str(&text[from..found]);
            clean.push_str(GONE);
            from = end;
        }
        searched = end;
    }
    (from > 0).then(|| clean + &text[from..])
}

fn count(rows: usize) -> u64 {
    u64::try_from(rows).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::without;

    #[test]
    fn a_name_goes_where_it_stands_as_a_word() {
        let gone = |text| without(text, "Ada");
        assert_eq!(
            gone("with ada, and ADA's towel"),
            Some("with (forgotten), and (forgotten)'s towel".into())
        );
        assert_eq!(gone("Canada, adapted"), None);
        assert_eq!(gone("Ünïcode Ada é"), Some("Ünïcode (forgotten) é".into()));
    }
}
