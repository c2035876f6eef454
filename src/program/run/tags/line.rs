//! One line of timed tags.

use std::borrow::Cow;
use std::time::Duration;

use serde::Deserialize;
use thiserror::Error;

use crate::at::At;
use crate::chain::LinkScores;
use crate::interpret::{Details, LinkMarks, Said};
use crate::plan::{Command, Mood, RewardValue, Side};
use crate::run::HeardTimes;
use crate::session::{Elsewhere, Input, MissedBecause};

/// No session lasts longer: every second of it is looked at.
const LONGEST_S: f64 = 31.0 * 24.0 * 3600.0;

/// Why a line cannot be taken.
#[derive(Debug, Error)]
pub enum LineError {
    /// It is too long.
    #[error("it is longer than {0} bytes")]
    TooLong(usize),
    /// It is not UTF-8.
    #[error("it is not UTF-8 text")]
    NotText,
    /// It is not an object with the fields of its kind.
    #[error("{0}")]
    NotALine(#[from] serde_json::Error),
    /// A field that its kind needs is missing.
    #[error("a \"{kind}\" needs \"{field}\"")]
    Missing {
        /// The kind.
        kind: &'static str,
        /// The field.
        field: &'static str,
    },
    /// No time within a session.
    #[error("{field} is {seconds}; seconds from 0 to {LONGEST_S} are taken")]
    Time {
        /// Which field.
        field: &'static str,
        /// What it says.
        seconds: f64,
    },
    /// Earlier than the line before it in the same session.
    #[error("at {at_s} s, but the line before it in its session is at {before_s} s")]
    GoesBack {
        /// Its time.
        at_s: f64,
        /// The time before.
        before_s: f64,
    },
    /// There is no step 0.
    #[error("step 0; steps are counted from 1")]
    StepNought,
    /// More tags than a session can have.
    #[error("more than {0} tags in one session; is a line \"finished\" missing?")]
    TooMany(u32),
}

/// What a line says.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Told {
    /// Something that was said or pressed.
    Input(Input),
    /// The session ended.
    Finished,
    /// The session's time started, at this step.
    Began(Option<u8>),
    /// Something that followed, and will follow again.
    Follows,
}

/// A line that was understood.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TagLine {
    pub(super) at: At,
    /// The number of its session, where the line carries it.
    pub(super) session: Option<u64>,
    /// When it was heard, where the line carries it.
    pub(super) heard: Option<HeardTimes>,
    /// For a command about steps: the step worked on before it, by the one that it led to.
    pub(super) before: Option<u8>,
    pub(super) told: Told,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Kind {
    Rep,
    Miss,
    Detail,
    Change,
    TakeBack,
    PutBack,
    Cue,
    HoldStart,
    State,
    Own,
    TakesOver,
    Behaviour,
    Animal,
    Elsewhere,
    Command,
    Unsure,
    Gap,
    Trouble,
    Note,
    Finished,
    Began,
    Nudge,
    Said,
}

/// The fields of all kinds that are read back; others are passed over.
#[derive(Deserialize)]
struct Fields<'a> {
    at_s: f64,
    kind: Kind,
    session: Option<u64>,
    #[serde(default, borrow)]
    words: Cow<'a, str>,
    step: Option<u8>,
    links: Option<LinkScores>,
    side: Option<Side>,
    value: Option<RewardValue>,
    value_named: Option<bool>,
    because: Option<MissedBecause>,
    mood: Option<Mood>,
    command: Option<Command>,
    name: Option<String>,
    person: Option<String>,
    other: Option<String>,
    text: Option<String>,
    lasted_s: Option<f64>,
    why: Option<String>,
    said_at_s: Option<f64>,
    elsewhere: Option<Elsewhere>,
    end_s: Option<f64>,
    decided_s: Option<f64>,
}

