//! Taking back and changing the last tag: the state before each recent tag is kept, and what came
//! after it is replayed, so that the result is as if the tag had never been said. A take-back
//! that turns out to be none is undone in the same way.
//!
//! A detail belongs to the tag it was said with: the grammar gives it to its marker or miss. Said alone, it completes the
//! latest try, if nothing but details or a change of that try came since and the latest of them not longer ago than the
//! plan's `detail_window_s`; a change is of the latest try. Whatever finds nothing to go to is an uncertain tag.

use std::collections::VecDeque;

use super::detect::Alarm;
use super::recent::{TakenBack, Undoable};
use super::{Rep, Session, Took, TookTry};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::Command;

/// How many tags can be taken back, one after the other.
const DEPTH: usize = 16;

impl Session {
    /// Remembers the state before a tag.
    pub(super) fn remember(&mut self, at: At, said: Option<Said>) {
        let (core, reps, input) = (self.core.clone(), self.reps.len(), self.inputs);
        if self.undo.len() == DEPTH {
            self.forgotten = self.undo.front().map(|entry| entry.at);
        }
        keep(
            &mut self.undo,
            Undoable {
                at,
                input,
                said,
                core,
                reps,
                changed: None,
                forgotten: Vec::new(),
                played_on: None,
            },
        );
    }

    /// Time was started after what is remembered so far. Taking that back must not take back the start: what goes by time
    /// would look at nothing from then on.
    pub(super) fn begun_before_what_is_remembered(&mut self) {
        self.forget_play();
        let before = self.undo.iter_mut().map(|entry| &mut entry.core);
        let taken = self.taken_back.iter_mut();
        let of_taken = taken.flat_map(|taken| [&mut taken.core, &mut taken.last.core]);
        for core in before.chain(of_taken) {
            core.next_look = self.core.next_look;
            core.detectors.clone_from(&self.core.detectors);
        }
    }

    /// The stopwatch was started again, or stands still for something else: what ended a break for play before it does not
    /// lead back to that.
    pub(super) fn forget_play(&mut self) {
        for entry in &mut self.undo {
            entry.played_on = None;
        }
        for taken in &mut self.taken_back {
            (taken.ran, taken.last.played_on) = (None, None);
        }
    }

    /// Takes back the last tag; false when there is none left to take back.
    pub(super) fn take_back(&mut self, at: At) -> bool {
        let Some(last) = self.undo.pop_back() else { return false };
        let changed = last.changed.as_ref().map(|(index, _)| (*index, self.reps[*index].clone()));
        let (core, reps) = (self.core.clone(), self.reps[last.reps..].to_vec());
        let ran = last.played_on.clone().map(|before| std::mem::replace(&mut self.watch, before));
        self.restore(&last);
        if let Some((index, rep)) = &last.changed {
            self.reps[*index] = rep.clone();
        }
        let again = self.catch_up(at, self.between.len());
        let forgotten = self.nudging.gone_through(last.at, at, again);
        self.nudging.remember(last.forgotten.clone());
        keep(&mut self.taken_back, TakenBack { at, last, core, reps, changed, forgotten, ran });
        true
    }

    /// The number of the input that the latest take-back took.
    pub fn latest_taken(&self) -> Option<u32> {
        self.taken_back.back().map(|taken| taken.last.input)
    }

    /// When the tag was said that a take-back would take.
    pub fn latest_standing_at(&self) -> Option<At> {
        self.undo.back().map(|entry| entry.at)
    }

    /// When the latest tag was said that stands for good: it is too long ago, or the step was changed since.
    pub fn latest_forgotten_at(&self) -> Option<At> {
        self.forgotten
    }

    /// The number of the latest input that a take-back would take.
    pub fn latest_standing(&self) -> Option<u32> {
        self.undo.back().map(|entry| entry.input)
    }

    /// What the take-back at `at` took, when it is the latest.
    pub fn took_back(&self, at: At) -> Option<Took> {
        let TakenBack { last, reps, changed, .. } =
            self.taken_back.back().filter(|taken| taken.at == at)?;
        let of = |index, rep| TookTry::of(index, rep, &self.plan.words);
        Some(match (&last.said, changed) {
            (None, _) => Took::Unsure,
            (_, Some((index, _))) => Took::Details(of(*index, self.reps.get(*index)?)),
            (Some(Said::Rep(_) | Said::Miss(_)), _) => Took::Try(of(last.reps, reps.first()?)),
            (Some(Said::State { mood }), _) => Took::Mood { name: *mood },
            (Some(Said::Cue), _) => Took::Cue,
            (Some(Said::HoldStart), _) => Took::HoldStart,
            (Some(Said::Command { command: Command::Refilled }), _) => Took::Refilled,
            (Some(Said::TakesOver { person }), _) => Took::TakesOver { name: person.clone() },
            (Some(Said::Own { name }), _) => Took::Own { name: name.clone() },
            (Some(_), _) => return None,
        })
    }

    /// Whether what was said at `at` is a detail or a change that left the latest try as it was.
    pub fn changed_nothing(&self, at: At) -> bool {
        let latest = self.undo.back().filter(|entry| entry.at == at);
        let changed = latest.and_then(|entry| entry.changed.as_ref());
        changed.is_some_and(|(index, before)| self.reps.get(*index) == Some(before))
    }

