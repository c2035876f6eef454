//! Declines of known onset and kind, put into real sessions.

use hushtally::sim::Dice;
use rand::RngExt;

use super::pieces::{LONGEST_S, Piece};
use super::read::{Try, What};
use crate::population::Seeds;

/// The animal must have worked this long, and tried this often, before the decline.
const BEFORE: (f64, usize) = (300.0, 12);
/// And must have gone on to work in truth: this many tries in the minutes after it, which lack then.
const AFTER: (f64, usize) = (180.0, 8);

/// How the decline shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// All gaps three times as long.
    Stretched,
    /// Of five rewarded tries four are missed.
    Turned,
    /// Nothing more.
    Stopped,
    /// Of five tries four are left out.
    Removed,
    /// Gaps grow to four times within two minutes.
    Stretching,
    /// Gaps twice as long, and of two rewarded tries one is missed.
    Both,
}

impl Kind {
    /// Half of the kinds are there to choose on.
    pub(crate) fn of(seeds: Seeds) -> [Kind; 3] {
        match seeds {
            Seeds::Tuning => [Kind::Stretched, Kind::Turned, Kind::Stopped],
            Seeds::Reported => [Kind::Removed, Kind::Stretching, Kind::Both],
        }
    }
}

/// A session with a decline in it.
pub(crate) struct Declined {
    pub(crate) onset: f64,
    pub(crate) tries: Vec<Try>,
    pub(crate) ends: f64,
}

/// Puts a decline into the piece, at a moment at which the animal was in the middle of its work; none
/// where there is no such moment.
pub(crate) fn put_in(piece: &Piece, kind: Kind, dice: &mut Dice) -> Option<Declined> {
    let times: Vec<f64> = piece.times().collect();
    let busy = |at: f64| {
        let within = |from: f64, to: f64| {
            times.partition_point(|time| *time < to) - times.partition_point(|time| *time < from)
        };
        at > BEFORE.0
            && within(at - BEFORE.0, at) >= BEFORE.1
            && within(at, at + AFTER.0) >= AFTER.1
    };
    let moments: Vec<f64> = times.iter().copied().filter(|at| busy(at + 0.001)).collect();
    if moments.is_empty() {
        return None;
    }
    let onset = moments[dice.random_range(0..moments.len())] + 0.001;
    let (mut tries, after): (Vec<Try>, Vec<Try>) =
        piece.tries.iter().partition(|one| one.cue.unwrap_or(one.at) < onset);
    tries.extend(after.into_iter().filter_map(|one| changed(one, onset, kind, dice)));
    tries.retain(|one| one.at < LONGEST_S);
    let ends = if kind == Kind::Stopped { (onset + 600.0).min(LONGEST_S) } else { piece.ends };
    let ends = tries.last().map_or(ends, |last| last.at.max(ends));
    Some(Declined { onset, tries, ends })
}

fn changed(one: Try, onset: f64, kind: Kind, dice: &mut Dice) -> Option<Try> {
    let moved = |to: &dyn Fn(f64) -> f64| Try {
        at: onset + to(one.at - onset),
        cue: one.cue.map(|cue| onset + to(cue - onset)),
        ..one
    };
    let missed = |one: Try, chance: f64, dice: &mut Dice| {
        let turned = one.what == What::Rewarded && dice.random_bool(chance);
        Try { what: if turned { What::Missed } else { one.what }, ..one }
    };
    match kind {
        Kind::Stopped => None,
        Kind::Removed => dice.random_bool(0.2).then_some(one),
        Kind::Stretched => Some(moved(&|since| 3.0 * since)),
        // The local stretch grows evenly from 1 to 4 over the first minute of what was, then stays.
        Kind::Stretching => Some(moved(&|since| {
            let growing = since.min(48.0);
            growing + 3.0 * growing * growing / 96.0 + 4.0 * (since - growing)
        })),
        Kind::Turned => Some(missed(one, 0.8, dice)),
        Kind::Both => Some(missed(moved(&|since| 2.0 * since), 0.5, dice)),
    }
}