/// Understands a line.
pub(super) fn understand(line: &str) -> Result<TagLine, LineError> {
    let fields: Fields = serde_json::from_str(line)?;
    let at = moment("at_s", fields.at_s)?;
    let session = fields.session;
    // A try of a chain may have reached none of its steps.
    if fields.step == Some(0) && fields.links.is_none() {
        return Err(LineError::StepNought);
    }
    let heard = match (fields.end_s, fields.decided_s) {
        (Some(end), Some(decided)) => {
            let (end, decided) = (moment("end_s", end)?, moment("decided_s", decided)?);
            Some(HeardTimes { end, decided })
        }
        _ => None,
    };
    let before = match (fields.command, fields.step) {
        (Some(Command::StepUp), Some(step)) => Some(step.saturating_sub(1).max(1)),
        (Some(Command::StepBack), Some(step)) => Some(step.saturating_add(1)),
        (Some(command), step) if command.is_of_steps() => step,
        _ => None,
    };
    let told = match fields.kind {
        Kind::Finished => Told::Finished,
        Kind::Began => Told::Began(fields.step),
        Kind::Nudge | Kind::Said => Told::Follows,
        Kind::Miss if fields.because == Some(MissedBecause::HoldRanOut) => Told::Follows,
        _ => Told::Input(input(fields)?),
    };
    Ok(TagLine { at, session, heard, before, told })
}

fn input(fields: Fields) -> Result<Input, LineError> {
    // A value that the plan gave is not said: it follows again.
    let value = fields.value.filter(|_| fields.value_named != Some(false));
    // The step of a try of a chain follows from its links.
    let step = fields.step.filter(|_| fields.links.is_none());
    let links = fields.links.map_or(LinkMarks::NONE, |links| links.as_said());
    let details = Details { step, side: fields.side, value, links };
    let words = fields.words.into_owned();
    let said = match fields.kind {
        Kind::Rep => Said::Rep(details),
        Kind::Detail => Said::Detail(details),
        Kind::Change => Said::Change(details),
        Kind::Miss => Said::Miss(details.of_a_miss()),
        Kind::TakeBack => Said::TakeBack,
        Kind::PutBack => {
            let said_at_s = needed(fields.said_at_s, "put_back", "said_at_s")?;
            Said::PutBack { said_at: moment("said_at_s", said_at_s)? }
        }
        Kind::Cue => Said::Cue,
        Kind::HoldStart => Said::HoldStart,
        Kind::State => Said::State { mood: needed(fields.mood, "state", "mood")? },
        Kind::TakesOver => {
            Said::TakesOver { person: needed(fields.person, "takes_over", "person")? }
        }
        Kind::Own => Said::Own { name: needed(fields.name, "own", "name")? },
        Kind::Behaviour => Said::Behaviour { name: needed(fields.name, "behaviour", "name")? },
        Kind::Animal => Said::Animal { name: needed(fields.name, "animal", "name")? },
        Kind::Elsewhere => {
            return Ok(Input::Elsewhere(needed(fields.elsewhere, "elsewhere", "elsewhere")?));
        }
        Kind::Command => Said::Command { command: needed(fields.command, "command", "command")? },
        Kind::Unsure => {
            return Ok(Input::Doubted { words, other: fields.other.unwrap_or_default().into() });
        }
        Kind::Note => return Ok(Input::Noted { text: needed(fields.text, "note", "text")? }),
        Kind::Gap => {
            let lasted_s = needed(fields.lasted_s, "gap", "lasted_s")?;
            let lasted = moment("lasted_s", lasted_s)?.elapsed();
            return Ok(Input::Gap { lasted, why: fields.why.unwrap_or_default() });
        }
        Kind::Trouble => return Ok(Input::Trouble { why: needed(fields.why, "trouble", "why")? }),
        Kind::Finished | Kind::Began | Kind::Nudge | Kind::Said => {
            unreachable!("told apart before")
        }
    };
    Ok(Input::Tagged { said, words })
}

fn needed<T>(field: Option<T>, kind: &'static str, name: &'static str) -> Result<T, LineError> {
    field.ok_or(LineError::Missing { kind, field: name })
}

fn moment(field: &'static str, seconds: f64) -> Result<At, LineError> {
    match Duration::try_from_secs_f64(seconds) {
        Ok(elapsed) if seconds <= LONGEST_S => Ok(At::after(elapsed)),
        _ => Err(LineError::Time { field, seconds }),
    }
}
