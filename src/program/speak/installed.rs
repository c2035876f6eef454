//! The voices that are installed, and which of them reads.

use super::engine::{Engine, EspeakNg, Spoken};
use super::flite::{self, Flite};
use super::settings::{VoiceError, VoiceSettings};

/// Voices of flite that read unless the settings name another, the one that was understood best first
/// (tests/bench.d/RESULTS.md has the figures). Whatever flite lacks, espeak-ng reads.
const PREFERRED: [&str; 3] = ["rms", "slt", "kal16"];
const ESPEAK_NG: &str = "espeak-ng";
/// The voice of espeak-ng, unless another is named.
const ESPEAK_VOICE: &str = "en-us";

/// Who is to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Reader<'a> {
    /// The best there is.
    Best,
    /// A voice of flite.
    Flite(&'a str),
    /// A voice of espeak-ng.
    EspeakNg(&'a str),
}

impl<'a> Reader<'a> {
    /// As the settings name one: `flite:slt`, `espeak-ng:en-us+f3`, or only espeak-ng's name of a voice.
    fn named(voice: Option<&'a str>) -> Self {
        match voice.map(|voice| (voice, voice.split_once(':'))) {
            None => Reader::Best,
            Some((_, Some((flite::PROGRAM, name)))) => Reader::Flite(name),
            Some((_, Some((ESPEAK_NG, name)))) => Reader::EspeakNg(name),
            Some((name, _)) => Reader::EspeakNg(name),
        }
    }
}

/// flite and espeak-ng, as far as they are here.
pub(crate) struct Installed {
    flite: Option<Flite>,
    espeak: Option<EspeakNg>,
}

impl Installed {
    /// Looks for both.
    ///
    /// # Errors
    /// [`VoiceError::Missing`] if there is neither.
    pub(crate) fn find() -> Result<Self, VoiceError> {
        let (flite, espeak) = (Flite::find(), EspeakNg::find(ESPEAK_NG));
        match (flite, espeak) {
            (Err(error), Err(_)) => Err(error),
            (flite, espeak) => Ok(Installed { flite: flite.ok(), espeak: espeak.ok() }),
        }
    }

    /// The voices to choose from, as the settings name them: `first`, if there is one, or else the best; then the
    /// others.
    fn names(&self, first: Option<&str>) -> Vec<String> {
        let has =
            |voice: &&str| self.flite.as_ref().is_some_and(|f| f.first_of(&[voice]).is_some());
        let flite = PREFERRED.iter().filter(|voice| has(voice));
        let mut names: Vec<String> =
            flite.map(|voice| format!("{}:{voice}", flite::PROGRAM)).collect();
        names.extend(self.espeak.iter().map(|_| format!("{ESPEAK_NG}:{ESPEAK_VOICE}")));
        if let Some(first) = first {
            names.retain(|name| name != first);
            names.insert(0, first.to_owned());
        }
        names
    }

    fn by_flite(&self, voice: &str, text: &str, speed: u16) -> Result<Option<Spoken>, VoiceError> {
        let missing = || VoiceError::Missing { program: flite::PROGRAM.to_owned() };
        self.flite.as_ref().ok_or_else(missing)?.speak_as(voice, text, speed)
    }

    fn by_espeak(
        &self,
        voice: &str,
        text: &str,
        settings: &VoiceSettings,
    ) -> Result<Option<Spoken>, VoiceError> {
        let missing = || VoiceError::Missing { program: ESPEAK_NG.to_owned() };
        let settings = VoiceSettings { voice: Some(voice.to_owned()), ..settings.clone() };
        self.espeak.as_ref().ok_or_else(missing)?.speak(text, &settings)
    }

    /// By flite, if it has a good voice and the text only letters that it knows; else by espeak-ng.
    fn by_the_best(
        &self,
        text: &str,
        settings: &VoiceSettings,
    ) -> Result<Option<Spoken>, VoiceError> {
        let voice = self.flite.as_ref().and_then(|flite| flite.first_of(&PREFERRED));
        let espeak = || self.by_espeak(ESPEAK_VOICE, text, settings);
        match voice {
            // It passes over letters with accents, and over other scripts.
            Some(_) if self.espeak.is_some() && !text.is_ascii() => espeak(),
            Some(voice) => match self.by_flite(voice, text, settings.words_a_minute) {
                Err(error) if self.espeak.is_some() => {
                    tracing::warn!("espeak-ng reads this: {error}");
                    espeak()
                }
                spoken => spoken,
            },
            None => espeak(),
        }
    }
}

/// The voices that are installed, as the settings name them: that of the settings, or the best, before the others.
/// None when nothing is, or when a program of the user's own speaks in their place.
pub fn voices(settings: &VoiceSettings) -> Vec<String> {
    match (&settings.program, Installed::find()) {
        (None, Ok(installed)) => installed.names(settings.voice.as_deref()),
        _ => Vec::new(),
    }
}

impl Engine for Installed {
    fn speak(&self, text: &str, settings: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
        match Reader::named(settings.voice.as_deref()) {
            Reader::Best => self.by_the_best(text, settings),
            Reader::Flite(voice) => self.by_flite(voice, text, settings.words_a_minute),
            Reader::EspeakNg(voice) => self.by_espeak(voice, text, settings),
        }
    }

    fn stop(&self) {
        self.flite.iter().for_each(Engine::stop);
        self.espeak.iter().for_each(Engine::stop);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_voice_is_named_with_its_program_or_is_espeak_ngs() {
        for (name, reader) in [
            (None, Reader::Best),
            (Some("flite:slt"), Reader::Flite("slt")),
            (Some("espeak-ng:en-us+f3"), Reader::EspeakNg("en-us+f3")),
            (Some("en-gb"), Reader::EspeakNg("en-gb")),
        ] {
            assert_eq!(Reader::named(name), reader);
        }
    }

    #[test]
    fn without_flite_espeak_ng_reads_and_without_both_it_is_told_how_to_get_one() {
        let settings = VoiceSettings::default();
        let none = Installed { flite: None, espeak: None };
        let error = none.speak("One.", &settings).err().unwrap().to_string();
        assert!(error.contains("sudo apt install"), "{error}");
        let asked = VoiceSettings { voice: Some("flite:rms".to_owned()), ..settings.clone() };
        let error = none.speak("One.", &asked).err().unwrap().to_string();
        assert!(error.contains("sudo apt install flite"), "{error}");
        let Ok(espeak) = EspeakNg::find(ESPEAK_NG) else {
            println!("skipped: espeak-ng is not installed");
            return;
        };
        let only = Installed { flite: None, espeak: Some(espeak) };
        assert!(only.speak("One.", &settings).unwrap().is_some());
    }

    #[test]
    fn there_are_voices_to_choose_from_and_the_one_of_the_settings_is_the_first() {
        let Ok(installed) = Installed::find() else {
            println!("skipped: flite or espeak-ng is not installed");
            return;
        };
        let all = installed.names(None);
        assert!(!all.is_empty() && all.iter().all(|name| name.contains(':')), "{all:?}");
        let chosen = installed.names(all.last().map(String::as_str));
        assert_eq!((chosen.len(), chosen.first()), (all.len(), all.last()));
        let other = installed.names(Some("espeak-ng:en-gb"));
        assert_eq!((other.len(), other[0].as_str()), (all.len() + 1, "espeak-ng:en-gb"));
        let own = VoiceSettings { program: Some("mine".into()), ..VoiceSettings::default() };
        assert!(voices(&own).is_empty());
    }

    #[test]
    fn letters_that_flite_does_not_know_are_read_by_espeak_ng_where_both_are_installed() {
        let Ok(Installed { flite: Some(flite), espeak: Some(espeak) }) = Installed::find() else {
            println!("skipped: flite or espeak-ng is not installed");
            return;
        };
        let both = Installed { flite: Some(flite), espeak: Some(espeak) };
        let rate = |text| both.speak(text, &VoiceSettings::default()).unwrap().unwrap().rate.get();
        // flite's good voices have 16 kHz, espeak-ng 22.05.
        assert_eq!((rate("Pepe, one rep."), rate("Pep\u{e9}, one rep.")), (16_000, 22_050));
    }
}