    /// Undoes the take-back at `said_at`; false when there is none, or when something said after it still stands.
    pub(super) fn put_back(&mut self, said_at: At, at: At) -> bool {
        let is_meant = |taken: &TakenBack| taken.at == said_at;
        let Some(place) = self.taken_back.iter().rposition(is_meant) else { return false };
        let took_later = |taken: &TakenBack| taken.last.at >= said_at;
        let stands = self.undo.back().is_some_and(|last| last.at > said_at);
        if stands || !self.taken_back.iter().skip(place + 1).all(took_later) {
            return false;
        }
        self.taken_back.truncate(place + 1);
        let Some(taken) = self.taken_back.pop_back() else { return false };
        if let Some(ran) = taken.ran {
            self.watch = ran;
        }
        self.core = taken.core;
        self.reps.truncate(taken.last.reps);
        self.reps.extend(taken.reps);
        if let Some((index, rep)) = taken.changed {
            self.reps[index] = rep;
        }
        keep(&mut self.undo, taken.last);
        let again = self.catch_up(at, self.between.len());
        let _only_without_it = self.nudging.gone_through(said_at, at, again);
        self.nudging.remember(taken.forgotten);
        true
    }

    /// What must be handled, in this order, so that nothing said at `since` or later counts any more.
    pub fn undoing(&self, since: At) -> Vec<Said> {
        let mut said: Vec<At> = self.undo.iter().map(|said| said.at).collect();
        let mut taken: Vec<(At, At)> =
            self.taken_back.iter().map(|taken| (taken.at, taken.last.at)).collect();
        let mut undoing = Vec::new();
        loop {
            let latest = said.last().copied().filter(|at| *at >= since);
            match taken.last().copied().filter(|(at, _)| *at >= since) {
                Some((said_at, last)) if latest.is_none_or(|latest| latest <= said_at) => {
                    taken.pop();
                    said.push(last);
                    undoing.push(Said::PutBack { said_at });
                }
                _ if latest.is_some() => {
                    said.pop();
                    undoing.push(Said::TakeBack);
                }
                _ => return undoing,
            }
        }
    }

    /// Whether details said alone at `at` complete the latest try: nothing but details or a change of the same try was
    /// said since it, and the latest of that not longer ago than the plan's window. What was taken back was said too.
    pub(super) fn may_complete(&self, at: At) -> bool {
        let of_a_try =
            |entry: &&Undoable| !matches!(entry.said, Some(Said::Detail(_) | Said::Change(_)));
        let (Some(latest), Some(entry)) = (self.undo.back(), self.undo.iter().rev().find(of_a_try))
        else {
            return false;
        };
        is_try(entry)
            && !self.went_on_after(latest.at)
            && self.taken_back.back().is_none_or(|taken| taken.at < entry.at)
            && latest.at >= at.back(self.plan.limits.detail_window)
    }

    /// Whether details like these can change the latest try.
    pub fn can_change(&self, details: Details) -> bool {
        let said = self.undo.iter().rev().find(|entry| is_try(entry));
        let latest = said.filter(|entry| entry.reps + 1 == self.reps.len());
        let rewarded = self.reps.last().is_some_and(Rep::rewarded);
        latest.is_some() && (rewarded || details.of_a_miss() == details)
    }

    /// Changes the latest try; false when there is none that was said, or when these details are none of its kind.
    pub(super) fn revise(&mut self, at: At, said: Said, details: Details) -> bool {
        let Some(mut place) = self.undo.iter().rposition(is_try) else { return false };
        let (index, rep_at) = (self.undo[place].reps, self.undo[place].at);
        let Some(rep) = self.reps.get(index).cloned() else { return false };
        // Nothing older than the latest try is changed, also when that one was missed by itself.
        if index + 1 != self.reps.len() || (!rep.rewarded() && details.of_a_miss() != details) {
            return false;
        }
        // All that was said of it so far: a spoken step changes what is paid by default, a spoken value stays.
        let said_of_it = self.undo.iter().skip(place).filter_map(|entry| entry.said.as_ref());
        let details = said_of_it.chain([&said]).fold(Details::default(), |all, said| match said {
            // What is said more comes to it; a change stands in the place of what was said before.
            Said::Rep(more) | Said::Miss(more) | Said::Detail(more) => all.with(*more),
            Said::Change(other) => all.changed_by(*other),
            _ => all,
        });
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
        let mut raised = Vec::new();
        for entry in &again {
            raised.extend(self.catch_up(entry.at, entry.core.between));
            match &entry.said {
                Some(Said::Rep(_)) => self.apply(entry.at, entry.input, &Said::Rep(details)),
                Some(Said::Miss(_)) => self.apply(entry.at, entry.input, &Said::Miss(details)),
                Some(said) => self.apply(entry.at, entry.input, said),
                None => self.core.unsure += 1,
            }
        }
        let forgotten = self.nudging.gone_through(rep_at, at, raised);
        if let Some(own) = self.undo.back_mut() {
            own.forgotten = forgotten;
        }
        true
    }

    fn restore(&mut self, before: &Undoable) {
        self.core = before.core.clone();
        self.reps.truncate(before.reps);
    }

    /// Lets time pass up to `to` once more, with so many of what was between tags, and gives what it raises.
    fn catch_up(&mut self, to: At, between: usize) -> Vec<Alarm> {
        let mut raised = Vec::new();
        loop {
            let next = self.between.get(self.core.between).filter(|_| self.core.between < between);
            let until = next.map_or(to, |next| next.at.min(to));
            let goes_on = next.is_some();
            while let Some(due) = self.pass_due().filter(|due| *due <= until) {
                let Some((alarms, _)) = self.pass(due) else { break };
                raised.extend(alarms);
            }
            if !goes_on {
                return raised;
            }
            self.go_through_between();
        }
    }
}

/// Whether it is a try that was said.
fn is_try(entry: &Undoable) -> bool {
    matches!(entry.said, Some(Said::Rep(_) | Said::Miss(_)))
}

/// Adds the latest, and lets go of the oldest when there are too many.
fn keep<T>(recent: &mut VecDeque<T>, latest: T) {
    if recent.len() == DEPTH {
        recent.pop_front();
    }
    recent.push_back(latest);
}
