//! The trainer's own mechanics, from timing that is recorded anyway: how long from cue to cue, how long
//! from the marker to the next cue, how many cues without an answer were never said to be misses.

use serde::Serialize;

use super::super::course::{Course, Part, Trained};
use super::{LATEST, usual};
use crate::stats::{Estimate, Level as Confidence, proportions};

/// Fewer cues than this say nothing.
const LEAST_CUES: u32 = 10;

/// One person's hands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hands {
    /// Who; "not said" where nobody was named.
    pub person: String,
    /// Sessions.
    pub sessions: usize,
    /// Median seconds from cue to cue.
    pub cue_to_cue_s: Option<Estimate>,
    /// Median seconds from the marker to the next cue.
    pub marker_to_cue_s: Option<Estimate>,
    /// Median seconds from the marker to the next marker or miss, where no cue is given.
    pub try_to_try_s: Option<Estimate>,
    /// Share of the cues that were answered by nothing said: no marker, and no miss.
    pub unsaid: Option<Estimate>,
}

pub(super) fn of(course: &Course) -> Vec<Hands> {
    let split = course.sessions.len().saturating_sub(LATEST);
    let latest = &course.sessions[split..];
    let name = |part: &Part| part.person.unwrap_or("not said").to_owned();
    let parts: Vec<Part> = latest.iter().flat_map(Trained::parts).collect();
    let mut names: Vec<String> = parts.iter().map(name).collect();
    names.sort();
    names.dedup();
    names
        .into_iter()
        .map(|person| {
            let own: Vec<&Part> = parts.iter().filter(|part| name(part) == person).collect();
            hands(person, &own)
        })
        .collect()
}

fn hands(person: String, own: &[&Part]) -> Hands {
    let (mut cues, mut answered) = (0_u32, 0_u32);
    let (mut to_cue, mut from_marker, mut to_try) = (Vec::new(), Vec::new(), Vec::new());
    for trained in own {
        // Whose the cues without an answer were in a session that was handed over is not known.
        let answers = trained.tries.iter().filter(|one| one.was.latency_s.is_some()).count();
        cues += if trained.whole { trained.session.cues } else { answers as u32 };
        let (mut last_cue, mut before): (Option<f64>, Option<(f64, bool)>) = (None, None);
        for one in trained.tries {
            let cue = one.was.latency_s.map(|latency| one.was.active_s - latency);
            answered += u32::from(cue.is_some());
            to_cue.extend(cue.zip(last_cue).map(|(cue, last)| cue - last));
            let marked = before.filter(|(_, marked)| *marked).map(|(at, _)| at);
            from_marker.extend(cue.zip(marked).map(|(cue, at)| cue - at).filter(|s| *s > 0.0));
            if let (None, Some(at)) = (cue, marked) {
                to_try.push(one.was.active_s - at);
            }
            last_cue = cue;
            before = Some((one.was.active_s, one.paid().is_some()));
        }
    }
    let unsaid = cues.saturating_sub(answered);
    let share = || proportions::wilson(unsaid, cues, Confidence::NINETY_FIVE).ok();
    Hands {
        person,
        sessions: own.len(),
        cue_to_cue_s: usual(&to_cue),
        marker_to_cue_s: usual(&from_marker),
        try_to_try_s: usual(&to_try),
        unsaid: (cues >= LEAST_CUES).then(share).flatten(),
    }
}
