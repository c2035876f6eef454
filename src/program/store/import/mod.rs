//! Earlier notes and exports of reps, as CSV, JSON Lines or Parquet. One row a rep, a weight, a note, or all of them;
//! every cell is taken in, or its line is reported; and as long as there is a fault, nothing is taken in. The same file
//! once more changes nothing. An export of reps brings its sessions along: keys, times, pauses and rates.
//!
//! Columns, in any order, found by their names (those of an export that follow from the others are left alone):
//!
//! | column | what |
//! |---|---|
//! | `animal` | name; needed |
//! | `began` | `2026-01-02`, `2026-01-02 15:04:05`, or with an offset or `Z`; needed; a date alone counts as noon |
//! | `species` | so that animals of one name are told apart |
//! | `behaviour` | what was trained; needed in rows with an outcome |
//! | `session` | anything that tells apart sessions with the same start; of an export, the session's key |
//! | `zone` | time zone where it was |
//! | `outcome` | `low`, `high`, `jackpot`; `missed`, or `hold_ran_out` with the limited hold as its latency |
//! | `at_s` | seconds since the start; needed in rows with an outcome |
//! | `active_s`, `session_active_s` | the same without pauses, and the whole session's length so |
//! | `start_step`, `last_step` | step worked on at its start and end |
//! | `step`, `working` | step reached and step worked on, 1 to 50 |
//! | `side` | `left`, `right` |
//! | `latency_s`, `duration_s` | seconds from cue or start word to marker |
//! | `weight` | with its unit: `92 g`, `1.4 kg`, `3.5 oz`, `2 lb` |
//! | `weight_g` | in grams |
//! | `note` | free text |
//! | `person`, `place` | who and where |

mod build;
mod fields;
mod key;
mod limit;
mod line;
mod names;
mod rows;
mod tags;

use std::collections::BTreeMap;
use std::fmt;
use std::fs::File;
use std::io::{BufRead, Read};
use std::thread;

use jiff::tz::TimeZone;
use rusqlite::Connection;

use super::{Store, StoreError, journal};
use line::{ParsedLine, Reader};
use rows::{CsvLines, JsonLines, Lines, NoLine, ParquetLines};

pub use names::{not_understood, ours_by_name, taken_for};

/// How to read the file.
#[derive(Debug, Clone)]
pub struct ImportOptions {
    /// Time zone of times without one.
    pub zone: TimeZone,
    /// The file, as the user named it.
    pub file: String,
    /// Program version.
    pub made_by: String,
    /// Columns of other names, each with ours that it is taken for.
    pub columns: Vec<(String, String)>,
    /// Looks only: nothing is kept.
    pub dry_run: bool,
}

/// What was taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Imported {
    /// New sessions.
    pub sessions: u64,
    /// Reps in them.
    pub reps: u64,
    /// New weights and notes.
    pub entries: u64,
    /// Sessions that were there already, the very same.
    pub known: u64,
}

/// A fault of one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineError {
    /// Line, counted from 1.
    pub line: u64,
    /// Column; empty when it is about the whole line.
    pub column: &'static str,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if !self.column.is_empty() {
            write!(f, ", {}", self.column)?;
        }
        let shown: String = self.found.chars().take(60).collect();
        write!(f, ": found {shown:?}; expected {}", self.expected)
    }
}

/// The faults of a file: the first ones, and how many there are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LineErrors {
    /// The first of them, in order.
    pub first: Vec<LineError>,
    /// All together.
    pub count: u64,
}

/// Faults kept in full.
const SHOWN: usize = 100;

impl LineErrors {
    fn add(&mut self, error: LineError) {
        self.count += 1;
        if self.first.len() < SHOWN {
            self.first.push(error);
        }
    }
}

impl fmt::Display for LineErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for error in &self.first {
            writeln!(f, "{error}")?;
        }
        let more = self.count - self.first.len() as u64;
        if more > 0 {
            writeln!(f, "and {more} more")?;
        }
        write!(f, "nothing was taken in: put these right and import again")
    }
}

/// Why an import failed.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// Lines that cannot be understood.
    #[error("{0}")]
    Lines(LineErrors),
    /// The file cannot be read.
    #[error("the file cannot be read: {0}")]
    Unreadable(#[source] csv::Error),
    /// The file is not of the kind that it is taken for.
    #[error("the file cannot be read: {0}")]
    NoLines(String),
    /// The database refused.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl From<rusqlite::Error> for ImportError {
    fn from(error: rusqlite::Error) -> Self {
        ImportError::Store(error.into())
    }
}

