//! What can go wrong with the database, in words that say what to do.

use std::io;
use std::path::PathBuf;

use rusqlite::ErrorCode;

use super::{EventId, SessionId};
use crate::new_file::NewFileError;
use crate::plan::PlanErrors;

/// Why something could not be stored or read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// No room for another event; nothing acknowledged is lost.
    #[error(
        "the disk is full: free some space, then say or do it again; everything confirmed before is safe"
    )]
    DiskFull(#[source] rusqlite::Error),
    /// The file, its folder or the whole disk cannot be written.
    #[error(
        "the database can be read but not written: check the permissions of the file and its folder, and whether the disk is mounted read-only"
    )]
    ReadOnly(#[source] rusqlite::Error),
    /// The operating system reported a fault of the disk.
    #[error(
        "the disk reported an error: check the disk, then try again; everything confirmed before is safe unless the disk itself lost it"
    )]
    Disk(#[source] rusqlite::Error),
    /// Another program kept the database locked for too long.
    #[error(
        "another program is using the database and did not let go of it in time: close it or wait, then try again"
    )]
    Busy(#[source] rusqlite::Error),
    /// The file cannot be opened at all.
    #[error("cannot open the database {}: check that the folder exists and that you may read and write it", path.display())]
    CannotOpen {
        /// The file.
        path: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
    /// A folder or file beside the database could not be made or read.
    #[error("cannot {doing} {}: {source}", path.display())]
    Files {
        /// What was tried, as a verb.
        doing: &'static str,
        /// The file or folder.
        path: PathBuf,
        /// What the operating system said.
        source: io::Error,
    },
    /// The file is something else.
    #[error("{} is not a Hushtally database: choose another file, or move this one away to start afresh", path.display())]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// There is nothing in the file.
    #[error("{} is empty, so it is not a record, nor a backup of one: choose another file; nothing was changed", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// The file was written by an earlier Hushtally, and may not be brought up to date here.
    #[error("{} is of an older format ({found}): open it once with a program that may write it", path.display())]
    Older {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: i64,
    },
    /// The file was written by a later Hushtally.
    #[error("{} was written by a newer Hushtally (format {found}; this program knows formats up to {known}): use the newer program; nothing was changed", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: i64,
        /// The latest format this program knows.
        known: i64,
    },
    /// The file's content contradicts itself.
    #[error("the database {} is damaged ({detail}): do not write to it; run `hushtally restore` with a backup, or keep the file for repair", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The first fault found.
        detail: String,
    },
    /// An upgrade of the format failed; it was rolled back.
    #[error(
        "the database could not be brought to the new format: {detail}; it is unchanged, and a copy from before is beside it"
    )]
    Upgrade {
        /// What failed.
        detail: String,
    },
    /// There is no such session.
    #[error("there is no session {0} in the database")]
    NoSession(SessionId),
    /// There is no animal of this name.
    #[error(
        "there is no animal called {0:?} in the database: `hushtally animals` lists those there are"
    )]
    NoAnimal(String),
    /// More than one animal answers to the name.
    #[error("{count} animals are called {name:?}: add the species, or rename one of them")]
    SeveralAnimals {
        /// The name asked for.
        name: String,
        /// How many.
        count: usize,
    },
    /// The key is already used by something else.
    #[error("the key {0} is already used by another event")]
    Taken(EventId),
    /// A stored event cannot be read back.
    #[error("event {ordinal} of session {session} cannot be read: {source}")]
    Unreadable {
        /// The session.
        session: SessionId,
        /// Its place.
        ordinal: i64,
        /// What the reader said.
        source: serde_json::Error,
    },
    /// A stored journal entry cannot be read back.
    #[error("journal entry {ordinal} cannot be read: {source}")]
    UnreadableEntry {
        /// Its place.
        ordinal: i64,
        /// What the reader said.
        source: serde_json::Error,
    },
    /// Another program is in the session.
    #[error("another program is in session {0}: finish it there first")]
    InUse(SessionId),
    /// The session has an end, and nothing but corrections and notes can stand behind it.
    #[error("session {0} has ended: what comes now belongs to a session of its own")]
    Ended(SessionId),
    /// Another program has taken the session up since.
    #[error(
        "another program has taken over session {0}: what comes now belongs to a session of its own"
    )]
    TakenOver(SessionId),
    /// The plan stored with a session cannot be read by this program.
    #[error("the plan that session {session} was trained by cannot be read: {source}")]
    Plan {
        /// The session.
        session: SessionId,
        /// The plan's faults.
        source: PlanErrors,
    },
    /// What was kept of what a session was told at its start cannot be read by this program.
    #[error("what session {session} was told at its start cannot be read: {source}")]
    Told {
        /// The session.
        session: SessionId,
        /// What the reader said.
        source: serde_json::Error,
    },
    /// A value does not fit.
    #[error("{0}")]
    Refused(String),
    /// Anything else SQLite reports; a fault of this program.
    #[error("the database refused: {0}")]
    Sqlite(#[source] rusqlite::Error),
}

impl StoreError {
    /// Whether one session cannot be read by this program; the others can.
    pub fn is_of_one_session(&self) -> bool {
        matches!(
            self,
            StoreError::Plan { .. } | StoreError::Unreadable { .. } | StoreError::Told { .. }
        )
    }

    /// Whether the session cannot be written to any more, so that what was to be written needs another one.
    pub fn is_out_of_session(&self) -> bool {
        matches!(self, StoreError::Ended(_) | StoreError::TakenOver(_) | StoreError::NoSession(_))
    }
}

impl From<NewFileError> for StoreError {
    fn from(error: NewFileError) -> Self {
        match error {
            NewFileError::Disk { path, source } => {
                StoreError::Files { doing: "write", path, source }
            }
            other => StoreError::Refused(other.to_string()),
        }
    }
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => StoreError::DiskFull(error),
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => StoreError::ReadOnly(error),
            Some(ErrorCode::SystemIoFailure) => StoreError::Disk(error),
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy(error),
            _ => StoreError::Sqlite(error),
        }
    }
}
