//! When a nudge may sound: never near a marker, one at a time, most important first.

use std::collections::BTreeMap;
use std::time::Duration;

use super::NudgeKind;
use crate::at::At;

/// Sounds keep this far from a marker, so that they do not become a signal for the animal.
pub(crate) const MARKER_CLEARANCE: Duration = Duration::from_millis(500);
/// A nudge that could not sound for so long is out of date and stays only in the log.
const STALE: Duration = Duration::from_secs(15);

/// Nudges waiting for their moment.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Waiting {
    since: BTreeMap<NudgeKind, At>,
    last_sound: Option<At>,
    last_marker: Option<At>,
}

impl Waiting {
    pub(crate) fn ask(&mut self, kind: NudgeKind, at: At) {
        self.since.insert(kind, at);
    }

    pub(crate) fn marker(&mut self, at: At) {
        self.last_marker = Some(at);
    }

    /// When the next one may sound.
    pub(crate) fn due(&self, gap: Duration) -> Option<At> {
        self.since.iter().map(|(kind, since)| self.due_of(*kind, *since, gap)).min()
    }

    /// Takes the most important one that may sound now, dropping those that went stale.
    pub(crate) fn take(&mut self, now: At, gap: Duration) -> Option<NudgeKind> {
        self.since.retain(|_, since| now.since(*since) <= STALE);
        let ready = |(kind, since): &(&NudgeKind, &At)| self.due_of(**kind, **since, gap) <= now;
        let kind = *self.since.iter().rev().find(ready)?.0;
        self.since.remove(&kind);
        // A receipt is not worth a sound of its own beside something more important.
        self.since.retain(|waiting, _| !is_receipt(*waiting) || *waiting > kind);
        if !is_receipt(kind) {
            self.last_sound = Some(now);
        }
        Some(kind)
    }

    fn due_of(&self, kind: NudgeKind, since: At, gap: Duration) -> At {
        let due = self.last_marker.map_or(since, |marker| since.max(marker + MARKER_CLEARANCE));
        match self.last_sound {
            Some(last) if !is_receipt(kind) => due.max(last + gap),
            _ => due,
        }
    }
}

/// Receipts answer a tag at once and are not held back by the gap between nudges.
fn is_receipt(kind: NudgeKind) -> bool {
    matches!(kind, NudgeKind::Heard | NudgeKind::NotSure | NudgeKind::GoodOne)
}
