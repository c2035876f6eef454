//! A note for whoever trains next, made from the log.

use jiff::civil::Date;
use serde::Serialize;

use super::Wording;
use crate::history::body::Train;
use crate::history::next::Next;
use crate::history::{AnimalHistory, capital};
use crate::sentences::says;
use crate::session::Quantity;

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
pub fn note(history: &AnimalHistory, next: &Next) -> HandOver {
    let latest = history.of(&next.behaviour).next_back();
    let mut lines = Vec::new();
    let warnings = Wording::english().warnings(&history.animal, &next.alarms);
    lines.extend(warnings.iter().map(|warning| sentence(warning)));
    if let Some(session) = latest {
        let met = session.tries.iter().filter(|one| one.met()).count();
        let end = match (session.declined_s, session.ended_well) {
            (Some(_), _) => "declined",
            (None, true) => "well",
            (None, false) => "miss",
        };
        let words = [
            ("day", session.day.to_string()),
            ("person", session.person.clone().unwrap_or_default()),
            ("tries", Wording::english().tries(session.counted())),
            ("end", end.to_owned()),
        ];
        let words = words.each_ref().map(|(name, word)| (*name, word.as_str()));
        lines.push(says("last_trained", &[Quantity::new("met", met as f64, "tries")], &words));
    } else {
        lines.push(says("last_trained", &[], &[]));
    }
    let note = |lines| HandOver {
        animal: history.animal.clone(),
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
        let most = [
            Quantity::new("seconds", next.length.planned_s, "s"),
            Quantity::new("reps", f64::from(next.length.planned_reps), ""),
        ];
        lines.push(says("at_most", &most, &[]));
    }
    lines.extend(next.warm_up.iter().map(|warm| sentence(&wording.fall_back(warm))));
    if let Some(change) = &next.change {
        let step = Quantity::new("step", f64::from(change.step), "");
        let ways = change.ways_said();
        let words = [("because", change.reason.because.as_str()), ("ways", &ways)];
        lines.push(says("no_progress", &[step], &words));
    }
    lines.extend(next.watch.iter().map(|tip| says("watch", &[], &[("says", &tip.says)])));
    note(lines)
}

fn sentence(text: &str) -> String {
    format!("{}.", capital(text))
}
