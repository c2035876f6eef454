//! How long to go on: the time by which a quarter of the sessions had declined. Nobody sees the moment of a
//! decline, and what was alarmed is not what happened: each session is looked back at as a whole, and says
//! how likely it had declined by each moment.

use serde::Serialize;

use super::found::unknown;
use super::{AnimalHistory, Found, Session, reason};
use crate::plan::{Limits, RewardValue};
use crate::sentences::because;
use crate::session::Reason;
use crate::stats::lasting::Lasting;
use crate::stats::lookback::{Finished, Seen};
use crate::stats::{Estimate, StatsError};

/// Share of sessions that may have declined by the planned end (common practice, no source).
pub const QUANTILE: f64 = 0.25;
/// Fewer sessions than this, and the animal's other behaviours are taken in (common practice, no source).
const LEAST_SESSIONS: usize = 8;
/// Fewer sessions than this altogether, and the plan's cap stands.
const LEAST_POOLED: usize = 5;
/// So likely must it be that the sessions saw a quarter of them decline; else nobody knows how long it stays
/// good, for an animal that never tires has days that look as if it had, too (chosen on tuning laws).
const SEEN: f64 = 0.8;
/// Latest sessions that count: an animal changes.
pub const LATEST: usize = 60;
/// Latest sessions that tell how it goes lately.
const LATELY: usize = 5;
/// Pieces that a curve is drawn of.
const PIECES: usize = 40;
/// The resamples of the bounds are drawn from this seed, so that a record always gives the same ones.
const SEED: u64 = 17;

/// How long to go on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Length {
    /// Planned seconds, never above the plan's cap.
    pub planned_s: f64,
    /// Planned reps, never above the plan's.
    pub planned_reps: u32,
    /// Seconds by which a quarter had declined, with its interval; not yet when too few declined.
    pub until_decline_s: Found<Quarter>,
    /// The same counted in tries.
    pub until_decline_tries: Found<Quarter>,
    /// Sessions it rests on.
    pub sessions: usize,
    /// How many of them had declined before their end, as far as can be told by looking back.
    pub declined: f64,
    /// Whether other behaviours of the animal were taken in.
    pub pooled: bool,
    /// Chance to last to the planned end without decline; not known when no session went on that long, or
    /// none to a decline.
    pub lasts: Found<Estimate>,
    /// Of this behaviour's latest sessions, how many had declined before their end, looking back; `None` while too
    /// little is known to look back by.
    pub lately: Option<Lately>,
    /// What a curve is drawn from; `None` while how long it stays good is not known.
    #[serde(skip)]
    pub tiring: Option<Tiring>,
    /// Why.
    pub reason: Reason,
}

/// How the latest sessions went on to their end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lately {
    /// How many had declined, as far as can be told.
    pub declined: f64,
    /// How many they are.
    pub sessions: usize,
}

/// How good work lasts.
#[derive(Debug, Clone, PartialEq)]
pub struct Tiring {
    /// Seconds, and the share of sessions that stay good for longer, up to the end of the longest one.
    pub curve: Vec<(f64, Estimate)>,
    /// Each session's seconds, and the chance that it had declined before its end.
    pub sessions: Vec<(f64, f64)>,
}

/// When a quarter had declined; an end beyond the longest session is missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quarter {
    /// The time or count.
    pub point: f64,
    /// Lower end at 95 %.
    pub low: Option<f64>,
    /// Upper end at 95 %.
    pub high: Option<f64>,
}

/// How long to go on with a behaviour.
pub fn advise(history: &AnimalHistory, behaviour: &str, limits: &Limits) -> Length {
    let usable = |session: &&Session| session.active_s > 0.0 && !session.tries.is_empty();
    let mut own: Vec<&Session> = history.of(behaviour).filter(usable).collect();
    own.drain(..own.len().saturating_sub(LATEST));
    let mut all: Vec<&Session> = history.sessions.iter().filter(usable).collect();
    all.drain(..all.len().saturating_sub(LATEST));
    let few = own.len() < LEAST_SESSIONS;
    let pooled = few && all.iter().any(|session| session.behaviour != behaviour);
    let rests_on = if pooled { all } else { own };
    let cap = limits.planned.as_secs_f64().max(1.0);
    let lasting = lasting(&rests_on, cap);
    let until_decline_s = match &lasting {
        Ok(lasting) => quarter(lasting),
        Err(why) => Found::NotYet(why.clone()),
    };
    let planned_s = until_decline_s.known().map_or(cap, |q| q.point.min(cap)).max(1.0);
    let until_decline_tries = tries_by(&until_decline_s, &rests_on);
    let cap_reps = limits.planned_reps;
    let planned_reps = until_decline_tries
        .known()
        .map_or(cap_reps, |q| (q.point.floor() as u32).clamp(1, cap_reps));
    let declined = lasting.as_ref().map_or(0.0, |lasting| lasting.declined);
    let lately = lasting.as_ref().ok().and_then(|lasting| lately(lasting, &rests_on, behaviour));
    let tiring = lasting.as_ref().ok().and_then(|lasting| tiring(lasting, &rests_on));
    let lasts = match lasting {
        Err(why) => Found::NotYet(why),
        Ok(lasting) => match never_so_long(&lasting, planned_s) {
            Some(why) => Found::NotYet(why),
            None => Found::Known(lasting.lasts(planned_s)),
        },
    };
    let reason = why(&until_decline_s, rests_on.len(), declined, pooled, cap);
    Length {
        planned_s,
        planned_reps,
        until_decline_s,
        until_decline_tries,
        sessions: rests_on.len(),
        declined,
        pooled,
        lasts,
        lately,
        tiring,
        reason,
    }
}

