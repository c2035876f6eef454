//! Which nudge is given, and when. The rule, in full:
//!
//! - One at a time, the most important first, never within half a second of a marker.
//! - Between two lies the plan's gap (20 s unless it says otherwise). A new reason to stop now does not wait for it, nor
//!   does trouble with Hushtally itself: tags are being lost.
//! - What sounds the same is not given twice within a minute. A reason to stop now, the plan's pace floor, a doubt
//!   and trouble with hearing are each told for themselves and are the same as themselves only. A doubt sounds only
//!   where nothing else did, and holds nothing back.
//! - A receipt answers one tag at once and asks for nothing: that it was heard, that it beat the criterion. It keeps
//!   away from markers only, and gives way to a nudge.
//! - What has to wait is held back. One sound tells all that waits in its family for the same thing to do; what
//!   speaks of a moment (a high point, a doubt) is out of date after that moment; what belongs to a step
//!   ends with it; everything else waits for its turn.
//! - What was held back is not lost: it is told when asked why, and in the recap's details.
//! - What was decided of the step and waits is forgotten when it is decided otherwise by its turn.
//! - What rested on a tag that was taken back is forgotten, whether it was given or not.

use std::collections::BTreeMap;
use std::collections::VecDeque;
use std::time::Duration;

use serde::Serialize;

use super::detect::Alarm;
use super::{NudgeFamily, NudgeKind, Reason};
use crate::at::At;

/// Sounds keep this far from a marker, so that they do not become a signal for the animal.
pub(crate) const MARKER_CLEARANCE: Duration = Duration::from_millis(500);
/// What sounds the same is not given again for this long.
const SAME_AGAIN: Duration = Duration::from_secs(60);
/// A high point that could not be told for this long is no longer the point to stop at.
const HIGH_POINT_LASTS: Duration = Duration::from_secs(15);
/// What answers one tag is out of date after this.
const ANSWER_LASTS: Duration = Duration::from_secs(3);
/// This many are remembered; more than can still be taken back.
const REMEMBERED: usize = 64;
/// "Why" tells at most this many that were held back: nobody takes in more.
const TOLD_WHEN_ASKED: usize = 3;

/// What became of a nudge.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Fate {
    Waiting,
    Given(At),
    HeldBack(At),
}

/// A nudge that was raised.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Raised {
    at: At,
    kind: NudgeKind,
    /// `None` for what the engine itself has to say: a doubt, or that nothing was heard.
    reason: Option<Reason>,
    fate: Fate,
}

/// A nudge that is held back, and its reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeldBack {
    /// Which.
    pub nudge: NudgeKind,
    /// Why it was raised.
    pub reason: Reason,
}

/// A nudge to be given now.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Given {
    pub(super) kind: NudgeKind,
    pub(super) reason: Option<Reason>,
}

/// Every nudge of a session and what became of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Nudging {
    receipt: Option<At>,
    raised: VecDeque<Raised>,
    /// When each last sounded. What was heard stays heard, whatever is taken back.
    sounded: BTreeMap<NudgeKind, At>,
    last_marker: Option<At>,
    /// The most important of those given that are no longer remembered.
    given_before: Option<NudgeKind>,
}

impl Nudging {
    /// A tag is on disk.
    pub(super) fn receipt(&mut self, at: At) {
        self.receipt = Some(at);
    }

    pub(super) fn marker(&mut self, at: At) {
        self.last_marker = Some(at);
    }

    /// When each last sounded.
    pub(super) fn sounded(&self) -> &BTreeMap<NudgeKind, At> {
        &self.sounded
    }

    /// Whether one of this kind was given here.
    pub(super) fn gave(&self, kind: NudgeKind) -> bool {
        self.given_before == Some(kind) || self.given().any(|(one, _)| one.kind == kind)
    }

    /// These sounded while another session was worked on.
    pub(super) fn sounded_elsewhere(&mut self, sounded: &BTreeMap<NudgeKind, At>) {
        for (kind, at) in sounded {
            let latest = self.sounded.entry(*kind).or_insert(*at);
            *latest = (*latest).max(*at);
        }
    }

    /// Another session is worked on: what waits was about this one. That Hushtally has a problem stays so.
    pub(super) fn rests(&mut self, at: At) {
        for one in &mut self.raised {
            if one.fate == Fate::Waiting && one.kind != NudgeKind::Trouble {
                one.fate = Fate::HeldBack(at);
            }
        }
    }

