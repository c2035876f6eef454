//! Where learnt sounds are kept: a file a person, readable by its owner alone, beside the record.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::matcher::Learnt;
use crate::given;
use crate::new_file::{self, Existing};
use crate::private::create_folder;

/// The format; a file of another is refused with words.
const FORMAT: u32 = 1;
/// A file of more bytes is not ours.
const MOST_BYTES: u64 = 64 << 20;

/// Why learnt sounds cannot be read or kept.
#[derive(Debug, thiserror::Error)]
pub enum LearntError {
    /// The disk says no.
    #[error("the learnt sounds in {} cannot be used: {source}", path.display())]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The file is not what is expected.
    #[error(
        "{} holds no learnt sounds that this version can read ({why}); teach them again, or use --no-learnt",
        path.display()
    )]
    Wrong {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    format: u32,
    /// Whose they are; none when no name was given.
    person: Option<String>,
    learnt: Learnt,
}

/// Whose a file of learnt sounds is; nobody's in particular when no name was given.
pub type Whose = Result<Option<String>, LearntError>;

/// The folder of learnt sounds.
#[derive(Debug, Clone)]
pub struct LearntStore {
    folder: PathBuf,
}

impl LearntStore {
    /// In this folder, which need not be there yet.
    pub fn in_folder(folder: impl Into<PathBuf>) -> Self {
        LearntStore { folder: folder.into() }
    }

    /// The file of one person. A name is kept in the file and not in its name: names may hold anything.
    pub fn file_of(&self, person: Option<&str>) -> PathBuf {
        let name = match person {
            None => "anyone".to_owned(),
            Some(person) => {
                let digest = Sha256::digest(person.trim().to_lowercase().as_bytes());
                digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect()
            }
        };
        self.folder.join(format!("{name}.json"))
    }

    /// What was learnt from this person; `None` when nothing was.
    ///
    /// # Errors
    /// [`LearntError`] when there is a file and it cannot be read.
    pub fn load(&self, person: Option<&str>) -> Result<Option<Learnt>, LearntError> {
        Ok(kept(&self.file_of(person))?.map(|kept| kept.learnt))
    }

    /// Keeps what was learnt, whole or not at all.
    ///
    /// # Errors
    /// [`LearntError::Disk`].
    pub fn save(&self, person: Option<&str>, learnt: &Learnt) -> Result<PathBuf, LearntError> {
        let path = self.file_of(person);
        let disk = |source| LearntError::Disk { path: path.clone(), source };
        let person = person.map(|person| person.trim().to_owned());
        let kept = Kept { format: FORMAT, person, learnt: learnt.clone() };
        let text = serde_json::to_string(&kept).map_err(|error| disk(error.into()))?;
        create_folder(&self.folder).map_err(disk)?;
        new_file::write(&path, text.as_bytes(), Existing::Replaced, None)
            .map_err(|error| disk(error.into()))?;
        Ok(path)
    }

    /// Every file of learnt sounds, and whose they are; why not, of one that cannot be read.
    ///
    /// # Errors
    /// [`LearntError::Disk`], when the folder cannot be read.
    pub fn whose(&self) -> Result<Vec<(PathBuf, Whose)>, LearntError> {
        let disk = |source| LearntError::Disk { path: self.folder.clone(), source };
        let mut files = match fs::read_dir(&self.folder) {
            Ok(entries) => entries
                .map(|entry| Ok(entry?.path()))
                .collect::<io::Result<Vec<PathBuf>>>()
                .map_err(disk)?,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(disk(error)),
        };
        files.retain(|file| file.extension().is_some_and(|ending| ending == "json"));
        files.sort();
        let whose = files.into_iter().map(|file| {
            let person = kept(&file).map(|kept| kept.and_then(|kept| kept.person));
            (file, person)
        });
        Ok(whose.collect())
    }

    /// Forgets what was learnt from this person; whether there was something.
    ///
    /// # Errors
    /// [`LearntError::Disk`].
    pub fn forget(&self, person: Option<&str>) -> Result<bool, LearntError> {
        let path = self.file_of(person);
        match fs::remove_file(&path) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(source) => Err(LearntError::Disk { path, source }),
        }
    }
}

/// What a file holds; nothing when it is not there.
fn kept(path: &Path) -> Result<Option<Kept>, LearntError> {
    let disk = |source| LearntError::Disk { path: path.to_owned(), source };
    let wrong = |why: String| LearntError::Wrong { path: path.to_owned(), why };
    let text = match given::text(path, MOST_BYTES) {
        Ok(text) => text,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(disk(error)),
    };
    let kept: Kept = serde_json::from_str(&text).map_err(|error| wrong(error.to_string()))?;
    if kept.format != FORMAT || !kept.learnt.is_whole() {
        return Err(wrong(format!("format {}", kept.format)));
    }
    Ok(Some(kept))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::personal::Features;

    fn learnt() -> Learnt {
        let sound = |hz: f32| -> Vec<i16> {
            (0..4_000).map(|i| (8_000.0 * (i as f32 * hz / 2_546.0).sin()) as i16).collect()
        };
        let mut learnt = Learnt::default();
        learnt.learn(
            "yes".to_owned(),
            [500.0, 520.0].map(|hz| Features::of(&sound(hz), &[])).to_vec(),
        );
        learnt
    }

    #[test]
    fn what_is_kept_comes_back_and_only_its_owner_may_read_it() {
        let place = tempfile::tempdir().unwrap();
        let store = LearntStore::in_folder(place.path().join("deep/learnt"));
        assert_eq!(store.load(None).unwrap(), None);
        let file = store.save(Some("Ada"), &learnt()).unwrap();
        assert_eq!(store.load(Some(" ada ")).unwrap(), Some(learnt()));
        assert_eq!(store.load(None).unwrap(), None);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
            assert_eq!((mode(&file), mode(file.parent().unwrap())), (0o600, 0o700));
        }
        assert!(store.forget(Some("Ada")).unwrap());
        assert!(!store.forget(Some("Ada")).unwrap());
        assert_eq!(store.load(Some("Ada")).unwrap(), None);
    }

    #[test]
    fn a_corrupted_file_is_reported_and_not_used() {
        let place = tempfile::tempdir().unwrap();
        let store = LearntStore::in_folder(place.path());
        let file = store.save(None, &learnt()).unwrap();
        let whole = fs::read_to_string(&file).unwrap();
        for corrupted in [
            &whole[..whole.len() / 2],
            &whole.replacen("\"format\":1", "\"format\":9", 1),
            &whole.replacen("[[", "[[1,", 1),
            "",
            "null",
        ] {
            fs::write(&file, corrupted).unwrap();
            let error = store.load(None).unwrap_err().to_string();
            assert!(error.contains("teach them again"), "{error}");
        }
    }
}
