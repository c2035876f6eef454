//! The speech model: where it is, whether it is whole, which words it knows.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::check::near_by_letters;
use super::{Frequent, UnknownWord};

/// Settings of the decoder in place of the model's own. The wider lattice keeps the readings that the
/// verdict compares; ends are found by our gate alone.
const OURS: [(&str, &str); 4] = [
    ("--lattice-beam", "8.0"),
    ("--endpoint.rule2.min-trailing-silence", "9.0"),
    ("--endpoint.rule3.min-trailing-silence", "9.0"),
    ("--endpoint.rule4.min-trailing-silence", "9.0"),
];

/// Why there is no usable model.
#[derive(Debug, thiserror::Error)]
pub enum ModelError {
    /// No folder there.
    #[error(
        "there is no speech model in {}; run models/fetch once, or name another with --model",
        .0.display()
    )]
    Missing(PathBuf),
    /// Something else is there, or part of a model.
    #[error(
        "{} is not a whole speech model ({what} is missing); run models/fetch again, or name another with --model",
        .folder.display()
    )]
    Broken {
        /// The folder.
        folder: PathBuf,
        /// The file it lacks.
        what: &'static str,
    },
}

/// A loaded speech model.
pub struct SpeechModel {
    model: vosk::Model,
}

impl SpeechModel {
    /// Loads the model in `folder`.
    ///
    /// # Errors
    /// [`ModelError`] when it is not there or not whole.
    pub fn load(folder: &Path) -> Result<Self, ModelError> {
        if !folder.is_dir() {
            return Err(ModelError::Missing(folder.to_owned()));
        }
        // The library ends the whole program over a missing file, so look first.
        for what in ["am/final.mdl", "conf/mfcc.conf", "conf/model.conf"] {
            if !folder.join(what).is_file() {
                return Err(ModelError::Broken { folder: folder.to_owned(), what });
            }
        }
        vosk::set_log_level(vosk::LogLevel::Error);
        // The model itself is the user's: it is read through links beside settings of our own. The
        // library reads all of it now, so the links go away again at once.
        let seen = with_our_settings(folder);
        if let Err(error) = &seen {
            tracing::warn!("hearing works with the model's own settings, less well: {error}");
        }
        let path = seen.as_ref().map_or(folder, |seen| seen.path());
        let model = vosk::Model::new(path.to_string_lossy()).ok_or_else(|| ModelError::Broken {
            folder: folder.to_owned(),
            what: "a usable graph",
        })?;
        Ok(SpeechModel { model })
    }

    /// Words of `vocabulary` that the model does not know, with near ones that it does.
    pub fn unknown(&mut self, vocabulary: &[&str]) -> Vec<UnknownWord> {
        let unknown: Vec<&str> =
            vocabulary.iter().copied().filter(|word| !self.knows(word)).collect();
        // The list of words is only read when there is something to propose.
        let frequent = (!unknown.is_empty()).then(Frequent::english);
        let Some(frequent) = frequent else { return Vec::new() };
        unknown
            .into_iter()
            .map(|word| UnknownWord {
                word: word.to_owned(),
                near: near_by_letters(word, &frequent, &mut |near| self.knows(near)),
            })
            .collect()
    }

    /// Whether the model knows this word.
    pub fn knows(&mut self, word: &str) -> bool {
        self.model.find_word(word).is_some()
    }

    /// Those of `words` that the model knows.
    pub(super) fn known(&mut self, words: &[&str]) -> Vec<String> {
        words
            .iter()
            .filter(|word| self.model.find_word(word).is_some())
            .map(|word| (*word).to_owned())
            .collect()
    }

    pub(super) fn inner(&self) -> &vosk::Model {
        &self.model
    }
}

/// A passing folder with links to all of `folder` but its settings, which are ours.
fn with_our_settings(folder: &Path) -> io::Result<tempfile::TempDir> {
    let folder = folder.canonicalize()?;
    let seen = tempfile::Builder::new().prefix("hushtally-model-").tempdir()?;
    for entry in fs::read_dir(&folder)? {
        let entry = entry?;
        if entry.file_name() != "conf" {
            std::os::unix::fs::symlink(entry.path(), seen.path().join(entry.file_name()))?;
        }
    }
    let conf = seen.path().join("conf");
    fs::create_dir(&conf)?;
    for entry in fs::read_dir(folder.join("conf"))? {
        let entry = entry?;
        let text = fs::read_to_string(entry.path())?;
        let text = if entry.file_name() == "model.conf" { ours(&text) } else { text };
        fs::write(conf.join(entry.file_name()), text)?;
    }
    Ok(seen)
}

/// The settings of a model with ours in place of, or after, its own.
fn ours(text: &str) -> String {
    let is_ours = |line: &&str| {
        let name = line.split('=').next().unwrap_or_default().trim();
        OURS.iter().any(|(ours, _)| *ours == name)
    };
    let kept = text.lines().filter(|line| !is_ours(line)).map(str::to_owned);
    let added = OURS.iter().map(|(name, value)| format!("{name}={value}"));
    kept.chain(added).map(|line| line + "\n").collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn our_settings_take_the_place_of_the_models() {
        let text = ours("--beam=10.0\n--lattice-beam=2.0\n");
        assert!(text.starts_with("--beam=10.0\n--lattice-beam=8.0\n"), "{text}");
        assert!(!text.contains("2.0\n"));
    }

    #[test]
    fn the_folder_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir_all(folder.path().join("conf")).unwrap();
        fs::create_dir_all(folder.path().join("am")).unwrap();
        fs::write(folder.path().join("conf/model.conf"), "--lattice-beam=2.0\n").unwrap();
        fs::write(folder.path().join("am/final.mdl"), "x").unwrap();
        let seen = with_our_settings(folder.path()).unwrap();
        assert_eq!(fs::read_to_string(seen.path().join("am/final.mdl")).unwrap(), "x");
        assert!(fs::read_to_string(seen.path().join("conf/model.conf")).unwrap().contains("8.0"));
        let kept = fs::read_to_string(folder.path().join("conf/model.conf")).unwrap();
        assert_eq!(kept, "--lattice-beam=2.0\n");
    }
}
