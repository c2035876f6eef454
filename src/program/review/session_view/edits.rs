//! The history of a session's edits, in words.

use std::collections::BTreeSet;

use minijinja::context;

use super::{EditView, ScoringView, local};
use crate::review::labels;
use crate::store::{Change, Content, EventId, Stored, Target};
use crate::wording::{filled, text};

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
                let by = edit.by.clone().unwrap_or_else(|| text("page.somebody"));
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
                    _ => text("page.edit_other"),
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
        Change::Remove { target } => filled("page.edit_removed", context! { at => place(target) }),
        Change::Revise { target, to } => {
            let mut parts = Vec::new();
            parts.extend(
                to.at.map(|at| filled("page.edit_time", context! { at => at.to_string() })),
            );
            parts.extend(to.step.map(|step| filled("page.edit_step", context! { step })));
            parts.extend(to.outcome.map(labels::outcome));
            parts.extend(
                to.side.map(|side| side.map_or_else(|| text("page.edit_no_side"), labels::side)),
            );
            let to = parts.join(", ");
            filled("page.edit_revised", context! { at => place(target), to })
        }
        Change::Add { at, settles: Some(_), .. } => {
            filled("page.edit_settled", context! { at => at.to_string() })
        }
        Change::Add { at, .. } => filled("page.edit_added", context! { at => at.to_string() }),
        Change::Dismiss { target } => {
            filled("page.edit_dismissed", context! { at => at_of(target) })
        }
        Change::Undo { target } => {
            let whole = events.iter().find(|stored| stored.id == *target);
            match whole.map(|stored| &stored.content) {
                Some(Content::Edit(edit)) if !matches!(edit.change, Change::Undo { .. }) => {
                    let what = what(&edit.change, events);
                    filled("page.edit_undone", context! { what })
                }
                _ => text("page.edit_redone"),
            }
        }
        Change::Film { name, .. } => filled("page.edit_film", context! { name }),
        Change::Scored { at, .. } => filled("page.edit_scored", context! { at => at.to_string() }),
    }
}