impl Store {
    /// Takes in a CSV of earlier notes: all of it, or nothing.
    ///
    /// # Errors
    /// The file cannot be read or has lines that cannot be understood, or the database cannot be written.
    pub fn import_csv(
        &self,
        file: &mut dyn Read,
        options: &ImportOptions,
    ) -> Result<Imported, ImportError> {
        self.import(&mut CsvLines::new(file), options)
    }

    /// The same of JSON Lines: one object a line, with the columns as its fields.
    ///
    /// # Errors
    /// As for [`Store::import_csv`].
    pub fn import_json_lines(
        &self,
        file: &mut dyn BufRead,
        options: &ImportOptions,
    ) -> Result<Imported, ImportError> {
        self.import(&mut JsonLines::new(file), options)
    }

    /// The same of a Parquet file.
    ///
    /// # Errors
    /// As for [`Store::import_csv`].
    pub fn import_parquet(
        &self,
        file: File,
        options: &ImportOptions,
    ) -> Result<Imported, ImportError> {
        self.import(&mut ParquetLines::new(file)?, options)
    }

    fn import(
        &self,
        file: &mut dyn Lines,
        options: &ImportOptions,
    ) -> Result<Imported, ImportError> {
        let mut errors = LineErrors::default();
        let (sessions, entries) = read(file, options, &mut errors)?;
        // What is there already is compared as it is shown.
        self.refresh()?;
        let plans = build::plans(&sessions)?;
        let mut imported = Imported::default();
        let tx = self.write()?;
        self.conn.pragma_update(None, "cache_size", CACHE_KB)?;
        let written = write(&tx, sessions, &plans, options, &mut imported, &mut errors);
        self.conn.pragma_update(None, "cache_size", USUAL_CACHE_KB)?;
        written?;
        for entry in entries {
            let before = tx.total_changes();
            journal::insert(&tx, &entry)?;
            imported.entries += u64::from(tx.total_changes() > before);
        }
        if errors.count > 0 {
            return Err(ImportError::Lines(errors));
        }
        // Dropped, the transaction leaves nothing.
        if !options.dry_run {
            tx.commit().map_err(StoreError::from)?;
        }
        Ok(imported)
    }
}

/// Room for pages while much is written at once, as SQLite wants it said: negative for kB.
const CACHE_KB: i64 = -64_000;
const USUAL_CACHE_KB: i64 = -2_000;
/// Sessions worked out in one go.
const AT_ONCE: usize = 256;

/// Works sessions out in one thread and writes them in another.
fn write(
    conn: &Connection,
    sessions: Sessions,
    plans: &build::Plans,
    options: &ImportOptions,
    imported: &mut Imported,
    errors: &mut LineErrors,
) -> Result<(), ImportError> {
    let mut rest = sessions.into_iter();
    thread::scope(|scope| {
        let mut ahead = || {
            let some: Vec<_> = rest.by_ref().take(AT_ONCE).collect();
            let prepare = move || -> Vec<_> {
                let each = some.into_iter();
                each.map(|(key, lines)| build::prepare(&key, lines, plans, options)).collect()
            };
            scope.spawn(prepare)
        };
        let mut next = ahead();
        loop {
            let ready = next.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            if ready.is_empty() {
                return Ok(());
            }
            next = ahead();
            for session in ready {
                match session {
                    Ok(session) => build::write(conn, &session, imported, errors)?,
                    Err(ImportError::Lines(wrong)) => {
                        wrong.first.into_iter().for_each(|e| errors.add(e))
                    }
                    Err(other) => return Err(other),
                }
            }
        }
    })
}

type Sessions = BTreeMap<key::Key, Vec<line::RepLine>>;

fn read(
    file: &mut dyn Lines,
    options: &ImportOptions,
    errors: &mut LineErrors,
) -> Result<(Sessions, Vec<journal::NewEntry>), ImportError> {
    let mut reader = match Reader::new(&file.headers()?, file.armed(), options) {
        Ok(reader) => reader,
        Err(error) => {
            errors.add(error);
            return Ok(Default::default());
        }
    };
    let (mut sessions, mut entries) = (Sessions::new(), Vec::new());
    let mut record = csv::StringRecord::new();
    loop {
        let line = match file.next(&mut record) {
            Ok(Some(line)) => line,
            Ok(None) => return Ok((sessions, entries)),
            Err(NoLine::This(error)) => {
                errors.add(error);
                continue;
            }
            Err(NoLine::Any(error)) => return Err(error),
        };
        match reader.line(&record, line) {
            Ok(ParsedLine { key, rep, entries: what }) => {
                entries.extend(what.into_iter().map(|entry| build::entry(&key, entry)));
                if let Some(rep) = rep {
                    sessions.entry(key).or_default().push(rep);
                }
            }
            Err(error) => errors.add(error),
        }
    }
}
