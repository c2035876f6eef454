//! Which corrections may be made, as the record stands at that moment. Pure.

#[cfg(test)]
mod tests;

use super::{agree_view, session_view};
use crate::store::{Change, Content, EventId, Folded, Stored, Target};

/// Why a correction may not be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// The try is gone, or somebody corrected it after the page was made.
    ChangedSince,
    /// There is no such correction to take back.
    NoSuchEdit,
    /// The correction is taken back already.
    AlreadyTakenBack,
    /// What is to be scored once more was scored once more, or taken back, already.
    ScoredAlready,
}

/// The try that a correction is about; `None` where it adds one or is about none.
pub fn target_of(change: &Change) -> Option<Target> {
    match change {
        Change::Remove { target } | Change::Revise { target, .. } => Some(*target),
        _ => None,
    }
}

/// Whether a try may be corrected by somebody who saw the first `seen` events: what others changed since, they did not see.
///
/// # Errors
/// [`Refused::ChangedSince`].
pub fn may_correct(
    folded: &Folded,
    events: &[Stored],
    target: Target,
    seen: usize,
) -> Result<(), Refused> {
    let there = folded.reps.iter().any(|rep| match target {
        Target::Event(id) => rep.event == Some(id),
        Target::At(at) => rep.rep.at == at,
    });
    let unseen = events.get(seen..);
    let as_seen =
        unseen.is_some_and(|unseen| !unseen.iter().any(|one| touches(one, target, events)));
    if there && as_seen { Ok(()) } else { Err(Refused::ChangedSince) }
}

/// Whether an event changed this try, also by taking such a change back.
fn touches(stored: &Stored, target: Target, events: &[Stored]) -> bool {
    let Content::Edit(edit) = &stored.content else { return false };
    match edit.change {
        Change::Undo { target: undone } => events.iter().any(|other| {
            other.id == undone && undone != stored.id && touches(other, target, events)
        }),
        ref change => target_of(change) == Some(target),
    }
}

/// Whether this event may be taken back: a correction that still counts.
///
/// # Errors
/// [`Refused::NoSuchEdit`] or [`Refused::AlreadyTakenBack`].
pub fn may_undo(events: &[Stored], edit: EventId) -> Result<(), Refused> {
    let is_it = |stored: &&Stored| stored.id == edit;
    let known = events.iter().find(is_it).map(|stored| &stored.content);
    if !matches!(known, Some(Content::Edit(_))) {
        return Err(Refused::NoSuchEdit);
    }
    if session_view::undone(events).contains(&edit) {
        return Err(Refused::AlreadyTakenBack);
    }
    Ok(())
}

/// Whether a try of a second scoring may be written down; where it stands in for `last`, that one must still count in it.
///
/// # Errors
/// [`Refused::ScoredAlready`].
pub fn may_score(
    events: &[Stored],
    scoring: EventId,
    last: Option<EventId>,
) -> Result<(), Refused> {
    let Some(last) = last else { return Ok(()) };
    let (_, own) = agree_view::second(events, scoring);
    if own.iter().any(|(id, _)| *id == last) { Ok(()) } else { Err(Refused::ScoredAlready) }
}

/// What a try of a second scoring changes: it is added, and with `last` that one is taken back.
pub fn scored(scored: Change, last: Option<EventId>) -> Vec<Change> {
    std::iter::once(scored).chain(last.map(|target| Change::Undo { target })).collect()
}
