//! One session as a page shows it: plain data, ready for a template.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::chart::{self, RateLine, Sign, TimelineRep};
use super::words;
use crate::at::At;
use crate::plan::Plan;
use crate::session::{Derived, Event, Input, Summary};
use crate::store::{
    Change, Content, EventId, Folded, FoldedRep, MarkKind, SessionRow, Stored, Target,
};
use crate::wording::Wording;

/// A session, everything that its page shows.
#[derive(Debug, Clone, Serialize)]
pub struct SessionView {
    /// Its head.
    pub head: Head,
    /// In numbers.
    pub summary: Summary,
    /// Length, pauses left out.
    pub length: String,
    /// Names of the steps, in order.
    pub steps: Vec<String>,
    /// Reps in order of time.
    pub reps: Vec<RepView>,
    /// Tags to settle.
    pub doubts: Vec<DoubtView>,
    /// Nudges with their reasons.
    pub nudges: Vec<NudgeView>,
    /// States of the animal.
    pub moods: Vec<Line>,
    /// Notes, whole.
    pub notes: Vec<Line>,
    /// Corrections, latest first.
    pub edits: Vec<EditView>,
    /// Where its film lies.
    pub film: Option<FilmView>,
    /// Second scorings.
    pub scorings: Vec<ScoringView>,
    /// Number of events, to notice what others changed in the meantime.
    pub seen: usize,
    /// Timeline, as SVG.
    pub timeline: String,
    /// Rate over time, as SVG.
    pub rate: String,
}

/// What stands in a list of sessions.
#[derive(Debug, Clone, Serialize)]
pub struct Head {
    /// Key.
    pub id: String,
    /// Animal's key.
    pub animal_id: String,
    /// Animal.
    pub animal: String,
    /// Species.
    pub species: String,
    /// Behaviour.
    pub behaviour: String,
    /// Local day and time.
    pub when: String,
    /// Local day.
    pub day: String,
    /// Length.
    pub length: String,
    /// Rewarded reps.
    pub rewarded: u32,
    /// Misses.
    pub missed: u32,
    /// Rewards per minute.
    pub rate: Option<String>,
    /// Tags to settle.
    pub unsure: u32,
    /// Edits that count.
    pub edits: u32,
    /// Step at the end.
    pub step: u8,
    /// Who trained.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// How it was recorded.
    pub source: &'static str,
    /// Whether it has an end.
    pub finished: bool,
}

/// A rep in the table.
#[derive(Debug, Clone, Serialize)]
pub struct RepView {
    /// Its place, from 1.
    pub number: usize,
    /// How forms name it.
    pub target: String,
    /// Seconds since the first sample.
    pub at_s: f64,
    /// The same as minutes and seconds.
    pub at: String,
    /// Step reached.
    pub step: u8,
    /// Step worked on.
    pub working: u8,
    /// low, high, jackpot, miss…
    pub outcome: &'static str,
    /// Whether it was rewarded.
    pub rewarded: bool,
    /// Side.
    pub side: Option<&'static str>,
    /// Seconds from cue to marker.
    pub latency: Option<String>,
    /// Seconds held.
    pub held: Option<String>,
    /// Whether an edit touched it.
    pub edited: bool,
    /// In words, for captions.
    pub words: String,
}

/// A tag to settle.
#[derive(Debug, Clone, Serialize)]
pub struct DoubtView {
    /// Its event.
    pub id: String,
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// What was heard.
    pub words: String,
    /// What else it may have been, or why it did not count.
    pub other: String,
}

/// A nudge and why.
#[derive(Debug, Clone, Serialize)]
pub struct NudgeView {
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// What it means.
    pub means: String,
    /// Why, in a sentence.
    pub because: String,
    /// The numbers behind it.
    pub inputs: Vec<String>,
    /// Method.
    pub method: String,
    /// Source.
    pub source: String,
}

/// A line with its time.
#[derive(Debug, Clone, Serialize)]
pub struct Line {
    /// Seconds since the first sample.
    pub at_s: f64,
    /// Time.
    pub at: String,
    /// Text.
    pub text: String,
}

/// A correction in the history of edits.
#[derive(Debug, Clone, Serialize)]
pub struct EditView {
    /// Its key.
    pub id: String,
    /// When it was made, local.
    pub when: String,
    /// What it did.
    pub what: String,
    /// Who made it.
    pub by: Option<String>,
    /// Why.
    pub why: Option<String>,
    /// Whether it was taken back later.
    pub undone: bool,
}

/// Where the film lies.
#[derive(Debug, Clone, Serialize)]
pub struct FilmView {
    /// The film's name.
    pub name: String,
    /// Film time of the session's first sample.
    pub offset_s: f64,
    /// Drift.
    pub drift_ppm: f64,
    /// Half-width of its interval, when found by sound.
    pub error_ms: Option<f64>,
}

/// A second scoring.
#[derive(Debug, Clone, Serialize)]
pub struct ScoringView {
    /// Its key.
    pub id: String,
    /// By whom.
    pub by: String,
    /// Number of reps in it.
    pub count: usize,
}

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
        length: words::clock(row.active),
        rewarded: row.rewarded,
        missed: row.missed,
        rate: (minutes > 0.0).then(|| words::number(f64::from(row.rewarded) / minutes)),
        unsure: row.unsure,
        edits: row.edits,
        step: row.last_step,
        person: row.person.clone(),
        place: row.place.clone(),
        source: row.source.name(),
        finished: row.ended.is_some(),
    }
}

