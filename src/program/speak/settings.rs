//! How the voice is to sound, and why it may not.

const LOUDEST_DBFS: f32 = -12.0;
const QUIETEST_DBFS: f32 = -60.0;

/// How the voice sounds.
#[derive(Debug, Clone, PartialEq)]
pub struct VoiceSettings {
    /// Who reads: `flite:` and a voice of flite, or espeak-ng's name of a voice, a language with a variant if wanted
    /// (`espeak-ng:en-us+f3`, or only `en-us+f3`). `None` for the best that is installed.
    pub voice: Option<String>,
    /// Speed, 80 to 450, on the scale of espeak-ng.
    pub words_a_minute: u16,
    /// Loudness (RMS) in dB below full scale, -60 to -12.
    pub level_dbfs: f32,
    /// A program that speaks in place of those: it is given a sentence on its standard input and writes a sound
    /// file to its standard output.
    pub program: Option<String>,
}

impl Default for VoiceSettings {
    fn default() -> Self {
        VoiceSettings { voice: None, words_a_minute: 150, level_dbfs: -28.0, program: None }
    }
}

impl VoiceSettings {
    /// The same, with every value within its bounds.
    #[must_use]
    pub fn bounded(mut self) -> Self {
        self.words_a_minute = self.words_a_minute.clamp(80, 450);
        self.level_dbfs = if self.level_dbfs.is_nan() {
            VoiceSettings::default().level_dbfs
        } else {
            self.level_dbfs.clamp(QUIETEST_DBFS, LOUDEST_DBFS)
        };
        self
    }
}

/// Why nothing is said.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum VoiceError {
    /// The program is not installed.
    #[error(
        "{program} is not installed, so nothing is read aloud; everything is still printed. Install it with: sudo apt install {program}"
    )]
    Missing {
        /// The program.
        program: String,
    },
    /// The program does not work.
    #[error(
        "the voice does not work ({reason}), so this is not read aloud; everything is still printed. Try another voice in the settings"
    )]
    Failed {
        /// What it said.
        reason: String,
    },
    /// The system gives no thread, or the voice's has ended.
    #[error("the voice has stopped, so nothing is read aloud; everything is still printed")]
    Over,
}
