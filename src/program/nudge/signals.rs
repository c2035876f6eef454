//! The nudges as they are defined in `prompts/nudges.toml`, and what makes a definition acceptable.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::session::{NudgeFamily, NudgeKind};

/// The definitions that come with the program.
const BUILT_IN: &str = include_str!("../../../prompts/nudges.toml");

/// Faster edges than this startle, and are heard as a click of all pitches.
const LEAST_FADE_MS: u32 = 20;
/// Louder than this is not a nudge.
const LOUDEST_DBFS: f32 = -20.0;
/// Quieter than this nobody hears.
const QUIETEST_DBFS: f32 = -70.0;
/// Lower than this an earphone does not play; higher, most animals hear better than we do.
const PITCHES_HZ: std::ops::RangeInclusive<f32> = 100.0..=1_000.0;
/// Two tones closer than this run together.
const LEAST_REST_MS: u32 = 60;
/// A long tone lasts at least this many short ones.
const LONG_PER_SHORT: f32 = 2.5;
/// Nudges of one rhythm lie at least a fourth apart, the least that untrained people tell apart surely
/// (from memory, no source).
const LEAST_PITCH_RATIO: f32 = 4.0 / 3.0;
/// Longer than this is not a nudge.
const LONGEST_MS: u32 = 2_000;

/// The sounds there are: one for each thing to do, and the receipts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    /// The tag is on disk.
    Heard,
    /// The same, and it beat the criterion.
    GoodOne,
    /// [`NudgeFamily::NeedsYou`]
    NeedsYou,
    /// [`NudgeFamily::ReadyForMore`]
    ReadyForMore,
    /// [`NudgeFamily::EasierOrPay`]
    EasierOrPay,
    /// [`NudgeFamily::EndSoon`]
    EndSoon,
}

impl Signal {
    /// Every sound, least urgent first.
    pub const ALL: [Signal; 6] = [
        Signal::Heard,
        Signal::GoodOne,
        Signal::NeedsYou,
        Signal::ReadyForMore,
        Signal::EasierOrPay,
        Signal::EndSoon,
    ];

    /// How this nudge sounds.
    pub fn of(kind: NudgeKind) -> Self {
        match kind.family() {
            Some(family) => family.into(),
            None if kind == NudgeKind::GoodOne => Signal::GoodOne,
            None => Signal::Heard,
        }
    }

    /// The name used in `prompts/` and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Signal::Heard => "heard",
            Signal::GoodOne => "good_one",
            Signal::NeedsYou => NudgeFamily::NeedsYou.name(),
            Signal::ReadyForMore => NudgeFamily::ReadyForMore.name(),
            Signal::EasierOrPay => NudgeFamily::EasierOrPay.name(),
            Signal::EndSoon => NudgeFamily::EndSoon.name(),
        }
    }

    /// The sound of this name, or of the nudge of this name: the sounds that there were one for each nudge are asked
    /// for by those.
    pub fn named(name: &str) -> Option<Self> {
        let of_kind =
            || NudgeKind::ALL.into_iter().find(|kind| kind.name() == name).map(Signal::of);
        Signal::ALL.into_iter().find(|signal| signal.name() == name).or_else(of_kind)
    }
}

impl From<NudgeFamily> for Signal {
    fn from(family: NudgeFamily) -> Self {
        match family {
            NudgeFamily::NeedsYou => Signal::NeedsYou,
            NudgeFamily::ReadyForMore => Signal::ReadyForMore,
            NudgeFamily::EasierOrPay => Signal::EasierOrPay,
            NudgeFamily::EndSoon => Signal::EndSoon,
        }
    }
}

