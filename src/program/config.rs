//! Settings that last: defaults, then the file, then the environment, then flags. The file is TOML in the
//! platform's place; `hushtally soundcheck` writes it.

use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::given;
use crate::interpret::switch::SwitchSettings;
use crate::new_file::{self, Existing};
use crate::private::create_folder;
use crate::soundcheck::Report;
use crate::speak::VoiceSettings;

pub use crate::soundcheck::EarKind;

/// Bytes of the largest file of settings.
const LARGEST: u64 = 1 << 20;

/// Settings as they stand in the file; what is not there has its default.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// Microphone: part of its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mic: Option<String>,
    /// Output: part of its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ear: Option<String>,
    /// What that output is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ear_kind: Option<EarKind>,
    /// Whether nudges may be played on a loudspeaker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loudspeaker: Option<bool>,
    /// Folder of plans.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plans: Option<PathBuf>,
    /// Program that is run at each nudge, with the nudge's name as its argument (vibration, a light).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on_nudge: Option<String>,
    /// Program that reads aloud in place of flite or espeak-ng: a sentence on its standard input, a sound file on its
    /// standard output.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voice_command: Option<String>,
    /// Device file of a MIDI pedal, pad or keyboard that is the switch.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub midi_pedal: Option<PathBuf>,
    /// Who reads: `flite:` and a voice of flite, or espeak-ng's name of a voice. Without it, the best that is installed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voice: Option<String>,
    /// Its speed in words a minute.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub words_a_minute: Option<u16>,
    /// Its loudness in dB below full scale.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voice_dbfs: Option<f32>,
    /// By how many dB nudges are louder than they are defined.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nudge_db: Option<f32>,
    /// Whether each nudge is followed by its meaning in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nudge_words: Option<bool>,
    /// The room's noise at the sound check, in dBFS of the microphone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub noise_dbfs: Option<f32>,
    /// One switch: what short, long and double presses do. A table, so the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub switch: Option<SwitchSettings>,
}