/// How long these sessions stayed good, or why that cannot be said.
fn lasting(sessions: &[&Session], expected_s: f64) -> Result<Lasting, String> {
    if sessions.len() < LEAST_POOLED {
        let (needed, got) = (LEAST_POOLED, sessions.len());
        return Err(unknown(&StatsError::TooFew { what: "sessions", needed, got }));
    }
    let finished: Vec<Finished> = sessions.iter().map(|session| finished(session)).collect();
    Lasting::of(&finished, expected_s, SEED).map_err(|error| unknown(&error))
}

/// A session as it is looked back at. The time of a try is from the cue where one was given, else from the
/// try before; a miss after a cue tells when the trainer gave up, and eating a jackpot takes any time.
pub(crate) fn finished(session: &Session) -> Finished {
    let mut before: Option<(f64, Option<RewardValue>)> = None;
    let tries = session
        .tries
        .iter()
        .map(|one| {
            let gap = before.and_then(|(at, paid)| {
                let kind = match paid {
                    None => 0,
                    Some(RewardValue::Low) => 1,
                    Some(RewardValue::High) => 2,
                    Some(RewardValue::Jackpot) => return None,
                };
                Some((one.active_s - at, kind))
            });
            let timed = match (one.latency_s, one.paid) {
                (Some(latency), Some(_)) => Some((latency, 3)),
                (Some(_), None) => None,
                (None, _) => gap,
            };
            before = Some((one.active_s, one.paid));
            Seen {
                at_s: one.active_s,
                took_s: timed.map(|(took, _)| took),
                kind: timed.map_or(0, |(_, kind)| kind),
                met: one.met(),
            }
        })
        .collect();
    Finished { tries, ended_s: session.active_s }
}

fn lately(lasting: &Lasting, sessions: &[&Session], behaviour: &str) -> Option<Lately> {
    let own =
        sessions.iter().zip(&lasting.each).rev().filter(|(one, _)| one.behaviour == behaviour);
    let latest: Vec<f64> = own.take(LATELY).map(|(_, declined)| *declined).collect();
    let (declined, sessions) = (latest.iter().sum(), latest.len());
    (sessions == LATELY).then_some(Lately { declined, sessions })
}

fn tiring(lasting: &Lasting, sessions: &[&Session]) -> Option<Tiring> {
    if never_so_long(lasting, 0.0).is_some() {
        return None;
    }
    let at = |piece: usize| lasting.longest_s * piece as f64 / PIECES as f64;
    Some(Tiring {
        curve: (0..=PIECES).map(|piece| (at(piece), lasting.lasts(at(piece)))).collect(),
        sessions: sessions
            .iter()
            .map(|one| one.active_s)
            .zip(lasting.each.iter().copied())
            .collect(),
    })
}

/// Why nothing can be said of so long a time.
fn never_so_long(lasting: &Lasting, seconds: f64) -> Option<String> {
    if lasting.seen(QUANTILE) < SEEN {
        Some(because("never_declined", &[], &[]))
    } else if seconds > lasting.longest_s {
        Some(because("never_so_long", &[], &[]))
    } else {
        None
    }
}

fn quarter(lasting: &Lasting) -> Found<Quarter> {
    let by = lasting.time_by(QUANTILE);
    if let Some(why) = never_so_long(lasting, by.point) {
        return Found::NotYet(why);
    }
    let end = |end: f64| (end <= lasting.longest_s).then_some(end);
    Found::Known(Quarter { point: by.point, low: end(by.low), high: end(by.high) })
}

/// The tries of a usual session up to those seconds.
fn tries_by(seconds: &Found<Quarter>, sessions: &[&Session]) -> Found<Quarter> {
    let quarter = match seconds {
        Found::Known(quarter) => quarter,
        Found::NotYet(why) => return Found::NotYet(why.clone()),
    };
    let by = |seconds: f64| {
        let so_long = sessions.iter().filter(|session| session.active_s >= seconds);
        let tries = so_long.map(|session| {
            session.tries.iter().filter(|one| one.active_s <= seconds).count() as f64
        });
        super::level::median(tries)
    };
    match by(quarter.point) {
        Some(point) => Found::Known(Quarter {
            point,
            low: quarter.low.and_then(by),
            high: quarter.high.and_then(by),
        }),
        None => Found::NotYet(because("never_so_long", &[], &[])),
    }
}

fn why(quarter: &Found<Quarter>, sessions: usize, declined: f64, pooled: bool, cap: f64) -> Reason {
    let (says, not_yet) = match quarter {
        Found::Known(q) if q.point >= cap => ("limit_first", ""),
        Found::Known(_) => ("quarter", ""),
        Found::NotYet(why) => ("not_yet", why.as_str()),
    };
    let pooled = if pooled { "pooled" } else { "" };
    let mut inputs = vec![
        ("sessions", sessions as f64, ""),
        ("declined before the end, looking back", declined, "sessions"),
        ("the plan's limit", cap, "s"),
    ];
    if let Some(q) = quarter.known() {
        inputs.push(("a quarter had declined by", q.point, "s"));
    }
    let method = "each session looked back at for when a decline began; the law of those moments by EM over soft \
                  onsets, bounds at 95 % by its posterior averaged over resamples of the sessions; quantile 0.25";
    let source = "Turnbull 1976, J R Stat Soc B 38:290; Dempster, Laird & Rubin 1977, J R Stat Soc B 39:1; \
                  Huggins & Miller 2019, arXiv:1912.07104";
    reason(
        "how_long",
        ("how_long", &[("says", says), ("why", not_yet), ("pooled", pooled)]),
        &inputs,
        method,
        source,
    )
}
