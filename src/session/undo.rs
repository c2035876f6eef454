//! Taking back and changing the last tag: the state before each recent tag is kept, and what came
//! after it is gone through again, so that the result is as if the tag had never been said.

use super::Session;
use super::engine::Core;
use super::rep::Rep;
use crate::at::At;
use crate::interpret::{Details, Said};

/// How many tags can be taken back, one after the other.
const DEPTH: usize = 16;

/// A recent tag, and the state before it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Undoable {
    at: At,
    /// `None` for something that was heard but not surely.
    said: Option<Said>,
    core: Core,
    reps: usize,
    /// For a detail: the rep it changed, as it was.
    changed: Option<(usize, Rep)>,
}

impl Session {
    /// Remembers the state before a tag.
    pub(super) fn remember(&mut self, at: At, said: Option<Said>) {
        if self.undo.len() == DEPTH {
            self.undo.pop_front();
        }
        let (core, reps) = (self.core.clone(), self.reps.len());
        self.undo.push_back(Undoable { at, said, core, reps, changed: None });
    }

    /// Takes back the last tag; false when there is none left to take back.
    pub(super) fn take_back(&mut self, at: At) -> bool {
        let Some(last) = self.undo.pop_back() else { return false };
        self.restore(&last);
        if let Some((index, rep)) = last.changed {
            self.reps[index] = rep;
        }
        self.catch_up(last.at, at);
        true
    }

    /// Changes the last rewarded rep, if it began within `since`; false when there is none.
    pub(super) fn revise(&mut self, at: At, said: Said, details: Details, since: At) -> bool {
        let is_rep = |entry: &Undoable| matches!(entry.said, Some(Said::Rep(_)));
        let Some(mut place) = self.undo.iter().rposition(is_rep) else { return false };
        let (index, rep_at) = (self.undo[place].reps, self.undo[place].at);
        let Some(rep) = self.reps.get(index).cloned() else { return false };
        if rep_at < since || !rep.rewarded() {
            return false;
        }
        let held = Details {
            step: Some(rep.step),
            side: rep.side,
            // A spoken step changes what is paid by default, unless the value was spoken too.
            value: rep
                .paid()
                .filter(|value| *value != self.plan.default_value(rep.step, rep.working)),
        };
        let details = held.changed_by(details);
        if self.undo.len() == DEPTH {
            // Remembering this change lets go of the oldest tag, and all places move up.
            let Some(moved) = place.checked_sub(1) else { return false };
            place = moved;
        }
        self.remember(at, Some(said));
        if let Some(own) = self.undo.back_mut() {
            own.changed = Some((index, rep));
        }
        let again: Vec<Undoable> = self.undo.iter().skip(place).cloned().collect();
        self.restore(&again[0]);
        let mut now = rep_at;
        for entry in &again {
            self.catch_up(now, entry.at);
            now = entry.at;
            match &entry.said {
                Some(Said::Rep(_)) => self.apply(entry.at, &Said::Rep(details)),
                Some(said) => self.apply(entry.at, said),
                None => self.core.unsure += 1,
            }
        }
        true
    }

    fn restore(&mut self, before: &Undoable) {
        self.core = before.core.clone();
        self.reps.truncate(before.reps);
    }

    /// Lets time pass from `from` to `to` once more. What was told since then is not told again;
    /// what only shows now is told at the next look.
    fn catch_up(&mut self, from: At, to: At) {
        while let Some(due) = self.pass_due().filter(|due| *due <= to) {
            let Some((alarms, _)) = self.pass(due) else { break };
            for alarm in alarms {
                if self.told.get(&alarm.nudge).is_none_or(|told| *told < from) {
                    self.late.push(alarm);
                }
            }
        }
    }
}
