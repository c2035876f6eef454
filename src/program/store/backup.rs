//! Whole copies, made while the database is in use, and putting one back.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};

use super::hold::one_at_a_time;
use super::open::{beside, create_private, remove_if_there, sync, sync_folder};
use super::{Store, StoreError};
use crate::new_file::{Existing, NewFile};

/// What a copy holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Copied {
    /// Sessions in it.
    pub sessions: u64,
    /// Events in it.
    pub events: u64,
    /// Its size in bytes.
    pub bytes: u64,
}

/// A database put back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    /// What the new one holds.
    pub copied: Copied,
    /// Where the old one went; `None` when there was none.
    pub kept: Option<PathBuf>,
}

/// How long to wait between two tries when another program writes.
const PAUSE: Duration = Duration::from_millis(50);
/// Tries before giving up: ten seconds.
const TRIES: u32 = 200;

impl Store {
    /// Makes a whole copy in one new file, as of this moment, while other programs may go on writing.
    /// The copy is checked before it gets its name.
    ///
    /// # Errors
    /// The file exists, cannot be written, or the check finds a fault.
    pub fn backup(&self, to: &Path) -> Result<Copied, StoreError> {
        let file = NewFile::begin(to, Existing::Kept, Some(&self.path))?;
        let copied = fill(&self.conn, file.path())?;
        file.finish()?;
        Ok(copied)
    }

    /// Puts a backup in the place of the database at `path`. The backup is checked first; the old database
    /// is kept beside it under a name with the time `now`. Other programs must not be using it.
    ///
    /// # Errors
    /// The backup is missing, is empty, is not ours, is damaged or newer; or the database is in use. Then
    /// nothing has changed, and nothing is left behind.
    pub fn restore(path: &Path, from: &Path, now: Timestamp) -> Result<Restored, StoreError> {
        let backup = Store::open_any_format(from)?;
        faultless(&backup.conn, from)?;
        if super::hold::anyone_in(path) {
            return Err(in_session());
        }
        let part = beside(path, ".restoring");
        let folders = super::open::make_folder(path)?;
        let _turn = one_at_a_time(path);
        let mut undo = Undo { files: Vec::new(), renamed: None, folders };
        let copied = copy(&backup.conn, &part)?;
        undo.files.push(part.clone());
        let kept = if path.exists() { Some(set_aside(path, now, &mut undo)?) } else { None };
        name(&part, path)?;
        undo.nothing();
        Ok(Restored { copied, kept })
    }

    /// Puts a whole copy beside the file before an upgrade. A copy that died half-way is overwritten.
    pub(super) fn copy_before_upgrade(&self, to_format: i64) -> Result<(), StoreError> {
        let _turn = one_at_a_time(&self.path);
        let part = beside(&self.path, ".copying");
        copy(&self.conn, &part)?;
        name(&part, &beside(&self.path, &format!(".before-format-{to_format}")))
    }
}

/// What is taken away again, unless all went well.
#[derive(Debug)]
struct Undo {
    files: Vec<PathBuf>,
    /// A name that was given to a file, and the one it had.
    renamed: Option<(PathBuf, PathBuf)>,
    /// Folders that were made, the outer one first.
    folders: Vec<PathBuf>,
}

impl Undo {
    /// Everything stays.
    fn nothing(mut self) {
        self.files.clear();
        self.folders.clear();
        self.renamed = None;
    }
}

impl Drop for Undo {
    fn drop(&mut self) {
        if let Some((now, before)) = &self.renamed {
            let _ = fs::rename(now, before);
        }
        for file in &self.files {
            let _ = fs::remove_file(file);
        }
        for folder in self.folders.iter().rev() {
            let _ = fs::remove_dir(folder);
        }
    }
}

fn copy(from: &Connection, part: &Path) -> Result<Copied, StoreError> {
    remove_if_there(part)?;
    create_private(part).map_err(|source| StoreError::Files {
        doing: "make",
        path: part.to_owned(),
        source,
    })?;
    let done = fill(from, part);
    if done.is_err() {
        let _ = fs::remove_file(part);
    }
    done
}

