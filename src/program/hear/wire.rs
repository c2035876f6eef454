//! What the program and the recogniser's process say to each other, one line of JSON each.
//!
//! The recogniser is foreign code that ends its whole program when a model is damaged, so it runs in a process of
//! its own (`src/program/recogniser/main.rs`): a session outlives it, and what does not hear does not need its library.

use std::io::{self, BufRead, Write};
use std::time::Duration;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// What the program asks, in order. `Feed` and `Stop` have no answer, the others have one each.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Ask {
    /// Load the model in this folder: [`Told::Done`].
    Load {
        /// The folder.
        folder: String,
    },
    /// Which of these words the model knows: [`Told::Known`].
    Known {
        /// The words.
        words: Vec<String>,
    },
    /// Make a recogniser under this number, and try it out: [`Told::Done`].
    Start {
        /// Its number.
        recogniser: usize,
        /// The lines that it expects; without them, every word that the model knows.
        lines: Option<Vec<String>>,
        /// How many readings it gives.
        alternatives: u16,
    },
    /// More of the present segment, 16 kHz mono.
    Feed {
        /// For which recogniser.
        recogniser: usize,
        /// The samples.
        samples: Vec<i16>,
    },
    /// End the segment: [`Told::Read`].
    Finish {
        /// Of which recogniser.
        recogniser: usize,
    },
    /// Let a recogniser go.
    Stop {
        /// Which.
        recogniser: usize,
    },
    /// Processor time so far: [`Told::Worked`].
    Worked,
}

/// What the recogniser's process answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Told {
    /// It is done.
    Done,
    /// It cannot be done with this model.
    Failed,
    /// For each word, whether the model knows it.
    Known(Vec<bool>),
    /// The readings of a segment, best first.
    Read(Vec<Alternative>),
    /// Processor time.
    Worked(Duration),
}

/// One way to read a segment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alternative {
    /// Logarithmic score; only differences within one list mean something.
    pub score: f32,
    /// Its words.
    pub words: Vec<Placed>,
}

/// A word with its place in the segment that was fed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Placed {
    /// Its spelling.
    pub text: String,
    /// Where it begins, in seconds.
    pub start: f32,
    /// Where it ends, in seconds.
    pub end: f32,
}

/// A message as its line.
///
/// # Errors
/// When it cannot be put into JSON.
pub fn line(message: &impl Serialize) -> io::Result<Vec<u8>> {
    let mut line = serde_json::to_vec(message)?;
    line.push(b'\n');
    Ok(line)
}

/// Writes a message and sees it off.
///
/// # Errors
/// When the other side is gone.
pub fn write(to: &mut impl Write, message: &impl Serialize) -> io::Result<()> {
    to.write_all(&line(message)?)?;
    to.flush()
}

/// The next message; `None` when the other side has ended.
///
/// # Errors
/// What came is not a message, or the pipe broke.
pub fn read<T: DeserializeOwned>(from: &mut impl BufRead) -> io::Result<Option<T>> {
    let mut line = Vec::new();
    if from.read_until(b'\n', &mut line)? == 0 {
        return Ok(None);
    }
    Ok(Some(serde_json::from_slice(&line)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_come_back_as_they_were_to_the_last_bit() {
        let words = vec![Placed { text: "it's".into(), start: 0.1 + 0.2, end: 1.0 / 3.0 }];
        let read_out = vec![Alternative { score: -1_234.5, words }];
        let mut sent = Vec::new();
        write(&mut sent, &Told::Read(read_out.clone())).unwrap();
        write(&mut sent, &Told::Done).unwrap();
        let mut from = sent.as_slice();
        assert_eq!(read(&mut from).unwrap(), Some(Told::Read(read_out)));
        assert_eq!(read(&mut from).unwrap(), Some(Told::Done));
        assert_eq!(read::<Told>(&mut from).unwrap(), None);
        assert!(read::<Told>(&mut "segmentation fault\n".as_bytes()).is_err());
    }
}