/// What is wrong with the definitions.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SignalsError {
    /// It is not the TOML that is expected; says line and column.
    #[error("the nudge sounds cannot be read: {0}")]
    Unreadable(#[from] toml::de::Error),
    /// A nudge has no definition.
    #[error("the nudge {0} has no sound. Add a section [nudge.{0}]")]
    Missing(&'static str),
    /// A value is out of bounds.
    #[error("nudge {nudge}: {what} is {found}, but {expected}")]
    OutOfBounds {
        /// The nudge.
        nudge: &'static str,
        /// The setting.
        what: &'static str,
        /// Its value.
        found: String,
        /// What it may be, and why.
        expected: String,
    },
    /// Two nudges sound alike.
    #[error(
        "{one} and {other} have the same rhythm and nearly the same pitch, so nobody can tell them apart. Change the rhythm of one"
    )]
    Alike {
        /// The one.
        one: &'static str,
        /// The other.
        other: &'static str,
    },
}

/// One tone of a rhythm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// `short`
    Short,
    /// `long`
    Long,
}

/// One nudge, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Nudge {
    /// Which it is.
    pub signal: Signal,
    /// What it tells the trainer, as a sentence.
    pub means: String,
    /// Its tones in order.
    pub rhythm: Vec<Tone>,
    /// Pitch of all its tones.
    pub pitch_hz: f32,
    /// Length of a short tone, fades included.
    pub short_ms: u32,
    /// Length of a long tone, fades included.
    pub long_ms: u32,
    /// Silence between tones.
    pub rest_ms: u32,
    /// How long each tone takes to come, and to go.
    pub fade_ms: u32,
    /// Loudness (RMS) of the steady part of a tone.
    pub level_dbfs: f32,
}

impl Nudge {
    /// Length from the first sound to the last.
    pub fn length_ms(&self) -> u32 {
        let tones: u32 = self.rhythm.iter().map(|tone| self.tone_ms(*tone)).sum();
        tones + self.rest_ms * (self.rhythm.len() as u32).saturating_sub(1)
    }

    /// Its rhythm as it is written: "long short".
    pub fn rhythm_in_words(&self) -> String {
        let word = |tone: &Tone| if *tone == Tone::Short { "short" } else { "long" };
        self.rhythm.iter().map(word).collect::<Vec<_>>().join(" ")
    }

    pub(crate) fn tone_ms(&self, tone: Tone) -> u32 {
        match tone {
            Tone::Short => self.short_ms,
            Tone::Long => self.long_ms,
        }
    }

    /// Its level, `louder_db` more, up to the loudest that a nudge may be.
    pub(super) fn level_dbfs(&self, louder_db: f32) -> f32 {
        let wanted = self.level_dbfs + if louder_db.is_finite() { louder_db } else { 0.0 };
        wanted.clamp(QUIETEST_DBFS, LOUDEST_DBFS)
    }

    fn check(&self) -> Result<(), SignalsError> {
        let out = |what, found: String, expected: String| {
            Err(SignalsError::OutOfBounds { nudge: self.signal.name(), what, found, expected })
        };
        if self.rhythm.is_empty() || self.rhythm.len() > 5 {
            let expected = "a rhythm has one to five tones".to_owned();
            return out("the number of tones", self.rhythm.len().to_string(), expected);
        }
        if !PITCHES_HZ.contains(&self.pitch_hz) {
            let expected = format!("{} to {} can be used", PITCHES_HZ.start(), PITCHES_HZ.end());
            return out("pitch_hz", self.pitch_hz.to_string(), expected);
        }
        if self.fade_ms < LEAST_FADE_MS {
            let expected = format!("a tone that comes faster than in {LEAST_FADE_MS} startles");
            return out("fade_ms", self.fade_ms.to_string(), expected);
        }
        if self.short_ms < 2 * self.fade_ms {
            let expected = format!("two fades of {} must fit in", self.fade_ms);
            return out("short_ms", self.short_ms.to_string(), expected);
        }
        if (self.long_ms as f32) < LONG_PER_SHORT * self.short_ms as f32 {
            let expected = format!("it must be {LONG_PER_SHORT} times short_ms to be told from it");
            return out("long_ms", self.long_ms.to_string(), expected);
        }
        if self.rest_ms < LEAST_REST_MS {
            let expected = format!("tones closer than {LEAST_REST_MS} run together");
            return out("rest_ms", self.rest_ms.to_string(), expected);
        }
        if !(QUIETEST_DBFS..=LOUDEST_DBFS).contains(&self.level_dbfs) {
            let expected = format!("{QUIETEST_DBFS} to {LOUDEST_DBFS} can be used");
            return out("level_dbfs", self.level_dbfs.to_string(), expected);
        }
        if self.length_ms() > LONGEST_MS {
            let expected = format!("a nudge lasts at most {LONGEST_MS}");
            return out("the whole length in ms", self.length_ms().to_string(), expected);
        }
        Ok(())
    }
}

