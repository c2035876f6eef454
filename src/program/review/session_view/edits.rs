//! The history of a session's edits, in words.

use std::collections::BTreeSet;

use super::{EditView, ScoringView, local};
use crate::review::labels;
use crate::store::{Change, Content, EventId, Stored, Target};

/// Edits that were taken back; an undo that was itself undone does not count.
pub(crate) fn undone(events: &[Stored]) -> BTreeSet<EventId> {
    let mut undone = BTreeSet::new();
    for stored in events.iter().rev() {
        if let Content::Edit(edit) = &stored.content
            && let Change::Undo { target } = edit.change
            && !undone.contains(&stored.id)
        {
            undone.insert(target);
        }
    }
    undone
}

pub(super) fn scorings(events: &[Stored]) -> Vec<ScoringView> {
    let undone = undone(events);
    let mut found: Vec<ScoringView> = Vec::new();
    for stored in events.iter().filter(|stored| !undone.contains(&stored.id)) {
        let Content::Edit(edit) = &stored.content else { continue };
        let Change::Scored { scoring, .. } = &edit.change else { continue };
        let id = scoring.to_string();
        match found.iter_mut().find(|known| known.id == id) {
            Some(known) => known.count += 1,
            None => {
                let by = edit.by.clone().unwrap_or_else(|| "somebody".into());
                found.push(ScoringView { id, by, count: 1 });
            }
        }
    }
    found
}

pub(super) fn edits(events: &[Stored], offset_s: i32) -> Vec<EditView> {
    let gone = undone(events);
    let of_record = |change: &Change| match change {
        // Taking back what no correction was is none either.
        Change::Undo { target } => !events.iter().any(|stored| {
            let is = |edit: &crate::store::Edit| !edit.change.corrects();
            stored.id == *target && matches!(&stored.content, Content::Edit(edit) if is(edit))
        }),
        change => change.corrects(),
    };
    let view = |stored: &Stored| match &stored.content {
        Content::Edit(edit) if of_record(&edit.change) => Some(EditView {
            id: stored.id.to_string(),
            when: local(stored.utc, offset_s),
            what: what(&edit.change, events),
            by: edit.by.clone(),
            why: edit.why.clone(),
            undone: gone.contains(&stored.id),
        }),
        _ => None,
    };
    events.iter().rev().filter_map(view).collect()
}

/// An edit in words.
fn what(change: &Change, events: &[Stored]) -> String {
    let at_of = |id: &EventId| {
        let found = events.iter().find(|stored| stored.id == *id);
        found.map_or_else(
            || "?".into(),
            |stored| match &stored.content {
                Content::Edit(edit) => match &edit.change {
                    Change::Add { at, rep, .. } => rep.at.unwrap_or(*at).to_string(),
                    _ => "an edit".into(),
                },
                Content::Event(_) => stored.at.to_string(),
            },
        )
    };
    let place = |target: &Target| match target {
        Target::Event(id) => at_of(id),
        Target::At(at) => at.to_string(),
    };
    match change {
        Change::Remove { target } => format!("removed the try at {}", place(target)),
        Change::Revise { target, to } => {
            let mut parts = Vec::new();
            parts.extend(to.at.map(|at| format!("time {at}")));
            parts.extend(to.step.map(|step| format!("step {step}")));
            parts.extend(to.outcome.map(|outcome| labels::outcome(outcome).to_owned()));
            parts.extend(to.side.map(|side| side.map_or("no side", labels::side).to_owned()));
            format!("the try at {}: {}", place(target), parts.join(", "))
        }
        Change::Add { at, settles: Some(_), .. } => format!("the unsure tag at {at} was a try"),
        Change::Add { at, .. } => format!("added a try at {at}"),
        Change::Dismiss { target } => format!("the unsure tag at {} was none", at_of(target)),
        Change::Undo { target } => {
            let whole = events.iter().find(|stored| stored.id == *target);
            match whole.map(|stored| &stored.content) {
                Some(Content::Edit(edit)) if !matches!(edit.change, Change::Undo { .. }) => {
                    format!("took back: {}", what(&edit.change, events))
                }
                _ => "took back an undo".into(),
            }
        }
        Change::Film { name, .. } => format!("placed the film {name}"),
        Change::Scored { at, .. } => format!("scored a try at {at}"),
    }
}