    /// Something needs the trainer's attention.
    pub(super) fn raise(&mut self, at: At, kind: NudgeKind, reason: Option<Reason>) {
        self.keep(Raised { at, kind, reason, fate: Fate::Waiting });
    }

    fn keep(&mut self, raised: Raised) {
        if self.raised.len() == REMEMBERED {
            let settled = self.raised.iter().position(|one| one.fate != Fate::Waiting);
            let gone = self.raised.remove(settled.unwrap_or(0));
            if let Some(Raised { kind, reason: Some(_), fate: Fate::Given(_), .. }) = gone {
                self.given_before = self.given_before.max(Some(kind));
            }
        }
        self.raised.push_back(raised);
    }

    /// When the next one may sound.
    pub(super) fn due(&self, gap: Duration) -> Option<At> {
        let waiting = self.waiting().map(|one| self.due_of(one, gap));
        waiting.chain(self.receipt.map(|since| self.clear_of_marker(since))).min()
    }

    /// Takes the most important one that may sound at `now`.
    pub(super) fn take(&mut self, now: At, gap: Duration) -> Option<Given> {
        for one in &mut self.raised {
            if one.fate == Fate::Waiting && now.since(one.at) > lasts(one.kind) {
                one.fate = Fate::HeldBack(now);
            }
        }
        let ready = |one: &Raised| one.fate == Fate::Waiting && self.due_of(one, gap) <= now;
        let order = |place: &usize| (self.raised[*place].kind, self.raised[*place].at);
        let places = (0..self.raised.len()).filter(|place| ready(&self.raised[*place]));
        let Some(place) = places.max_by_key(order) else {
            let due = self.receipt.is_some_and(|since| self.clear_of_marker(since) <= now);
            return due.then(|| {
                self.receipt = None;
                Given { kind: NudgeKind::Heard, reason: None }
            });
        };
        self.raised[place].fate = Fate::Given(now);
        let Raised { kind, reason, .. } = self.raised[place].clone();
        if kind.family().is_some() {
            self.sounded.insert(kind, now);
        }
        // A receipt is not worth a sound of its own beside something more important.
        self.receipt = None;
        for other in &mut self.raised {
            let gives_way = told_with(other.kind, kind) || other.kind.family().is_none();
            if other.fate == Fate::Waiting && gives_way {
                other.fate = Fate::HeldBack(now);
            }
        }
        Some(Given { kind, reason })
    }

    /// The step changed at `at`: what was to be said of the last one is settled by that.
    pub(super) fn step_changed(&mut self, at: At) {
        for one in &mut self.raised {
            let of_step = matches!(
                one.kind,
                NudgeKind::StepReady | NudgeKind::StepTooMuch | NudgeKind::GoodOne
            );
            if of_step && one.fate == Fate::Waiting {
                one.fate = Fate::HeldBack(at);
            }
        }
    }

    /// What may sound at `now` and tells what was decided of the step when it was raised.
    pub(super) fn due_of_step(&self, now: At, gap: Duration) -> Vec<NudgeKind> {
        let of_step =
            |one: &&Raised| matches!(one.kind, NudgeKind::StepReady | NudgeKind::StepTooMuch);
        let due = self.waiting().filter(of_step).filter(|one| self.due_of(one, gap) <= now);
        due.map(|one| one.kind).collect()
    }

    /// What waits of this kind is not so any more: it is forgotten.
    pub(super) fn out_of_date(&mut self, kind: NudgeKind) {
        self.raised.retain(|one| one.kind != kind || one.fate != Fate::Waiting);
    }

    /// What happened after `since` was replayed at `now`, and raised `again` this time: what it does not
    /// raise any more is forgotten, and given back; what it did not raise before waits from now on.
    pub(super) fn gone_through(
        &mut self,
        since: At,
        now: At,
        mut again: Vec<Alarm>,
    ) -> Vec<Raised> {
        let mut forgotten = Vec::new();
        self.raised.retain(|one| {
            let Some(reason) = one.reason.as_ref().filter(|_| one.at > since) else { return true };
            let is_it = |alarm: &Alarm| {
                (alarm.nudge, &alarm.reason.detector) == (one.kind, &reason.detector)
            };
            if let Some(place) = again.iter().position(is_it) {
                again.remove(place);
                return true;
            }
            forgotten.push(one.clone());
            false
        });
        for Alarm { nudge, reason } in again {
            self.raise(now, nudge, Some(reason));
        }
        forgotten
    }

