//! The voices of flite.

use std::process::{Command, Stdio};

use super::engine::{Engine, Running, Spoken};
use super::settings::{VoiceError, VoiceSettings};

pub(super) const PROGRAM: &str = "flite";

/// Words a minute that a voice of flite says when its durations are left as they are, on the scale of espeak-ng:
/// sentences of recaps take as long as espeak-ng takes for them at this setting. RMS, measured.
const NATURAL: f32 = 150.0;

/// `flite`, with the voices that it has.
pub(crate) struct Flite {
    voices: Vec<String>,
    running: Running,
}

impl Flite {
    /// Makes sure that the program is there, and asks for its voices.
    pub(crate) fn find() -> Result<Self, VoiceError> {
        let missing = || VoiceError::Missing { program: PROGRAM.to_owned() };
        let listed = Command::new(PROGRAM)
            .arg("-lv")
            .stdin(Stdio::null())
            .stderr(Stdio::null())
            .output()
            .map_err(|_| missing())?;
        let voices = voices(&String::from_utf8_lossy(&listed.stdout));
        if voices.is_empty() {
            return Err(VoiceError::Failed { reason: format!("{PROGRAM} names no voices") });
        }
        Ok(Flite { voices, running: Running::default() })
    }

    /// The first of these voices that is here.
    pub(super) fn first_of(&self, wanted: &[&str]) -> Option<&str> {
        wanted
            .iter()
            .find_map(|wanted| self.voices.iter().find(|voice| voice == wanted))
            .map(String::as_str)
    }

    /// Speech of one sentence by this voice. `None` if it was stopped meanwhile.
    pub(super) fn speak_as(
        &self,
        voice: &str,
        text: &str,
        words_a_minute: u16,
    ) -> Result<Option<Spoken>, VoiceError> {
        // What is not in its list, flite would take for a file or an address to load a voice from.
        if !self.voices.iter().any(|known| known == voice) {
            let reason = format!("flite has no voice {voice}; it has {}", self.voices.join(", "));
            return Err(VoiceError::Failed { reason });
        }
        let stretch = NATURAL / f32::from(words_a_minute.max(1));
        let mut command = Command::new(PROGRAM);
        command
            .args(["-voice", voice, "--setf"])
            .arg(format!("duration_stretch={stretch:.3}"))
            .args(["/dev/stdin", "/dev/stdout"]);
        // Without an end of line it says nothing.
        let spoken = self.running.run_into_memory(command, PROGRAM, &format!("{text}\n"))?;
        match spoken {
            Some(spoken) if spoken.samples.is_empty() => {
                Err(VoiceError::Failed { reason: format!("{PROGRAM} finds nothing to say in it") })
            }
            spoken => Ok(spoken),
        }
    }
}

impl Engine for Flite {
    fn speak(&self, text: &str, settings: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
        let voice = settings.voice.as_deref().unwrap_or_default();
        self.speak_as(voice, text, settings.words_a_minute)
    }

    fn stop(&self) {
        self.running.stop();
    }
}

/// The names in "Voices available: kal rms slt".
fn voices(listed: &str) -> Vec<String> {
    let names = listed.trim().strip_prefix("Voices available:");
    names.unwrap_or_default().split_whitespace().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_of_voices_is_read() {
        assert_eq!(voices("Voices available: kal awb_time rms \n"), ["kal", "awb_time", "rms"]);
        assert!(voices("flite: unknown option").is_empty());
    }

    #[test]
    fn it_speaks_at_the_speed_asked_for_where_it_is_installed() {
        let Ok(flite) = Flite::find() else {
            println!("skipped: flite is not installed");
            return;
        };
        let voice = flite.first_of(&["no such voice", "rms", "kal"]).unwrap().to_owned();
        let seconds = |text: &str, words_a_minute| {
            let spoken = flite.speak_as(&voice, text, words_a_minute).unwrap().unwrap();
            spoken.samples.len() as f64 / f64::from(spoken.rate.get())
        };
        // A text that looks like an option, or a file, is only a text.
        assert!((0.8..5.0).contains(&seconds("--help, nine of ten.", 150)));
        assert!((0.3..4.0).contains(&seconds("/dev/null", 150)));
        let (slow, fast) = (seconds("Nine of ten.", 100), seconds("Nine of ten.", 200));
        assert!(slow > 1.4 * fast, "{slow} s and {fast} s");
        let error = flite.speak_as("/dev/null", "One.", 150).err().unwrap();
        assert!(error.to_string().contains(&voice), "it names those it has: {error}");
    }
}
