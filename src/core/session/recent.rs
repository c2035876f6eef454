//! The recent tags and take-backs, each with the state before it.

use std::time::Duration;

use super::at_step::AtStep;
use super::detect::Detectors;
use super::hands::TookOver;
use super::nudging::Raised;
use super::rep::Rep;
use super::tally::Tally;
use super::watch::Watch;
use crate::at::At;
use crate::interpret::Said;

/// Everything that a taken-back tag must restore, but the reps and the stopwatch.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Core {
    pub(super) cue_since: Option<Duration>,
    pub(super) hold_since: Option<Duration>,
    pub(super) next_look: Duration,
    pub(super) tally: Tally,
    pub(super) at_step: AtStep,
    pub(super) detectors: Detectors,
    pub(super) unsure: usize,
    /// When the pouch was filled again, in active time.
    pub(super) refills: Vec<Duration>,
    /// How much of what was between tags is taken in.
    pub(super) between: usize,
    /// Who took over, in order.
    pub(super) took_over: Vec<TookOver>,
}

/// A recent tag, and the state before it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Undoable {
    pub(super) at: At,
    /// Its number among the inputs.
    pub(super) input: u32,
    /// `None` for something that was heard but not surely.
    pub(super) said: Option<Said>,
    pub(super) core: Core,
    pub(super) reps: usize,
    /// For a detail: the rep it changed, as it was.
    pub(super) changed: Option<(usize, Rep)>,
    /// For a detail: the nudges that no longer stand with it.
    pub(super) forgotten: Vec<Raised>,
    /// The stopwatch before it, when it ended a break for play.
    pub(super) played_on: Option<Watch>,
}

/// A recent take-back: what it took, and the state before it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TakenBack {
    pub(super) at: At,
    pub(super) last: Undoable,
    pub(super) core: Core,
    /// The reps that went with it, from `last.reps` on.
    pub(super) reps: Vec<Rep>,
    /// For a detail: the rep as it had made it.
    pub(super) changed: Option<(usize, Rep)>,
    /// The nudges that no longer stood without it.
    pub(super) forgotten: Vec<Raised>,
    /// The stopwatch as it was, when a break for play goes on without it.
    pub(super) ran: Option<Watch>,
}