    /// What was forgotten stands again.
    pub(super) fn remember(&mut self, forgotten: Vec<Raised>) {
        forgotten.into_iter().for_each(|one| self.keep(one));
        self.raised.make_contiguous().sort_by_key(|one| one.at);
    }

    /// The latest that was given and stands, with its reason.
    pub(super) fn latest(&self) -> Option<(NudgeKind, &Reason)> {
        let (one, _) = self.given().max_by_key(|(_, at)| *at)?;
        Some((one.kind, one.reason.as_ref()?))
    }

    /// The most important one that was given and stands.
    pub(super) fn main(&self) -> Option<NudgeKind> {
        self.given().map(|(one, _)| one.kind).max().max(self.given_before)
    }

    /// What waits, and what was held back since the latest was given; the most important first.
    pub(super) fn held_back(&self) -> Vec<HeldBack> {
        let latest = self.given().map(|(_, at)| at).max().unwrap_or(At::ZERO);
        let mut held: Vec<HeldBack> = self
            .raised
            .iter()
            .filter(|one| match one.fate {
                Fate::Waiting => true,
                Fate::HeldBack(at) => at >= latest,
                Fate::Given(_) => false,
            })
            .filter_map(|one| Some(HeldBack { nudge: one.kind, reason: one.reason.clone()? }))
            .collect();
        held.sort_by_key(|one| std::cmp::Reverse(one.nudge));
        held.truncate(TOLD_WHEN_ASKED);
        held
    }

    /// Kinds that were raised and never given, most important first.
    pub(super) fn never_given(&self) -> Vec<NudgeKind> {
        let with_reason = self.raised.iter().filter(|one| one.reason.is_some());
        let mut kinds: Vec<NudgeKind> = with_reason.map(|one| one.kind).collect();
        kinds.retain(|kind| kind.family().is_some() && !self.sounded.contains_key(kind));
        kinds.sort_by_key(|kind| std::cmp::Reverse(*kind));
        kinds.dedup();
        kinds
    }

    fn waiting(&self) -> impl Iterator<Item = &Raised> {
        self.raised.iter().filter(|one| one.fate == Fate::Waiting)
    }

    /// Those that were given for a reason, and when.
    fn given(&self) -> impl Iterator<Item = (&Raised, At)> {
        self.raised.iter().filter_map(|one| match one.fate {
            Fate::Given(at) => one.reason.as_ref().map(|_| (one, at)),
            _ => None,
        })
    }

    fn clear_of_marker(&self, since: At) -> At {
        self.last_marker.map_or(since, |marker| since.max(marker + MARKER_CLEARANCE))
    }

    fn due_of(&self, one: &Raised, gap: Duration) -> At {
        if one.kind.family().is_none() {
            return self.clear_of_marker(one.at);
        }
        let at_once = matches!(one.kind, NudgeKind::EndNow | NudgeKind::Trouble);
        let gap = if at_once { Duration::ZERO } else { gap };
        self.sounded.iter().fold(self.clear_of_marker(one.at), |due, (kind, at)| {
            if *kind == NudgeKind::NotSure && one.kind != NudgeKind::NotSure {
                return due;
            }
            let apart = if same(*kind, one.kind) { SAME_AGAIN.max(gap) } else { gap };
            due.max(*at + apart)
        })
    }
}

/// How long it is worth telling.
fn lasts(kind: NudgeKind) -> Duration {
    match kind {
        NudgeKind::HighPoint => HIGH_POINT_LASTS,
        NudgeKind::GoodOne | NudgeKind::NotSure => ANSWER_LASTS,
        _ => Duration::MAX,
    }
}

/// Whether the trainer hears the one as the other said again.
fn same(one: NudgeKind, other: NudgeKind) -> bool {
    let for_itself = |kind| {
        matches!(
            kind,
            NudgeKind::EndNow | NudgeKind::RateFalling | NudgeKind::NotSure | NudgeKind::Trouble
        )
    };
    one == other || (one.family() == other.family() && !for_itself(one) && !for_itself(other))
}

/// Whether what waits is told by the sound of `given`, since the same is to be done about it.
fn told_with(waits: NudgeKind, given: NudgeKind) -> bool {
    waits == given
        || (waits.family() == given.family() && waits.family() != Some(NudgeFamily::NeedsYou))
}

#[cfg(test)]
mod tests;
