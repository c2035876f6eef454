//! A note for whoever trains next, made from the log.

use jiff::civil::Date;
use serde::Serialize;

use super::{Wording, span};
use crate::history::body::Train;
use crate::history::next::Next;
use crate::history::{Past, capital, counted};

/// The note, as numbers and sentences.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HandOver {
    /// The animal.
    pub animal: String,
    /// The behaviour.
    pub behaviour: String,
    /// Local date of the latest session.
    pub latest: Option<Date>,
    /// Who trained then.
    pub by: Option<String>,
    /// Plain sentences, in order.
    pub lines: Vec<String>,
}

/// Writes the note. What needs attention comes first, and where that keeps the animal from training, no step is named.
pub fn note(past: &Past, next: &Next) -> HandOver {
    let latest = past.of(&next.behaviour).next_back();
    let mut lines = Vec::new();
    let warnings = Wording::english().warnings(&past.animal, &next.alarms);
    lines.extend(warnings.iter().map(|warning| sentence(warning)));
    if let Some(session) = latest {
        let met = session.tries.iter().filter(|one| one.met()).count();
        let who = session.person.as_deref().map_or(String::new(), |person| format!(" by {person}"));
        let end = match (session.declined_s, session.ended_well) {
            (Some(_), _) => "It declined before the end.",
            (None, true) => "It ended on a good one.",
            (None, false) => "It ended on a miss.",
        };
        lines.push(format!(
            "Last trained on {}{who}: {}; {met} met the criterion. {end}",
            session.day,
            Wording::english().tries(session.counted()),
        ));
    } else {
        lines.push("Not trained yet.".into());
    }
    let note = |lines| HandOver {
        animal: past.animal.clone(),
        behaviour: next.behaviour.clone(),
        latest: latest.map(|session| session.day),
        by: latest.and_then(|session| session.person.clone()),
        lines,
    };
    if next.train == Train::NotAtAll {
        return note(lines);
    }
    let wording = Wording::english();
    let told = wording.decision(&next.decision, Some(&next.work.name));
    lines.push(format!("{}: {}.", capital(&told), next.work.reason.because));
    lines.extend(wording.beside(&next.decision).iter().map(|more| sentence(more)));
    if next.treats.reps == 0 {
        lines.push(sentence(&wording.used_up()));
    } else {
        let most = counted(next.length.planned_reps as usize, "rewarded try", "rewarded tries");
        lines.push(format!("At most {} or {most}.", span(next.length.planned_s)));
    }
    lines.extend(next.warm_up.iter().map(|warm| sentence(&wording.fall_back(warm))));
    if let Some(change) = &next.change {
        let ways: Vec<&str> = change.ways.iter().map(|fitting| fitting.way.said()).collect();
        lines.push(format!(
            "No progress at step {}: {}. Try {}.",
            change.step,
            change.reason.because,
            ways.join(", or ")
        ));
    }
    lines.extend(next.watch.iter().map(|tip| format!("Watch {}.", tip.says)));
    note(lines)
}

fn sentence(text: &str) -> String {
    format!("{}.", capital(text))
}
