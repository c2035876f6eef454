//! Ways to corrupt a file.

use proptest::collection::vec;
use proptest::prelude::*;

/// Pieces that have broken readers before.
const NASTY: [&str; 26] = [
    "",
    "\0",
    "\r",
    "\n\n",
    "\"",
    "'",
    "'''",
    ",",
    "=",
    "[[step]]\n",
    "[",
    "{",
    "\u{feff}",
    "\u{202e}",
    "é",
    "NaN",
    "inf",
    "-inf",
    "-1",
    "1e308",
    "-0.0",
    "18446744073709551616",
    "9223372036854775807",
    "99999-12-31T23:59:60Z",
    "%s%n",
    "\\u0000",
];

/// One change of a file; places are shares of its length, so that they fit any file.
#[derive(Debug, Clone)]
pub(super) enum Change {
    Flip { at: f64, bit: u8 },
    Cut { from: f64, to: f64 },
    Put { at: f64, piece: usize },
    Noise { at: f64, bytes: Vec<u8> },
    Again { from: f64, to: f64, times: u8 },
    End { at: f64 },
}

/// A few changes of one of `files` files.
pub(super) fn corrupted(files: usize) -> impl Strategy<Value = (usize, Vec<Change>)> {
    let at = || 0.0..=1.0;
    let change = prop_oneof![
        (at(), 0..8u8).prop_map(|(at, bit)| Change::Flip { at, bit }),
        (at(), at()).prop_map(|(from, to)| Change::Cut { from, to }),
        (at(), 0..NASTY.len()).prop_map(|(at, piece)| Change::Put { at, piece }),
        (at(), vec(any::<u8>(), 1..40)).prop_map(|(at, bytes)| Change::Noise { at, bytes }),
        (at(), at(), 1..30u8).prop_map(|(from, to, times)| Change::Again { from, to, times }),
        at().prop_map(|at| Change::End { at }),
    ];
    (0..files, vec(change, 1..8))
}

/// The file with these changes.
pub(super) fn apply(file: &[u8], changes: &[Change]) -> Vec<u8> {
    let mut bytes = file.to_vec();
    for change in changes {
        let place = |share: f64| ((bytes.len() as f64) * share) as usize;
        match change {
            Change::Flip { at, bit } => {
                let at = place(*at);
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << bit;
                }
            }
            Change::Cut { from, to } => {
                let (from, to) = (place(from.min(*to)), place(from.max(*to)));
                // At most a tenth goes, so that something is left to be read.
                bytes.drain(from..to.min(from + bytes.len() / 10));
            }
            Change::Put { at, piece } => {
                let at = place(*at);
                bytes.splice(at..at, NASTY[*piece].bytes());
            }
            Change::Noise { at, bytes: noise } => {
                let at = place(*at);
                bytes.splice(at..at, noise.iter().copied());
            }
            Change::Again { from, to, times } => {
                let (from, to) = (place(from.min(*to)), place(from.max(*to)));
                let piece = bytes[from..to].repeat(usize::from(*times));
                bytes.splice(to..to, piece);
            }
            Change::End { at } => {
                let at = place(*at);
                bytes.truncate(at);
            }
        }
        bytes.truncate(1 << 20);
    }
    bytes
}
