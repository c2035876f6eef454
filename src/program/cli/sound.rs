//! Microphone and ear of the verbs that hear or play: flags, then environment, then settings.

use clap::Args;

use super::places;
use crate::audio::choice::DeviceChoice;
use crate::config::{EarKind, Settings};
use crate::interpret::switch::SwitchSettings;
use crate::run::{Answering, Desk, Switching, Tuning, Typing};
use crate::speak::VoiceSettings;

/// Which devices.
#[derive(Debug, Clone, Args)]
pub(super) struct SoundArgs {
    /// Microphone: part of its name, as `hushtally devices` lists it
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_MIC")]
    mic: Option<String>,
    /// Where nudges and the recap are played: part of its name
    #[arg(long, value_name = "NAME", env = "HUSHTALLY_EAR")]
    ear: Option<String>,
    /// Play nudges even where the animal hears them too
    #[arg(long)]
    loudspeaker: bool,
    /// With one switch: seconds in which each choice can be taken after it was read [default: 2]
    #[arg(long, value_name = "SECONDS", value_parser = pace_ms, env = "HUSHTALLY_SCAN")]
    scan: Option<u16>,
}

/// Seconds, kept as milliseconds.
fn pace_ms(text: &str) -> Result<u16, String> {
    let seconds: f64 = text.parse().map_err(|_| "seconds are a number, such as 2.5".to_owned())?;
    if !(0.3..=60.0).contains(&seconds) {
        return Err("between 0.3 and 60 seconds".to_owned());
    }
    Ok((seconds * 1000.0).round() as u16)
}

impl SoundArgs {
    /// The same, with the devices that the settings name in place of those named when the program began.
    pub(super) fn by_settings(&self) -> Self {
        SoundArgs { mic: None, ear: None, ..self.clone() }
    }

    pub(super) fn microphone(&self, settings: &Settings) -> DeviceChoice {
        DeviceChoice::from_setting(self.mic.as_deref().or(settings.mic.as_deref()))
    }

    pub(super) fn ear(&self, settings: &Settings) -> DeviceChoice {
        DeviceChoice::from_setting(self.ear.as_deref().or(settings.ear.as_deref()))
    }

    /// How a switch is read.
    fn switch(&self, settings: &Settings) -> SwitchSettings {
        let usual = settings.switch.unwrap_or_default();
        SwitchSettings { scan_ms: self.scan.unwrap_or(usual.scan_ms), ..usual }
    }

    /// The settings' tuning, with the flags.
    pub(super) fn tuning(&self, settings: &Settings) -> Tuning {
        let usual = tuning(settings);
        Tuning { loudspeaker: self.loudspeaker || usual.loudspeaker, ..usual }
    }

    /// Gives the desk its sounds; what does not work is shown on the screen.
    pub(super) fn start(&self, settings: &Settings, desk: &mut Desk) {
        desk.talk_through(self.ear(settings), self.tuning(settings));
    }

    /// How whoever is spoken with answers, beside what is typed.
    pub(super) fn answering(&self, settings: &Settings, typed: Typing) -> Answering {
        let keep_pace = Box::new(|pace| {
            let file = places::settings_file().map_err(|failure| failure.error)?;
            // Read again: somebody may have changed something else meanwhile.
            Ok(Settings::load(&file)?.with_scan_pace(pace).save(&file)?)
        });
        let switch = Switching { settings: self.switch(settings), keep_pace };
        Answering { microphone: self.microphone(settings), typed, switch }
    }
}

/// How sounds are tuned by the settings.
pub(super) fn tuning(settings: &Settings) -> Tuning {
    let usual = VoiceSettings::default();
    Tuning {
        voice: VoiceSettings {
            voice: settings.voice.clone(),
            words_a_minute: settings.words_a_minute.unwrap_or(usual.words_a_minute),
            level_dbfs: settings.voice_dbfs.unwrap_or(usual.level_dbfs),
            program: settings.voice_command.clone(),
        },
        nudge_db: settings.nudge_db.unwrap_or(0.0),
        noise_dbfs: settings.noise_dbfs,
        is_loudspeaker: settings.ear_kind == Some(EarKind::Loudspeaker),
        loudspeaker: settings.loudspeaker == Some(true),
    }
}
