//! What stands beside the likelier reading of an uncertain tag, and the names that it has in the record. Pure.

use std::fmt;

use serde::{Deserialize, Serialize};

/// What stands beside the likelier reading of an uncertain tag. In the record and in JSON it is one text: empty, a
/// [`NotCounted::name`], or the reading. So a reason that only a newer version knows is kept to the letter, as a reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum OtherReading {
    /// Nothing else was read.
    Nothing,
    /// What the other stage read.
    Read(String),
    /// The tag was heard well enough, and could not count.
    NotCounted(NotCounted),
}

/// Why a tag that was heard well enough does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "&'static str")]
pub enum NotCounted {
    /// The session was paused.
    InPause,
    /// A detail, a change or a take-back with nothing to go to.
    NothingToChange,
    /// It was too soft to be the trainer's.
    SaidByAnother,
    /// No session was under way.
    BeforeBegin,
    /// It was said among other words, one by one with pauses between, as somebody reads who learns to.
    WordByWord,
}

impl NotCounted {
    /// All of them.
    pub const ALL: [NotCounted; 5] = [
        NotCounted::InPause,
        NotCounted::NothingToChange,
        NotCounted::SaidByAnother,
        NotCounted::BeforeBegin,
        NotCounted::WordByWord,
    ];

    /// Its name in the record, which is also what a person is told. It never changes.
    pub fn name(self) -> &'static str {
        match self {
            NotCounted::InPause => "said in a pause",
            NotCounted::NothingToChange => "nothing to change",
            NotCounted::SaidByAnother => "said by somebody further away",
            NotCounted::BeforeBegin => "said before the session began",
            NotCounted::WordByWord => "said among other single words",
        }
    }
}

impl From<NotCounted> for &'static str {
    fn from(reason: NotCounted) -> Self {
        reason.name()
    }
}

impl fmt::Display for OtherReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            OtherReading::Nothing => "",
            OtherReading::Read(text) => text,
            OtherReading::NotCounted(reason) => reason.name(),
        })
    }
}

impl From<String> for OtherReading {
    fn from(text: String) -> Self {
        match NotCounted::ALL.into_iter().find(|reason| reason.name() == text) {
            Some(reason) => OtherReading::NotCounted(reason),
            None if text.is_empty() => OtherReading::Nothing,
            None => OtherReading::Read(text),
        }
    }
}

impl From<&str> for OtherReading {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

impl From<NotCounted> for OtherReading {
    fn from(reason: NotCounted) -> Self {
        OtherReading::NotCounted(reason)
    }
}

impl From<OtherReading> for String {
    fn from(other: OtherReading) -> Self {
        match other {
            OtherReading::Read(text) => text,
            other => other.to_string(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As records of all versions so far have them.
    const STORED: [(&str, NotCounted); 5] = [
        ("said in a pause", NotCounted::InPause),
        ("nothing to change", NotCounted::NothingToChange),
        ("said by somebody further away", NotCounted::SaidByAnother),
        ("said before the session began", NotCounted::BeforeBegin),
        ("said among other single words", NotCounted::WordByWord),
    ];

    #[test]
    fn every_stored_name_is_read_and_written_as_it_was() {
        assert_eq!(STORED.map(|(_, reason)| reason), NotCounted::ALL);
        for (name, reason) in STORED {
            let json = format!("{name:?}");
            let read: OtherReading = serde_json::from_str(&json).unwrap();
            assert_eq!(read, OtherReading::NotCounted(reason));
            assert_eq!(serde_json::to_string(&read).unwrap(), json);
            assert_eq!(serde_json::to_string(&reason).unwrap(), json);
        }
    }

    #[test]
    fn what_this_version_does_not_know_is_kept_to_the_letter() {
        for text in ["", " ", "yet", "said under water", "Said in a pause"] {
            let json = format!("{text:?}");
            let read: OtherReading = serde_json::from_str(&json).unwrap();
            assert!(!matches!(read, OtherReading::NotCounted(_)), "{text:?}");
            assert_eq!(serde_json::to_string(&read).unwrap(), json);
        }
    }
}