/// Everything that a session's page shows.
pub fn session(row: &SessionRow, plan: &Plan, folded: &Folded, events: &[Stored]) -> SessionView {
    let wording = Wording::english();
    let reps: Vec<RepView> =
        (1..).zip(&folded.reps).map(|(number, rep)| rep_view(number, rep)).collect();
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
                let (id, words, other) = (stored.id.to_string(), words.clone(), other.clone());
                doubts.push(DoubtView { id, at_s, at, words, other });
            }
            Content::Event(Event::Input(Input::Noted { text })) => {
                notes.push(Line { at_s, at, text: text.clone() });
            }
            Content::Event(Event::Derived(Derived::Nudged { nudge, reason })) => {
                let input = |q: &crate::session::Quantity| {
                    format!("{} {} {}", q.name, words::number(q.value), q.unit).trim().to_owned()
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
    let mood = |mark: &crate::store::Mark| Line {
        at_s: mark.at.as_secs_f64(),
        at: mark.at.to_string(),
        text: mark.name.clone(),
    };
    let moods: Vec<Line> =
        folded.marks.iter().filter(|mark| mark.kind == MarkKind::Mood).map(mood).collect();
    let end_s = events.iter().map(|stored| stored.at.as_secs_f64()).fold(0.0, f64::max);
    let timeline = timeline(&reps, folded, &moods, &doubts, &notes, end_s);
    SessionView {
        head: head(row),
        summary: folded.summary.clone(),
        length: words::clock(folded.active),
        steps: plan.steps.iter().map(|step| step.name.clone()).collect(),
        rate: rate(plan, folded, &nudges, end_s),
        timeline,
        reps,
        doubts,
        nudges,
        moods,
        notes,
        edits: edits(events, row.offset_s),
        film: film(events),
        scorings: scorings(events),
        seen: events.len(),
    }
}

fn timeline(
    reps: &[RepView],
    folded: &Folded,
    moods: &[Line],
    doubts: &[DoubtView],
    notes: &[Line],
    end_s: f64,
) -> String {
    let drawn: Vec<TimelineRep> = reps
        .iter()
        .zip(&folded.reps)
        .map(|(view, rep)| TimelineRep {
            at_s: view.at_s,
            step: view.step,
            paid: rep.rep.paid(),
            words: format!("{} at {}", view.words, view.at),
        })
        .collect();
    let sign = |at_s: f64, letter: char, words: String| Sign { at_s, letter, words };
    let mut signs: Vec<Sign> = moods
        .iter()
        .map(|mood| sign(mood.at_s, 'S', format!("state: {}", mood.text)))
        .chain(doubts.iter().map(|doubt| sign(doubt.at_s, '?', format!("unsure: {}", doubt.words))))
        .chain(notes.iter().map(|note| sign(note.at_s, 'N', "note".into())))
        .collect();
    signs.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    chart::timeline(&drawn, &signs, end_s)
}

fn rate(plan: &Plan, folded: &Folded, nudges: &[NudgeView], end_s: f64) -> String {
    let rewarded = folded.reps.iter().filter(|rep| rep.rep.rewarded());
    let rewards_s: Vec<f64> = rewarded.map(|rep| rep.rep.at.as_secs_f64()).collect();
    let nudges: Vec<Sign> = nudges
        .iter()
        .map(|nudge| Sign {
            at_s: nudge.at_s,
            letter: '!',
            words: format!("{} {}: {}", nudge.at, nudge.means, nudge.because),
        })
        .collect();
    chart::rate(&RateLine {
        rewards_s: &rewards_s,
        window_s: plan.limits.rate_window.as_secs_f64(),
        floor: plan.limits.rate_floor_per_min,
        nudges: &nudges,
        end_s,
    })
}

fn rep_view(number: usize, folded: &FoldedRep) -> RepView {
    let rep = &folded.rep;
    let seconds = |span: std::time::Duration| words::number(span.as_secs_f64());
    RepView {
        number,
        target: target_name(folded),
        at_s: rep.at.as_secs_f64(),
        at: rep.at.to_string(),
        step: rep.step,
        working: rep.working,
        outcome: words::outcome(rep.outcome),
        rewarded: rep.rewarded(),
        side: rep.side.map(words::side),
        latency: rep.latency.map(seconds),
        held: rep.duration.map(seconds),
        edited: folded.edited,
        words: words::rep(number, rep),
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

/// Edits that were taken back; an undo that was itself undone does not count.
pub(crate) fn undone(events: &[Stored]) -> std::collections::BTreeSet<EventId> {
    let mut undone = std::collections::BTreeSet::new();
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

fn scorings(events: &[Stored]) -> Vec<ScoringView> {
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

fn edits(events: &[Stored], offset_s: i32) -> Vec<EditView> {
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
        Change::Remove { target } => format!("removed the rep at {}", place(target)),
        Change::Revise { target, to } => {
            let mut parts = Vec::new();
            parts.extend(to.at.map(|at| format!("time {at}")));
            parts.extend(to.step.map(|step| format!("step {step}")));
            parts.extend(to.outcome.map(|outcome| words::outcome(outcome).to_owned()));
            parts.extend(to.side.map(|side| side.map_or("no side", words::side).to_owned()));
            format!("the rep at {}: {}", place(target), parts.join(", "))
        }
        Change::Add { at, settles: Some(_), .. } => format!("the unsure tag at {at} was a rep"),
        Change::Add { at, .. } => format!("added a rep at {at}"),
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
        Change::Scored { at, .. } => format!("scored a rep at {at}"),
    }
}

/// Local day and time of a moment.
pub(crate) fn local(moment: Timestamp, offset_s: i32) -> String {
    let offset = jiff::tz::Offset::from_seconds(offset_s).unwrap_or(jiff::tz::Offset::UTC);
    let zoned = jiff::ZonedDateTime::new(moment, TimeZone::fixed(offset));
    zoned.strftime("%a %-d %b %Y, %H:%M").to_string()
}