/// All sounds: one of every signal.
#[derive(Debug, Clone, PartialEq)]
pub struct Signals(Vec<Nudge>);

impl Signals {
    /// The sounds that come with the program.
    pub fn built_in() -> Self {
        Signals::parse(BUILT_IN).expect("a test reads the built-in sounds")
    }

    /// Sounds from TOML, all checked.
    ///
    /// # Errors
    /// [`SignalsError`], the first that is found.
    pub fn parse(text: &str) -> Result<Self, SignalsError> {
        let file: File = toml::from_str(text)?;
        let sound = file.sound;
        let mut defined = file.nudge;
        let mut signals = Vec::with_capacity(Signal::ALL.len());
        for signal in Signal::ALL {
            let defined = defined.remove(&signal).ok_or(SignalsError::Missing(signal.name()))?;
            let nudge = Nudge {
                signal,
                means: defined.means,
                rhythm: defined.rhythm.0,
                pitch_hz: defined.pitch_hz,
                short_ms: sound.short_ms,
                long_ms: sound.long_ms,
                rest_ms: sound.rest_ms,
                fade_ms: defined.fade_ms.unwrap_or(sound.fade_ms),
                level_dbfs: defined.level_dbfs.unwrap_or(sound.level_dbfs),
            };
            nudge.check()?;
            signals.push(nudge);
        }
        let signals = Signals(signals);
        signals.check_that_all_differ()?;
        Ok(signals)
    }

    /// The sound of this signal.
    pub fn get(&self, signal: Signal) -> &Nudge {
        let place = self.0.iter().position(|nudge| nudge.signal == signal);
        &self.0[place.expect("there is one sound of every signal")]
    }

    /// All nudges, least important first.
    pub fn all(&self) -> impl Iterator<Item = &Nudge> {
        self.0.iter()
    }

    pub(super) fn each_mut(&mut self) -> impl Iterator<Item = &mut Nudge> {
        self.0.iter_mut()
    }