/// The settings cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file is not what is expected.
    #[error("the settings in {} cannot be read: {error}", path.display())]
    Wrong {
        /// The file.
        path: PathBuf,
        /// Where and why.
        error: toml::de::Error,
    },
    /// The disk says no.
    #[error("the settings in {} cannot be used: {error}", path.display())]
    Disk {
        /// The file.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// They cannot be written as TOML.
    #[error("the settings cannot be written: {0}")]
    Unwritable(#[from] toml::ser::Error),
}

impl Settings {
    /// Those in the file; the defaults when there is none.
    ///
    /// # Errors
    /// The file is there and cannot be read.
    pub fn load(path: &Path) -> Result<Self, ConfigError> {
        match given::text(path, LARGEST) {
            Ok(text) => toml::from_str(&text)
                .map_err(|error| ConfigError::Wrong { path: path.to_owned(), error }),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Settings::default()),
            Err(error) => Err(ConfigError::Disk { path: path.to_owned(), error }),
        }
    }

    /// The settings with what a sound check found and the trainer confirmed; everything else as it was.
    #[must_use]
    pub fn with_checked(&self, report: &Report, voice: &VoiceSettings, nudge_db: f32) -> Self {
        let mut settings = self.clone();
        if report.mic.is_some() && report.mic != settings.mic {
            // What the room was through another microphone says nothing about this one.
            settings.noise_dbfs = None;
        }
        settings.mic = report.mic.clone().or(settings.mic);
        settings.noise_dbfs = report.noise_dbfs.or(settings.noise_dbfs);
        if let Some(ear) = &report.ear {
            // What the output before was says nothing about this one.
            settings.ear_kind = report.ear_kind;
            settings.ear = Some(ear.clone());
        }
        if report.voice_confirmed {
            settings.words_a_minute = Some(voice.words_a_minute);
            // How loud is right is found by ear, and only on an output that was heard.
            if report.ear.is_some() {
                settings.voice_dbfs = Some(voice.level_dbfs);
                settings.nudge_db = Some(nudge_db);
            }
            settings.voice = report.voice.clone().or(settings.voice);
        }
        settings
    }

    /// The settings with another pace at which choices are read to one switch; everything else as it was.
    #[must_use]
    pub fn with_scan_pace(&self, pace: Duration) -> Self {
        let scan_ms = u16::try_from(pace.as_millis()).unwrap_or(u16::MAX);
        let switch = SwitchSettings { scan_ms, ..self.switch.unwrap_or_default() };
        Settings { switch: Some(switch), ..self.clone() }
    }

    /// Writes them, whole or not at all.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn save(&self, path: &Path) -> Result<(), ConfigError> {
        let text = toml::to_string_pretty(self)?;
        let disk = |error| ConfigError::Disk { path: path.to_owned(), error };
        if let Some(folder) = path.parent() {
            create_folder(folder).map_err(disk)?;
        }
        new_file::write(path, text.as_bytes(), Existing::Replaced, None)
            .map_err(|error| disk(error.into()))
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn what_is_saved_is_loaded_and_no_file_means_defaults() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep/config.toml");
        assert_eq!(Settings::load(&path).unwrap(), Settings::default());
        let settings = Settings {
            mic: Some("headset".into()),
            ear_kind: Some(EarKind::Earphone),
            nudge_db: Some(4.0),
            switch: Some(SwitchSettings { long_ms: 800, ..SwitchSettings::default() }),
            ..Settings::default()
        };
        settings.save(&path).unwrap();
        assert_eq!(Settings::load(&path).unwrap(), settings);
    }

    #[test]
    fn what_was_confirmed_is_kept_and_everything_else_stays() {
        let report = Report {
            mic: Some("desk".into()),
            ear: Some("bud".into()),
            ear_kind: Some(EarKind::Earphone),
            noise_dbfs: Some(-60.0),
            voice_confirmed: true,
            voice: Some("other".into()),
            ..Report::default()
        };
        let voice = VoiceSettings { words_a_minute: 133, ..VoiceSettings::default() };
        let before = Settings { on_nudge: Some("lamp".into()), ..Settings::default() };
        let expected = Settings {
            mic: Some("desk".into()),
            ear: Some("bud".into()),
            ear_kind: Some(EarKind::Earphone),
            on_nudge: Some("lamp".into()),
            words_a_minute: Some(133),
            voice_dbfs: Some(voice.level_dbfs),
            nudge_db: Some(4.0),
            voice: Some("other".into()),
            noise_dbfs: Some(-60.0),
            ..Settings::default()
        };
        assert_eq!(before.with_checked(&report, &voice, 4.0), expected);
        let unheard = Report { ear: None, ear_kind: None, noise_dbfs: None, ..report };
        let before = Settings { noise_dbfs: Some(-40.0), ..Settings::default() };
        let kept = before.with_checked(&unheard, &voice, 4.0);
        let levels = (kept.voice_dbfs, kept.nudge_db, kept.noise_dbfs);
        assert_eq!(levels, (None, None, None), "no level that was not measured");
        let old = Settings { ear: Some("old".into()), ..Settings::default() };
        assert_eq!(old.with_checked(&Report::default(), &voice, 0.0), old);
    }

    #[test]
    fn a_pace_that_was_changed_is_there_the_next_time_and_nothing_else_is_changed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("config.toml");
        fs::write(&path, "mic = \"headset\"\n[switch]\ndouble = \"none\"\nlong_ms = 900\n")
            .unwrap();
        let before = Settings::load(&path).unwrap();
        before.with_scan_pace(Duration::from_millis(2600)).save(&path).unwrap();
        let after = Settings::load(&path).unwrap();
        assert_eq!(after.switch.unwrap().pace(), Duration::from_millis(2600));
        let usual = before.switch.unwrap().scan_ms;
        let put_back = after.with_scan_pace(Duration::from_millis(usual.into()));
        assert_eq!(put_back, before);
    }

    #[test]
    fn a_misspelt_setting_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("config.toml");
        fs::write(&path, "mic = \"a\"\nmikrophone = \"b\"\n").unwrap();
        let error = Settings::load(&path).unwrap_err().to_string();
        assert!(error.contains("line 2") && error.contains("mikrophone"), "{error}");
    }
}
