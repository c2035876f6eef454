//! An animal's earlier sessions, from files of tags or a record.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::{TagsError, past_sessions};
use crate::given;
use crate::plan::Plan;
use crate::session::{PastSession, Prior};
use crate::store::{Filter, Store, StoreError};

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

/// What the sessions in these files say, in the order of the files. A record gives the sessions of the
/// plan's animal and behaviour, a file of tags all that it holds.
///
/// # Errors
/// A file that cannot be read, by name.
pub fn before(files: &[PathBuf], plan: &Plan) -> Result<Prior, BeforeError> {
    let mut prior = Prior::default();
    for file in files {
        prior.sessions.extend(of_file(file, plan)?);
    }
    Ok(prior)
}

fn of_file(path: &Path, plan: &Plan) -> Result<Vec<PastSession>, BeforeError> {
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
        return of_record(path, plan)
            .map_err(|problem| BeforeError::Record { file: name(), problem });
    }
    past_sessions(BufReader::new(file), plan)
        .map_err(|problem| BeforeError::Tags { file: name(), problem })
}

fn of_record(path: &Path, plan: &Plan) -> Result<Vec<PastSession>, StoreError> {
    let store = Store::open_read_only(path)?;
    let animal = store.find_animal(&plan.animal, Some(&plan.species))?;
    let rows = store.sessions(&Filter::animal(animal.id))?;
    let same = rows.iter().filter(|row| row.behaviour == plan.behaviour);
    same.map(|row| Ok(PastSession::of(&store.resume(row.id)?))).collect()
}
