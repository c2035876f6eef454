//! One session as a page shows it: plain data, ready for a template.

mod data;
mod drawn;
mod edits;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::labels;
use crate::at::At;
use crate::plan::{Plan, Words};
use crate::session::{Derived, Event, Input};
use crate::store::{
    Change, Content, EventId, Folded, FoldedRep, MarkKind, SessionRow, Stored, Target,
};
use crate::wording::Wording;

pub use data::{
    DoubtView, EditView, FilmView, Head, NudgeView, RepView, ScoringView, SessionView, TimedText,
};
pub(crate) use edits::undone;

/// The head of a session.
pub fn head(row: &SessionRow) -> Head {
    let minutes = row.active.as_secs_f64() / 60.0;
    Head {
        id: row.id.to_string(),
        animal_id: row.animal_id.to_string(),
        animal: row.animal.clone(),
        species: row.species.clone(),
        behaviour: row.behaviour.clone(),
        when: local(row.began, row.offset_s),
        day: row.day.to_string(),
        length: labels::clock(row.active),
        tries: row.tries(),
        rate: (minutes > 0.0).then(|| labels::number(f64::from(row.rewarded) / minutes)),
        unsure: row.unsure,
        edits: row.edits,
        step: row.last_step,
        person: row.person.clone(),
        place: row.place.clone(),
        source: row.source.name(),
        finished: row.ended.is_some(),
        several: row.sitting.is_some(),
    }
}

/// Everything that a session's page shows.
pub fn session(row: &SessionRow, plan: &Plan, folded: &Folded, events: &[Stored]) -> SessionView {
    let wording = Wording::english();
    let reps: Vec<RepView> =
        (1..).zip(&folded.reps).map(|(number, rep)| rep_view(number, rep, &plan.words)).collect();
    let waiting = |id: EventId| {
        folded.marks.iter().any(|mark| mark.kind == MarkKind::Doubt && mark.event == id)
    };
    let mut doubts = Vec::new();
    let mut nudges = Vec::new();
    let mut notes = Vec::new();
    for stored in events {
        let (at_s, at) = (stored.at.as_secs_f64(), stored.at.to_string());
        match &stored.content {
            Content::Event(Event::Input(Input::Doubted { words, other })) if waiting(stored.id) => {
                let (id, words, other) = (stored.id.to_string(), words.clone(), other.to_string());
                doubts.push(DoubtView { id, at_s, at, words, other });
            }
            Content::Event(Event::Input(Input::Noted { text })) => {
                notes.push(TimedText { at_s, at, text: text.clone() });
            }
            Content::Event(Event::Derived(Derived::Nudged { nudge, reason })) => {
                let input = |q: &crate::session::Quantity| {
                    format!("{} {} {}", q.name, labels::number(q.value), q.unit).trim().to_owned()
                };
                nudges.push(NudgeView {
                    at_s,
                    at,
                    means: wording.nudge(*nudge).to_owned(),
                    because: reason.because.clone(),
                    inputs: reason.inputs.iter().map(input).collect(),
                    method: reason.method.clone(),
                    source: reason.source.clone(),
                });
            }
            _ => {}
        }
    }
    let mood = |mark: &crate::store::Mark| TimedText {
        at_s: mark.at.as_secs_f64(),
        at: mark.at.to_string(),
        text: mark.name.clone(),
    };
    let moods: Vec<TimedText> =
        folded.marks.iter().filter(|mark| mark.kind == MarkKind::Mood).map(mood).collect();
    let end_s = events.iter().map(|stored| stored.at.as_secs_f64()).fold(0.0, f64::max);
    let timeline = drawn::timeline(&reps, folded, &moods, &doubts, &notes, end_s);
    let mut summary = folded.summary.clone();
    summary.was_begun_by(row.person.as_deref());
    SessionView {
        head: head(row),
        also: wording.also(&summary),
        summary,
        tries: wording.tries(folded.summary.tries),
        length: labels::clock(folded.active),
        steps: plan.steps.iter().map(|step| step.name.clone()).collect(),
        rate: drawn::rate(plan, folded, &nudges, end_s),
        timeline,
        reps,
        doubts,
        nudges,
        moods,
        notes,
        edits: edits::edits(events, row.offset_s),
        film: film(events),
        scorings: edits::scorings(events),
        seen: events.len(),
    }
}

fn rep_view(number: usize, folded: &FoldedRep, plan_words: &Words) -> RepView {
    let rep = &folded.rep;
    let seconds = |span: std::time::Duration| labels::number(span.as_secs_f64());
    RepView {
        number,
        target: target_name(folded),
        at_s: rep.at.as_secs_f64(),
        at: rep.at.to_string(),
        step: rep.step,
        working: rep.working,
        outcome: labels::went(rep, plan_words),
        rewarded: rep.rewarded(),
        side: rep.side.map(labels::side),
        latency: rep.latency.map(seconds),
        held: rep.duration.map(seconds),
        edited: folded.edited,
        words: labels::rep(number, rep, plan_words),
    }
}

/// How forms name a rep: `e` and its event, or `t` and its nanoseconds.
fn target_name(rep: &FoldedRep) -> String {
    match rep.event {
        Some(event) => format!("e{event}"),
        None => format!("t{}", rep.rep.at.as_nanos()),
    }
}

/// The rep that a form names.
pub fn target(name: &str) -> Option<Target> {
    match name.split_at_checked(1)? {
        ("e", id) => id.parse().ok().map(Target::Event),
        ("t", nanos) => nanos.parse::<u64>().ok().map(|nanos| Target::At(At::from(nanos))),
        _ => None,
    }
}

/// Where the film lies by the latest word on it.
pub fn film(events: &[Stored]) -> Option<FilmView> {
    events.iter().rev().find_map(|stored| match &stored.content {
        Content::Edit(edit) => match &edit.change {
            Change::Film { name, offset_s, drift_ppm, error_ms } => Some(FilmView {
                name: name.clone(),
                offset_s: *offset_s,
                drift_ppm: *drift_ppm,
                error_ms: *error_ms,
            }),
            _ => None,
        },
        Content::Event(_) => None,
    })
}

/// Local day and time of a moment.
pub(crate) fn local(moment: Timestamp, offset_s: i32) -> String {
    let offset = jiff::tz::Offset::from_seconds(offset_s).unwrap_or(jiff::tz::Offset::UTC);
    let zoned = jiff::ZonedDateTime::new(moment, TimeZone::fixed(offset));
    zoned.strftime("%a %-d %b %Y, %H:%M").to_string()
}
