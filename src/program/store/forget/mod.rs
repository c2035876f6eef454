//! Forgetting for good. The one way past the triggers that keep the log: rows are removed with their bytes
//! overwritten, the file is rewritten without them, and the write-ahead log is emptied.
//!
//! Out of reach are copies made by the user or by the file system, and blocks that a disk keeps after a
//! file has let go of them; the user is told of the first.

mod name;
mod person;
mod plan_text;
mod texts;

use std::path::PathBuf;

use jiff::civil::Date;
use rusqlite::{Connection, params};

use super::open::{beside, create_private, remove_if_there, sync_folder};
use super::{AnimalId, Store, StoreError, told};
use crate::own_files;

pub use name::Name;

/// What is to be forgotten.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Forget {
    /// An animal, with its sessions, journal entries and plans.
    Animal(AnimalId),
    /// A person: the name is taken out of sessions, entries, edits, plans and free text. The animals' own record
    /// stays. Refused when an animal or a species is called so too.
    Person(String),
    /// The same, and what animals and species are called stays.
    PersonNotAnimal(String),
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

impl Store {
    /// Forgets for good. Run once more, or followed by [`Store::finish_forgetting`], it does what an interruption
    /// left undone.
    ///
    /// # Errors
    /// There is no such animal; the name is none, is an animal's too, or stands where it cannot be taken out; a session
    /// is going on: then nothing has changed. Or the database cannot be written, or another program has it open: then
    /// the rows may be gone, but their bytes may still be in the file until this is run again.
    pub fn forget(&self, what: &Forget) -> Result<Forgotten, StoreError> {
        let mut forgotten = Forgotten::default();
        let tx = self.write()?;
        // Now that no session can begin: one is locked before it is written down.
        self.nobody_in_session()?;
        tx.execute("INSERT INTO forgetting (what) VALUES ('x')", [])?;
        match what {
            Forget::Animal(id) => animal(&tx, *id, &mut forgotten)?,
            Forget::Person(name) => {
                person::forget(&tx, &named(name)?, false, &mut forgotten)?;
            }
            Forget::PersonNotAnimal(name) => {
                person::forget(&tx, &named(name)?, true, &mut forgotten)?;
            }
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
        // From here on the bytes have to go as well, whatever happens in between.
        self.mark_unfinished()?;
        tx.commit()?;
        self.refresh()?;
        forgotten.copies = self.remove_bytes()?;
        Ok(forgotten)
    }

    /// Does what an interrupted [`Store::forget`] left undone; whether there was something.
    ///
    /// # Errors
    /// The database cannot be written, or another program has it open.
    pub fn finish_forgetting(&self) -> Result<bool, StoreError> {
        let unfinished = self.unfinished().exists();
        if unfinished {
            self.remove_bytes()?;
        }
        Ok(unfinished)
    }

    /// Takes the bytes of what is gone out of the file, and only when the record is seen to be whole, our own copies
    /// of it away.
    fn remove_bytes(&self) -> Result<Vec<PathBuf>, StoreError> {
        self.write_anew()?;
        super::backup::faultless(&self.conn, &self.path)?;
        let copies = self.remove_copies()?;
        remove_if_there(&self.unfinished())?;
        Ok(copies)
    }

    fn unfinished(&self) -> PathBuf {
        beside(&self.path, ".forgetting")
    }

    fn mark_unfinished(&self) -> Result<(), StoreError> {
        let path = self.unfinished();
        match create_private(&path) {
            Err(source) if source.kind() != std::io::ErrorKind::AlreadyExists => {
                Err(StoreError::Files { doing: "make", path, source })
            }
            _ => sync_folder(&path),
        }
    }

    /// What is being trained right now would be written on to what is gone.
    fn nobody_in_session(&self) -> Result<(), StoreError> {
        let held = self.held.borrow();
        let mut open = self.open_sessions()?.into_iter();
        match open.find(|open| open.held && !held.contains_key(&open.id)) {
            Some(open) => Err(StoreError::InUse(open.id)),
            None => Ok(()),
        }
    }

    /// Rewrites the file without its free space, and empties the write-ahead log.
    fn write_anew(&self) -> Result<(), StoreError> {
        self.conn.execute_batch("VACUUM")?;
        let busy: i64 =
            self.conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))?;
        if busy != 0 {
            return Err(StoreError::Refused(
                "it is out of the record, but another program still holds the old file: close it, then forget \
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

fn named(typed: &str) -> Result<Name, StoreError> {
    Name::new(typed).ok_or_else(|| {
        StoreError::Refused("a name with a letter in it is needed to forget a person".into())
    })
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
    told::forget(conn)?;
    for table in ["stale", "rep", "mark", "session_summary", "event"] {
        let sql = format!("DELETE FROM {table} WHERE session IN (SELECT no FROM temp.gone)");
        conn.execute(&sql, [])?;
    }
    // A sitting is named by its first session, and by nobody who is forgotten.
    conn.execute(
        "UPDATE session SET sitting = (SELECT o.id FROM session o WHERE o.sitting = session.sitting
            AND o.no NOT IN (SELECT no FROM temp.gone) ORDER BY o.no LIMIT 1)
         WHERE sitting IN (SELECT id FROM session WHERE no IN (SELECT no FROM temp.gone))",
        [],
    )?;
    let removed = conn.execute("DELETE FROM session WHERE no IN (SELECT no FROM temp.gone)", [])?;
    conn.execute_batch(
        "DROP TABLE temp.gone;
         DELETE FROM plan_version WHERE no NOT IN (SELECT plan FROM session);",
    )?;
    Ok(count(removed))
}

fn count(rows: usize) -> u64 {
    u64::try_from(rows).unwrap_or(u64::MAX)
}
