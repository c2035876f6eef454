//! The speech model: where it is, whether it is whole, which words it knows.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::check::near_by_letters;
use super::process::Process;
use super::whole;
use super::{Frequent, UnknownWord};
use crate::given;
use crate::private::PassingFolder;

/// The published small English model; and the same, taught noise (`models/teach`).
const PUBLISHED: &str = "en-us-small";
const TAUGHT: &str = "en-us-taught";
/// Bytes of the largest file of settings of a model.
const LARGEST_SETTINGS: u64 = 1 << 20;

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
        what: String,
    },
    /// It is one of those whose every file is known, and one of its files is another.
    #[error(
        "the speech model in {} is damaged: {file} is not what it was made with; run models/fetch again, or name another with --model{own}",
        .folder.display(),
        own = if *.by_name { "" } else { ". If you changed it yourself, take the file uuid out of it: then it counts as a model of your own" }
    )]
    Damaged {
        /// The folder.
        folder: PathBuf,
        /// The file.
        file: String,
        /// Whether it is known by its folder's name, or else by its file `uuid`.
        by_name: bool,
    },
    /// A file in it cannot be read.
    #[error("the speech model's file {} cannot be read: {source}", .file.display())]
    Unreadable {
        /// The file.
        file: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// The recogniser ended over it.
    #[error(
        "the speech model in {} cannot be used, the recogniser ended over it{}; run models/fetch again, or name another with --model",
        .folder.display(),
        if said.is_empty() { String::new() } else { format!(" ({said})") }
    )]
    Crashed {
        /// The folder.
        folder: PathBuf,
        /// The recogniser's last words.
        said: String,
    },
    /// The foreign library is not there.
    #[error(
        "the hearing library cannot be loaded ({0}); run models/fetch once, or install Hushtally again"
    )]
    NoLibrary(String),
    /// The recogniser's program is not there.
    #[error("hearing cannot start ({0}); install Hushtally again, with everything in its package")]
    NoProgram(String),
}

/// Whose scores readings have, which decides the bounds that fit them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scores {
    /// Those of the published model, or of any other.
    Published,
    /// Those of the one that was taught noise.
    Taught,
    /// Those of the published one, in noise together with those of the taught one.
    Both,
}

/// A loaded speech model. The published small English one is loaded together with what it became when it was taught
/// noise, where that lies beside it: in quiet the one hears best, in noise both together.
pub struct SpeechModel {
    process: Process,
    /// The taught one, for what is heard in noise.
    in_noise: Option<Process>,
    taught: bool,
}

impl SpeechModel {
    /// Loads the model in `folder`. `seen` is a file of ours where it is remembered which models were found whole.
    ///
    /// # Errors
    /// [`ModelError`] when it is not there, not whole, or cannot be used.
    pub fn load(folder: &Path, seen: &Path) -> Result<Self, ModelError> {
        let known = whole::check(folder, seen)?;
        let beside = (known == Some(PUBLISHED)).then(|| folder.with_file_name(TAUGHT));
        let beside = beside.filter(|beside| beside.is_dir());
        // Loading takes a while: both at the same time.
        let (process, in_noise) = std::thread::scope(|scope| {
            let in_noise = beside.map(|beside| {
                scope.spawn(move || {
                    whole::check(&beside, seen).and_then(|_| Process::start(&beside))
                })
            });
            (Process::start(folder), in_noise.and_then(|thread| thread.join().ok()))
        });
        let process = process?;
        let in_noise = in_noise.and_then(|started| {
            let less = |error: &ModelError| tracing::warn!("in noise less is heard: {error}");
            started.inspect_err(less).ok()
        });
        Ok(SpeechModel { process, in_noise, taught: known == Some(TAUGHT) })
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
        self.process.known(&[word]) == [true]
    }

    /// Those of `words` that the model knows.
    pub(super) fn known(&mut self, words: &[&str]) -> Vec<String> {
        let known = self.process.known(words);
        let pairs = words.iter().zip(known);
        pairs.filter(|(_, known)| *known).map(|(word, _)| (*word).to_owned()).collect()
    }

    pub(super) fn scores(&self) -> Scores {
        match self.in_noise {
            Some(_) => Scores::Both,
            None if self.taught => Scores::Taught,
            None => Scores::Published,
        }
    }

    pub(super) fn process(&self) -> &Process {
        &self.process
    }

    /// The process of the one that was taught noise, beside the published one.
    pub(super) fn process_in_noise(&self) -> Option<&Process> {
        self.in_noise.as_ref()
    }

    /// Processor time that its recognisers have used.
    pub(super) fn worked(&self) -> Duration {
        self.process.worked() + self.in_noise.as_ref().map_or(Duration::ZERO, Process::worked)
    }
}

/// A passing folder with links to all of `folder` but its settings, which are ours.
pub(super) fn with_our_settings(folder: &Path) -> io::Result<PassingFolder> {
    let folder = folder.canonicalize()?;
    let seen = PassingFolder::new("model")?;
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
        let text = given::text(&entry.path(), LARGEST_SETTINGS)?;
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
