//! A voice of the user's own in place of those that are installed.

use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};

use super::engine::{Engine, Running, Spoken};
use super::settings::{VoiceError, VoiceSettings};

/// A program that is given a sentence on its standard input and writes a sound file to its standard output; the
/// name of the voice and the words a minute stand in its environment. No shell is involved. When it fails once, the
/// other engine reads from then on: a trainer is not to wait for each sentence to fail.
///
/// Programs that play what they read by themselves do not fit: what they play could neither be stopped at once, nor
/// be brought to a level, nor be told from a tag.
pub(crate) struct OwnProgram<E> {
    program: String,
    running: Running,
    instead: Option<E>,
    failed: AtomicBool,
}

impl<E: Engine> OwnProgram<E> {
    /// The program, a path or a name on the search path, and what reads when it fails.
    pub(crate) fn new(program: String, instead: Option<E>) -> Self {
        OwnProgram { program, running: Running::default(), instead, failed: AtomicBool::new(false) }
    }
}

impl<E: Engine> Engine for OwnProgram<E> {
    fn speak(&self, text: &str, settings: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
        if let (true, Some(instead)) = (self.failed.load(Ordering::Acquire), &self.instead) {
            return instead.speak(text, settings);
        }
        let mut command = Command::new(&self.program);
        command
            .env("HUSHTALLY_VOICE", settings.voice.as_deref().unwrap_or_default())
            .env("HUSHTALLY_WORDS_A_MINUTE", settings.words_a_minute.to_string());
        let spoken = self.running.run(command, &self.program, text);
        match (spoken, &self.instead) {
            (Err(error), Some(instead)) => {
                tracing::warn!("an installed voice reads from now on: {error}");
                self.failed.store(true, Ordering::Release);
                instead.speak(text, settings)
            }
            (spoken, _) => spoken,
        }
    }

    fn stop(&self) {
        self.running.stop();
        if let Some(instead) = &self.instead {
            instead.stop();
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::num::NonZeroU32;
    use std::os::unix::fs::PermissionsExt;
    use std::path::Path;
    use std::sync::Mutex;

    use super::*;

    /// Says nothing, and remembers what it was asked for.
    #[derive(Default)]
    struct Other(Mutex<Vec<String>>);

    impl Engine for Other {
        fn speak(&self, text: &str, _: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
            self.0.lock().unwrap().push(text.to_owned());
            Ok(Some(Spoken { samples: vec![0.0], rate: NonZeroU32::new(16_000).unwrap() }))
        }
        fn stop(&self) {}
    }

    fn script(folder: &Path, text: &str) -> String {
        let (path, written) = (folder.join("voice.sh"), folder.join("written"));
        fs::write(&written, format!("#!/bin/sh\n{text}\n")).unwrap();
        // Copied by a child, since a program that any process of ours still has open for writing cannot be run.
        assert!(Command::new("cp").args([&written, &path]).status().unwrap().success());
        fs::set_permissions(&path, fs::Permissions::from_mode(0o700)).unwrap();
        path.to_string_lossy().into_owned()
    }

    /// A tenth of a second of sound as a WAV file.
    fn sound(path: &Path) {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 16_000,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(path, spec).unwrap();
        (0..1_600).for_each(|i| writer.write_sample((i % 100) as i16 * 50).unwrap());
        writer.finalize().unwrap();
    }

    #[test]
    fn it_gets_the_sentence_and_the_speed_and_its_sound_comes_back() {
        let folder = tempfile::tempdir().unwrap();
        let (wav, log) = (folder.path().join("a.wav"), folder.path().join("log"));
        sound(&wav);
        let text = format!(
            "{{ cat; echo \" $HUSHTALLY_WORDS_A_MINUTE $HUSHTALLY_VOICE\"; }} > '{}'\ncat '{}'",
            log.display(),
            wav.display()
        );
        let own = OwnProgram::new(script(folder.path(), &text), Some(Other::default()));
        let settings =
            VoiceSettings { voice: Some("en-gb".to_owned()), ..VoiceSettings::default() };
        let spoken = own.speak("Begun.", &settings).unwrap().unwrap();
        assert_eq!((spoken.samples.len(), spoken.rate.get()), (1_600, 16_000));
        assert_eq!(fs::read_to_string(log).unwrap(), "Begun. 150 en-gb\n");
        assert!(own.instead.unwrap().0.lock().unwrap().is_empty());
    }

    #[test]
    fn when_it_fails_the_other_reads_that_sentence_and_all_later_ones() {
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("log");
        let text = format!("echo called >> '{}'; exit 3", log.display());
        for program in [script(folder.path(), &text), "no-such-program-anywhere".to_owned()] {
            let own = OwnProgram::new(program, Some(Other::default()));
            for sentence in ["One.", "Two."] {
                assert!(own.speak(sentence, &VoiceSettings::default()).unwrap().is_some());
            }
            assert_eq!(*own.instead.unwrap().0.lock().unwrap(), ["One.", "Two."]);
        }
        assert_eq!(fs::read_to_string(log).unwrap(), "called\n", "once is enough");
    }

    #[test]
    fn without_another_its_failure_is_told() {
        let own = OwnProgram::<Other>::new("no-such-program-anywhere".to_owned(), None);
        let error = own.speak("One.", &VoiceSettings::default()).err().unwrap();
        assert!(error.to_string().contains("no-such-program-anywhere"), "{error}");
    }
}
