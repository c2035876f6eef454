//! Success and pace by minute of the session, in the latest sessions and in those before.

use serde::Serialize;

use super::super::course::{Course, Trained};
use super::{LATEST, answer_s, usual};
use crate::stats::{Estimate, Level as Confidence, proportions};

/// Fewer tries, or sessions, of a minute say nothing.
const LEAST_TRIES: u32 = 10;
const LEAST_SESSIONS: usize = 3;
/// Later minutes are not shown one by one.
const MOST_MINUTES: usize = 30;
/// Likeness of two tries of one minute of one session (beta-binomial scatter, Williams 1982, Appl Stat
/// 31:144; the size is an assumption): an interval rests on this much fewer tries.
const ALIKE: f64 = 0.02;

/// Minute by minute.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Minutes {
    /// Of the latest sessions.
    pub latest: Vec<Minute>,
    /// Of as many sessions before them.
    pub before: Vec<Minute>,
    /// How many the latest ones are.
    pub sessions: usize,
    /// Whether times are from the cue to the answer; else from try to try.
    pub from_cue: bool,
}

/// One minute of the session.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Minute {
    /// Which, from 1.
    pub minute: usize,
    /// Share of its tries that met the criterion.
    pub share: Estimate,
    /// Median seconds of a try; `None` where too few were timed.
    pub took_s: Option<Estimate>,
}

pub(super) fn of(course: &Course) -> Minutes {
    let all = &course.sessions;
    let split = all.len().saturating_sub(LATEST);
    let tries = all[split..].iter().flat_map(|trained| &trained.tries);
    let (cued, timed) = tries.fold((0, 0), |(cued, all), one| {
        (cued + usize::from(answer_s(one).is_some()), all + usize::from(one.paid().is_some()))
    });
    let from_cue = 2 * cued > timed;
    Minutes {
        latest: each(&all[split..], from_cue),
        before: each(&all[split.saturating_sub(LATEST)..split], from_cue),
        sessions: all.len() - split,
        from_cue,
    }
}

fn each(sessions: &[Trained], from_cue: bool) -> Vec<Minute> {
    (0..MOST_MINUTES).map_while(|minute| one(sessions, minute, from_cue)).collect()
}

fn one(sessions: &[Trained], minute: usize, from_cue: bool) -> Option<Minute> {
    let (mut met, mut tries, mut there, mut times) = (0_u32, 0_u32, 0_usize, Vec::new());
    for trained in sessions {
        let before = tries;
        let here = |at: f64| (at / 60.0) as usize == minute;
        for one in trained.tries.iter().filter(|one| here(one.was.active_s)) {
            tries += 1;
            met += u32::from(one.met);
            times.extend(if from_cue { answer_s(one) } else { Some(one.took_s) });
        }
        there += usize::from(tries > before);
    }
    if tries < LEAST_TRIES || there < LEAST_SESSIONS {
        return None;
    }
    // This many tries that do not know of each other say as much.
    let each = f64::from(tries) / there as f64;
    let worth = f64::from(tries) / (1.0 + (each - 1.0).max(0.0) * ALIKE);
    let scaled = |count: u32| (f64::from(count) * worth / f64::from(tries)).round() as u32;
    let share = proportions::wilson(scaled(met), scaled(tries), Confidence::NINETY_FIVE).ok()?;
    let share = Estimate { point: f64::from(met) / f64::from(tries), n: tries, ..share };
    let share =
        Estimate { low: share.low.min(share.point), high: share.high.max(share.point), ..share };
    Some(Minute { minute: minute + 1, share, took_s: usual(&times) })
}
