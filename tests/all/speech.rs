//! Synthetic speakers, and sound made of what they say at known times.

use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};
use hushtally::plan::{Plan, Role};

use crate::needs;
use crate::room::{RATE, write_wav};

/// A synthetic speaker.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Voice {
    /// A voice of espeak-ng, with its words a minute.
    Espeak(&'static str, u32),
    /// A voice of flite.
    Flite(&'static str),
    /// A voice of festival.
    Festival(&'static str),
}

impl Voice {
    /// The one that tests use unless they are about voices.
    pub(crate) const USUAL: Voice = Voice::Espeak("en-us", 140);

    /// What is said, at [`RATE`], brought to one level, without the silence around it.
    pub(crate) fn say(self, text: &str) -> Result<Vec<i16>> {
        let folder = tempfile::tempdir()?;
        let raw = folder.path().join("raw.wav");
        let even = folder.path().join("even.wav");
        let mut speaker = match self {
            Voice::Espeak(name, speed) => {
                let mut command = Command::new("espeak-ng");
                command.args(["-v", name, "-s", &speed.to_string(), "-w"]).arg(&raw).arg(text);
                command
            }
            Voice::Flite(name) => {
                let mut command = Command::new("flite");
                command.args(["-voice", name, "-t", text, "-o"]).arg(&raw);
                command
            }
            Voice::Festival(name) => {
                let file = folder.path().join("text");
                std::fs::write(&file, text)?;
                let mut command = Command::new("text2wave");
                command.arg("-eval").arg(format!("(voice_{name})")).arg("-o").arg(&raw).arg(file);
                command
            }
        };
        run(speaker.stdin(Stdio::null()).stdout(Stdio::null()))?;
        let rate = RATE.to_string();
        run(Command::new("sox")
            .arg(&raw)
            .args(["-r", &rate, "-c", "1", "-b", "16"])
            .arg(&even)
            .args(["norm", "-9"]))?;
        let samples: Vec<i16> =
            hound::WavReader::open(&even)?.into_samples().collect::<Result<_, _>>()?;
        let loud = |sample: &i16| sample.unsigned_abs() > 300;
        let first = samples
            .iter()
            .position(loud)
            .with_context(|| format!("{self:?} says {text:?}: silence"))?;
        let last = samples.iter().rposition(loud).unwrap_or(first);
        Ok(samples[first..=last].to_vec())
    }

    /// Whether its program is here.
    pub(crate) fn is_here(self) -> bool {
        needs::program(match self {
            Voice::Espeak(..) => "espeak-ng",
            Voice::Flite(_) => "flite",
            Voice::Festival(_) => "text2wave",
        }) && needs::program("sox")
    }
}

fn run(command: &mut Command) -> Result<()> {
    let output = command.output().with_context(|| format!("{command:?}"))?;
    if !output.status.success() {
        bail!("{command:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
    Ok(())
}

/// Something said, and where it stands in the sound.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Said {
    pub(crate) words: String,
    /// Seconds from the start of the sound to the first audible sample.
    pub(crate) onset_s: f64,
    /// The same to the last audible one.
    pub(crate) end_s: f64,
}

/// Sound in the making.
pub(crate) struct Tape {
    samples: Vec<i16>,
    pub(crate) said: Vec<Said>,
    seed: u32,
}

impl Tape {
    pub(crate) fn new() -> Self {
        Tape { samples: Vec::new(), said: Vec::new(), seed: 1 }
    }

    /// `quiet_s` seconds of near-silence, as a microphone in a still room gives, then `words`.
    pub(crate) fn say(&mut self, quiet_s: f64, voice: Voice, words: &str) -> Result<&mut Self> {
        let sound = voice.say(words)?;
        self.quiet(quiet_s);
        let seconds = |samples: usize| samples as f64 / f64::from(RATE);
        let onset_s = seconds(self.samples.len());
        self.samples.extend(sound);
        self.said.push(Said {
            words: words.to_owned(),
            onset_s,
            end_s: seconds(self.samples.len()),
        });
        Ok(self)
    }

    /// The same by somebody further away: this much softer, and nothing that is expected of the trainer.
    pub(crate) fn say_further(
        &mut self,
        quiet_s: f64,
        voice: Voice,
        words: &str,
        softer_db: f64,
    ) -> Result<&mut Self> {
        self.quiet(quiet_s);
        let gain = 10.0_f64.powf(-softer_db / 20.0);
        self.samples.extend(voice.say(words)?.iter().map(|s| (f64::from(*s) * gain) as i16));
        Ok(self)
    }

    /// Near-silence.
    pub(crate) fn quiet(&mut self, seconds: f64) -> &mut Self {
        for _ in 0..(seconds * f64::from(RATE)) as usize {
            // A few steps of noise.
            self.samples.push((4.0 * next_of_hiss(&mut self.seed)).floor() as i16);
        }
        self
    }

    /// Lays a sound over all of it; `around` gives its samples from the time in seconds.
    pub(crate) fn beside(&mut self, around: impl Fn(f64) -> f64) -> &mut Self {
        for (place, sample) in self.samples.iter_mut().enumerate() {
            *sample = sample.saturating_add(around(place as f64 / f64::from(RATE)) as i16);
        }
        self
    }

    /// Its length so far, in seconds.
    pub(crate) fn seconds(&self) -> f64 {
        self.samples.len() as f64 / f64::from(RATE)
    }

    pub(crate) fn write(&self, file: &Path) -> Result<()> {
        write_wav(file, &self.samples)
    }
}

/// The plan's own words for these roles: tests name roles, so that changed words change no test.
pub(crate) fn words(plan: &Plan, roles: &[Role]) -> String {
    let first = |role: &Role| {
        plan.words.of(role).first().cloned().unwrap_or_else(|| panic!("no word for {role:?}"))
    };
    let called = matches!(roles.first(), Some(Role::Command(_))).then_some(Role::Attention);
    called.iter().chain(roles).map(first).collect::<Vec<_>>().join(" ")
}

/// Onsets and ends of what is loud in `samples`, in seconds: segments above the level, less than `gap_s` apart.
pub(crate) fn loud_segments(samples: &[i16], above: u16, gap_s: f64) -> Vec<(f64, f64)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    let gap = (gap_s * f64::from(RATE)) as usize;
    for (place, _) in samples.iter().enumerate().filter(|(_, s)| s.unsigned_abs() > above) {
        match found.last_mut() {
            Some((_, last)) if place - *last < gap => *last = place,
            _ => found.push((place, place)),
        }
    }
    let seconds = |place: usize| place as f64 / f64::from(RATE);
    found.into_iter().map(|(from, to)| (seconds(from), seconds(to))).collect()
}

/// White noise evenly spread from -1 up to 1, the same in every run: by a linear congruential generator (constants of
/// Numerical Recipes, from memory).
pub(crate) fn hiss(mut seed: u32) -> impl Iterator<Item = f64> {
    std::iter::repeat_with(move || next_of_hiss(&mut seed))
}

fn next_of_hiss(seed: &mut u32) -> f64 {
    *seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
    f64::from(*seed >> 8) / f64::from(1 << 23) - 1.0
}
