//! When a step gains no more, or hardly comes at all.
//!
//! Whether it still gains is asked again after every session, and each time could be wrong. What may go
//! wrong is therefore spent (Lan & DeMets 1983, Biometrika 70:659): a good part of it at every fifth full
//! session, where little evidence will do, and almost nothing in between, where it takes much.

use super::Known;
use crate::plan::Advice;
use crate::reason::{Quantity, Reason};
use crate::sentences::because;
use crate::stats::{Level, gain, proportions};

/// After each run of this many full sessions it is looked at closely.
const LOOK_EVERY: usize = 5;
/// How sure it must be that it gains no more: at the first close look, at a later one, in between (chosen
/// on tuning seeds of the bench).
const SURE: [f64; 3] = [0.57, 0.68, 0.88];
/// Fewer full sessions than this say nothing of a gain.
const LEAST_SESSIONS: usize = 3;
/// A step that so few tries meet hardly comes.
const HARDLY: f64 = 0.2;
/// Latest full sessions that tell whether it comes at all.
const LATEST: usize = 2;

/// Why a step gains no more or hardly comes; `None` while it may gain, or too little to say.
///
/// A session is full when the step had at least as many tries as the plan's advice looks at. A step whose
/// latest full session reached the threshold for raising needs no change.
pub(super) fn why(known: &Known, advice: &Advice) -> Option<Reason> {
    let is_full = |(_, tries): &&(u32, u32)| *tries >= advice.tries.max(1);
    let full: Vec<(u32, u32)> = known.sessions.iter().filter(is_full).copied().collect();
    let (met, tries) = *full.last()?;
    if f64::from(met) / f64::from(tries) >= advice.raise_at {
        return None;
    }
    stands_still(&full).or_else(|| hardly_comes(&full))
}

/// It gains no more from session to session.
fn stands_still(full: &[(u32, u32)]) -> Option<Reason> {
    let sessions = full.len();
    if sessions < LEAST_SESSIONS {
        return None;
    }
    let sure = match sessions {
        LOOK_EVERY => SURE[0],
        n if n.is_multiple_of(LOOK_EVERY) => SURE[1],
        _ => SURE[2],
    };
    let found = gain::gain(full).ok().filter(|found| found.none >= sure)?;
    let inputs = vec![
        Quantity::new("chance that it gains no more", found.none, ""),
        Quantity::new("needed to say so now", sure, ""),
        Quantity::new("level", found.level, ""),
        Quantity::new("gain expected", found.points, "points a session"),
        Quantity::new("full sessions", sessions as f64, ""),
    ];
    Some(Reason {
        detector: "no_progress".into(),
        because: because("no_progress", &inputs, &[]),
        inputs,
        probability: Some(found.none),
        method:
            "level and gain kept session by session, counts as beta-binomial; little is drawn to \
                 the prior, and what may go wrong is spent over the sessions"
                .into(),
        source:
            "Rabiner 1989, Proc IEEE 77:257; Williams 1982, Appl Stat 31:144; Lan & DeMets 1983, \
                 Biometrika 70:659"
                .into(),
    })
}

/// It is so far from coming that no gain will help soon.
fn hardly_comes(full: &[(u32, u32)]) -> Option<Reason> {
    if full.len() < LATEST {
        return None;
    }
    let latest = full.iter().rev().take(LATEST);
    let (met, tries) = latest.fold((0_u32, 0_u32), |(met, tries), one| {
        (met.saturating_add(one.0), tries.saturating_add(one.1))
    });
    let share = proportions::wilson(met, tries, Level::NINETY_FIVE).ok()?;
    if share.high >= HARDLY {
        return None;
    }
    let inputs = vec![
        Quantity::new("met in the latest two", f64::from(met), "tries"),
        Quantity::new("tries in the latest two", f64::from(tries), "tries"),
        Quantity::new("at most", share.high, ""),
    ];
    Some(Reason {
        detector: "hardly_comes".into(),
        because: because("hardly_comes", &inputs, &[]),
        inputs,
        probability: None,
        method: "upper end of Wilson's 95 % interval below 20 %".into(),
        source: "Wilson 1927, JASA 22:209".into(),
    })
}
