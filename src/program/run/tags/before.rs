//! An animal's earlier sessions, from files of tags or a record.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::{Path, PathBuf};

use jiff::ZonedDateTime;
use thiserror::Error;

use super::{TagsError, past_sessions};
use crate::given;
use crate::history::next::Moves;
use crate::plan::Plan;
use crate::run::Outset;
use crate::session::Prior;
use crate::store::{Store, StoreError, Told};

/// How every record begins (SQLite's file format, section 1.3).
const RECORD_BEGINS: &[u8; 16] = b"SQLite format 3\0";

/// Why earlier sessions cannot be known.
#[derive(Debug, Error)]
pub enum BeforeError {
    /// The file cannot be opened.
    #[error("{file} cannot be read")]
    Open {
        /// Which.
        file: String,
        /// Why.
        source: io::Error,
    },
    /// A file of tags is not as it should be.
    #[error("{file}: {problem}")]
    Tags {
        /// Which.
        file: String,
        /// What is wrong in it.
        problem: TagsError,
    },
    /// A record cannot be read.
    #[error("{file}: {problem}")]
    Record {
        /// Which.
        file: String,
        /// Why.
        problem: StoreError,
    },
}

/// How a session begins after the sessions in these files, in the order of the files. A record tells what it would
/// tell a session that begins at `now` with `person`; a file of tags tells of all the sessions that it holds.
///
/// # Errors
/// A file that cannot be read, by name.
pub fn before(
    files: &[PathBuf],
    plan: &Plan,
    person: Option<&str>,
    now: &ZonedDateTime,
) -> Result<Outset, BeforeError> {
    let mut all = Outset::unknown(plan);
    for file in files {
        let one = of_file(file, plan, person, now)?;
        let told = &mut all.told.prior;
        // By name, so that nothing that is known later is left out.
        let Prior { sessions, kcal_today, learnt_length, ladder, easy, allowed } = one.told.prior;
        if ladder.is_empty() && !told.ladder.is_empty() {
            let later = Prior { ladder: told.ladder.clone(), ..Prior::default() };
            told.ladder = later.after(&sessions, &plan.advice);
        }
        // A later file knows what came last of a step; what it says nothing of stands.
        told.ladder.retain(|known| ladder.iter().all(|later| later.step != known.step));
        told.ladder.extend(ladder);
        told.ladder.sort_by_key(|known| known.step);
        told.sessions.extend(sessions);
        told.kcal_today += kcal_today;
        told.learnt_length = learnt_length.or(told.learnt_length);
        told.easy |= easy;
        told.allowed = allowed.or(told.allowed);
        if one.moves != Moves::Begin {
            (all.step, all.moves) = (one.step, one.moves);
        }
    }
    // Their sessions are not in the record that this one may be kept in.
    all.told = Told::from(all.told.prior).as_kept().map_err(|problem| {
        let file = files.first().map(|file| file.display().to_string());
        BeforeError::Record { file: file.unwrap_or_default(), problem }
    })?;
    Ok(all)
}

fn of_file(
    path: &Path,
    plan: &Plan,
    person: Option<&str>,
    now: &ZonedDateTime,
) -> Result<Outset, BeforeError> {
    let name = || path.display().to_string();
    let opened = || -> io::Result<(File, bool)> {
        let mut file = given::open(path)?;
        let mut begins = Vec::new();
        (&mut file).take(RECORD_BEGINS.len() as u64).read_to_end(&mut begins)?;
        file.rewind()?;
        Ok((file, begins == RECORD_BEGINS))
    };
    let (file, is_record) =
        opened().map_err(|source| BeforeError::Open { file: name(), source })?;
    if is_record {
        drop(file);
        return of_record(path, plan, person, now)
            .map_err(|problem| BeforeError::Record { file: name(), problem });
    }
    let sessions = past_sessions(BufReader::new(file), plan)
        .map_err(|problem| BeforeError::Tags { file: name(), problem })?;
    let told = Told::from(Prior { sessions, ..Prior::default() });
    Ok(Outset { told, ..Outset::unknown(plan) })
}

fn of_record(
    path: &Path,
    plan: &Plan,
    person: Option<&str>,
    now: &ZonedDateTime,
) -> Result<Outset, StoreError> {
    let store = Store::open_read_only(path)?;
    // Who asks for a record means that the animal is in it.
    store.find_animal(&plan.animal, Some(&plan.species))?;
    Outset::of_record(&store, plan, person, now)
}