fn fill(from: &Connection, part: &Path) -> Result<Copied, StoreError> {
    let mut to = Connection::open_with_flags(part, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
    let mut tries = 0;
    let backup = Backup::new(from, &mut to)?;
    loop {
        // All pages in one step: one moment in time, and in write-ahead mode nobody is held up by it.
        match backup.step(-1)? {
            StepResult::Done => break,
            StepResult::More => {}
            _ if tries < TRIES => {
                tries += 1;
                std::thread::sleep(PAUSE);
            }
            _ => return Err(StoreError::Refused("another program kept the database busy".into())),
        }
    }
    drop(backup);
    // The copy is to be one file that can be carried about.
    to.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))?;
    faultless(&to, part)?;
    let count = |table: &str| {
        let sql = format!("SELECT count(*) FROM {table}");
        to.query_row(&sql, [], |row| row.get::<_, i64>(0)).map(|n| u64::try_from(n).unwrap_or(0))
    };
    let (sessions, events) = (count("session")?, count("event")?);
    drop(to);
    sync(part)?;
    let bytes = fs::metadata(part).map_or(0, |meta| meta.len());
    Ok(Copied { sessions, events, bytes })
}

/// The whole check, not the quick one of every start.
pub(super) fn faultless(conn: &Connection, path: &Path) -> Result<(), StoreError> {
    let damaged = |detail| StoreError::Damaged { path: path.to_owned(), detail };
    let said = conn
        .query_row("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0))
        .map_err(|error| damaged(error.to_string()))?;
    if said != "ok" {
        return Err(damaged(said));
    }
    let mut statement = conn.prepare("PRAGMA foreign_key_check")?;
    if statement.exists([])? {
        return Err(damaged("a row points to one that is not there".into()));
    }
    Ok(())
}

fn name(part: &Path, whole: &Path) -> Result<(), StoreError> {
    fs::rename(part, whole).map_err(|source| StoreError::Files {
        doing: "rename",
        path: part.to_owned(),
        source,
    })?;
    sync_folder(whole)
}

/// Gives the database at `path` a second name, with everything it holds in that one file where it can still
/// be opened. The first name stays until the new database takes it, so that there is one at any moment.
fn set_aside(path: &Path, now: Timestamp, undo: &mut Undo) -> Result<PathBuf, StoreError> {
    let stamp = now.strftime("%Y%m%dT%H%M%SZ");
    let name = |more: &str| beside(path, &format!(".before-restore-{stamp}{more}"));
    let taken = |kept: &PathBuf| kept.exists() || beside(kept, "-wal").exists();
    // Two within one second must not meet.
    let mut kept = name("");
    for again in 2.. {
        if !taken(&kept) {
            break;
        }
        kept = name(&format!("-{again}"));
    }
    let files = |doing| {
        let path = path.to_owned();
        move |source| StoreError::Files { doing, path, source }
    };
    if super::hold::anyone_in(path) {
        return Err(in_session());
    }
    let whole =
        Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE).and_then(|conn| {
            conn.busy_timeout(Duration::from_secs(2))?;
            conn.pragma_update_and_check(None, "journal_mode", "DELETE", |row| {
                row.get::<_, String>(0)
            })
        });
    match whole {
        // Everything is in the one file now, and nobody else has it open.
        Ok(mode) if mode == "delete" => {}
        Ok(_) => return Err(in_use()),
        Err(error) if matches!(StoreError::from(clone(&error)), StoreError::Busy(_)) => {
            return Err(in_use());
        }
        // Damaged beyond opening: its log is kept with it, and must not meet the new database.
        Err(_) => {
            let (log, kept_log) = (beside(path, "-wal"), beside(&kept, "-wal"));
            if log.exists() {
                fs::rename(&log, &kept_log).map_err(files("rename the log of"))?;
                undo.renamed = Some((kept_log, log));
            }
        }
    }
    undo.files.push(kept.clone());
    if fs::hard_link(path, &kept).is_err() {
        fs::copy(path, &kept).map_err(files("copy"))?;
    }
    for ending in ["-wal", "-shm"] {
        remove_if_there(&beside(path, ending))?;
    }
    sync_folder(path)?;
    Ok(kept)
}

fn in_session() -> StoreError {
    StoreError::Refused(
        "a session is going on: finish it and close the program, then restore".into(),
    )
}

fn in_use() -> StoreError {
    StoreError::Refused("another program has the database open: close it, then restore".into())
}

fn clone(error: &rusqlite::Error) -> rusqlite::Error {
    super::open::clone_code(error)
}
