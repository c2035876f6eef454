//! What comes due by itself: looks of the detectors, the end of a limited hold, nudges that waited for their moment.

use std::time::Duration;

use super::detect::{Alarm, LOOK_EVERY};
use super::engine::append;
use super::nudging::Given;
use super::{Answer, Derived, Event, MissedBecause, Output, Session};
use crate::at::At;
use crate::interpret::Details;

impl Session {
    pub(super) fn come_due(&mut self, due: At, out: &mut Vec<Output>) {
        // What was taken back may leave a nudge that was due before: it is given now, not in the past.
        let now = self.now.max(due);
        if self.nothing_came_due().is_some_and(|since| since <= due) {
            self.bare_correction = None;
            out.push(Output::Say(Answer::Idle { number: self.reps.len() }));
        }
        let gap = self.plan.limits.nudge_gap;
        for kind in self.nudging.due_of_step(now, gap) {
            if !self.is_decided(kind) {
                self.nudging.out_of_date(kind);
            }
        }
        if let Some(Given { kind, reason }) = self.nudging.take(now, gap) {
            if let Some(reason) = reason {
                append(now, Event::Derived(Derived::Nudged { nudge: kind, reason }), out);
            }
            out.push(Output::Play(kind));
        }
        if let Some((alarms, ran_out)) = self.pass(due) {
            if ran_out {
                append(due, Event::Derived(Derived::HoldRanOut), out);
            }
            for Alarm { nudge, reason } in alarms {
                self.nudging.raise(due, nudge, Some(reason));
            }
        }
    }

    /// Carries out what the passing of time brings at `due`: looks, and the end of a limited hold.
    pub(super) fn pass(&mut self, due: At) -> Option<(Vec<Alarm>, bool)> {
        // While it stands still, only what was taken back leaves something to be looked at once more.
        let stands = self.watch.stands_still() && self.pass_due().is_none_or(|first| first > due);
        if self.watch.began().is_none() || stands {
            return None;
        }
        let active = self.watch.active(due);
        let ran_out = self.hold_ends().is_some_and(|ends| ends <= active);
        if ran_out {
            self.add_rep(due, None, Details::default(), Some(MissedBecause::HoldRanOut));
        }
        if self.core.next_look > active {
            return Some((Vec::new(), ran_out));
        }
        self.core.next_look += LOOK_EVERY;
        let alarms = self.with_detectors(active, |detectors, scene| detectors.look(scene));
        Some((alarms, ran_out))
    }

    /// When a look or the end of a limited hold comes due.
    pub(super) fn pass_due(&self) -> Option<At> {
        let look = self.watch.moment(self.core.next_look);
        let hold = self.hold_ends().and_then(|ends| self.watch.moment(ends));
        [look, hold].into_iter().flatten().min()
    }

    /// When a correction without a word after it has changed nothing for good.
    pub(super) fn nothing_came_due(&self) -> Option<At> {
        Some(self.bare_correction? + self.plan.limits.detail_window)
    }

    fn hold_ends(&self) -> Option<Duration> {
        Some(self.core.cue_since? + self.plan.limits.limited_hold?)
    }
}
