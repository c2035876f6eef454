//! A note for whoever trains next, made from the log.

use jiff::civil::Date;
use serde::Serialize;

use super::Past;
use super::body::Train;
use super::next::{Moves, Next};
use crate::wording::Wording;

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
    lines.extend(warnings.iter().map(|warning| capital(warning)));
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
    let told = |lines| HandOver {
        animal: past.animal.clone(),
        behaviour: next.behaviour.clone(),
        latest: latest.map(|session| session.day),
        by: latest.and_then(|session| session.person.clone()),
        lines,
    };
    if next.train == Train::NotAtAll {
        return told(lines);
    }
    let way = match next.work.moves {
        Moves::Begin => "Begin with",
        Moves::Up => "Go up to",
        Moves::Stay => "Stay at",
        Moves::Back => "Go back to",
    };
    lines.push(format!(
        "{way} step {}, {}: {}.",
        next.work.step, next.work.name, next.work.reason.because
    ));
    if let Some(warm) = &next.warm_up {
        lines.push(format!("Safe to fall back on: step {}, {}.", warm.step, warm.name));
    }
    if let Some(change) = &next.change {
        let ways: Vec<&str> = change.ways.iter().map(|fitting| fitting.way.said()).collect();
        lines.push(format!(
            "Two full sessions without progress at step {}. Try {}.",
            change.step,
            ways.join(", or ")
        ));
    }
    lines.extend(next.watch.iter().map(|tip| format!("Watch {}.", tip.says)));
    told(lines)
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str())
}