    fn check_that_all_differ(&self) -> Result<(), SignalsError> {
        let all: Vec<&Nudge> = self.all().collect();
        for (i, one) in all.iter().enumerate() {
            for other in &all[i + 1..] {
                let ratio = (one.pitch_hz / other.pitch_hz).max(other.pitch_hz / one.pitch_hz);
                if one.rhythm == other.rhythm && ratio < LEAST_PITCH_RATIO {
                    let (one, other) = (one.signal.name(), other.signal.name());
                    return Err(SignalsError::Alike { one, other });
                }
            }
        }
        Ok(())
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    sound: Sound,
    nudge: BTreeMap<Signal, Defined>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sound {
    short_ms: u32,
    long_ms: u32,
    rest_ms: u32,
    fade_ms: u32,
    level_dbfs: f32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Defined {
    means: String,
    rhythm: Rhythm,
    pitch_hz: f32,
    fade_ms: Option<u32>,
    level_dbfs: Option<f32>,
}

#[derive(Deserialize)]
#[serde(try_from = "String")]
struct Rhythm(Vec<Tone>);

impl TryFrom<String> for Rhythm {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let tone = |word: &str| match word {
            "short" => Ok(Tone::Short),
            "long" => Ok(Tone::Long),
            other => Err(format!("a rhythm is made of the words short and long, not {other:?}")),
        };
        text.split_whitespace().map(tone).collect::<Result<_, _>>().map(Rhythm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The built-in definitions with one text replaced.
    fn changed(from: &str, to: &str) -> Result<Signals, SignalsError> {
        assert!(BUILT_IN.contains(from), "{from} is in the file");
        Signals::parse(&BUILT_IN.replacen(from, to, 1))
    }

    #[test]
    fn the_built_in_sounds_are_low_quiet_and_complete() {
        let signals = Signals::built_in();
        assert_eq!(signals.all().count(), Signal::ALL.len());
        for nudge in signals.all() {
            assert!(nudge.level_dbfs < -30.0, "{} is quiet", nudge.signal.name());
            assert!((200.0..=600.0).contains(&nudge.pitch_hz), "{} is low", nudge.signal.name());
            assert!(nudge.length_ms() < 1_000, "{} is short", nudge.signal.name());
            assert!(nudge.means.ends_with('.'), "{} says what it means", nudge.signal.name());
        }
    }

    #[test]
    fn the_built_in_sounds_differ_by_rhythm_alone() {
        let signals = Signals::built_in();
        let rhythms: std::collections::HashSet<String> =
            signals.all().map(|n| format!("{:?}", n.rhythm)).collect();
        assert_eq!(rhythms.len(), Signal::ALL.len());
    }

    #[test]
    fn what_would_startle_or_confuse_is_refused_with_a_reason() {
        for (from, to, said) in [
            (
                "fade_ms = 30",
                "fade_ms = 19",
                "fade_ms is 19, but a tone that comes faster than in 20 startles",
            ),
            (
                "level_dbfs = -36.0",
                "level_dbfs = -6.0",
                "level_dbfs is -6, but -70 to -20 can be used",
            ),
            ("level_dbfs = -40.0", "level_dbfs = nan", "level_dbfs is NaN"),
            ("pitch_hz = 294.0", "pitch_hz = 4000.0", "pitch_hz is 4000"),
            ("short_ms = 90", "short_ms = 50", "two fades of 30 must fit in"),
            ("long_ms = 320", "long_ms = 150", "told from it"),
            ("rest_ms = 110", "rest_ms = 10", "run together"),
            ("rhythm = \"short\"", "rhythm = \"\"", "one to five tones"),
            (
                "rhythm = \"long long\"",
                "rhythm = \"long short short\"",
                "needs_you and end_soon have the same rhythm",
            ),
            ("rhythm = \"long long\"", "rhythm = \"long medium\"", "not \"medium\""),
            ("[nudge.end_soon]", "[nudge.edn_soon]", "unknown variant `edn_soon`, expected one of"),
            ("[nudge.heard]", "colour = 1\n[nudge.heard]", "colour"),
        ] {
            let error = changed(from, to).expect_err(to).to_string();
            assert!(error.contains(said), "{to}: {error}");
        }
    }

    #[test]
    fn sounds_are_found_by_their_own_and_by_former_names() {
        assert_eq!(Signal::named("easier_or_pay"), Some(Signal::EasierOrPay));
        assert_eq!(Signal::named("rate_falling"), Some(Signal::EasierOrPay));
        assert_eq!(Signal::named("end_now"), Some(Signal::EndSoon));
        assert_eq!(Signal::named("trouble"), Some(Signal::NeedsYou));
        assert!(
            NudgeKind::ALL
                .into_iter()
                .all(|kind| Signal::named(kind.name()) == Some(Signal::of(kind)))
        );
        assert_eq!(Signal::named("bell"), None);
    }

    #[test]
    fn a_missing_nudge_is_named() {
        let cut = BUILT_IN.split("[nudge.end_soon]").next().unwrap();
        let error = Signals::parse(cut).unwrap_err().to_string();
        assert_eq!(error, "the nudge end_soon has no sound. Add a section [nudge.end_soon]");
    }
}
