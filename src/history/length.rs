//! How long to go on: the time by which a quarter of the sessions had declined. Sessions that were ended
//! while still good are not lost: they are counted as watched so far.

use serde::Serialize;

use super::{Found, Past, Session, counted, reason};
use crate::plan::Limits;
use crate::session::Reason;
use crate::stats::Level as Confidence;
use crate::stats::survival::{Band, Curve, TimeBy, Watched};

/// Share of sessions that may have declined by the planned end (common practice, no source).
pub const QUANTILE: f64 = 0.25;
/// Fewer sessions or declines than this, and the animal's other behaviours are taken in
/// (common practice, no source).
const LEAST_SESSIONS: usize = 8;
const LEAST_DECLINES: usize = 3;
/// Fewer sessions than this altogether, and the plan's cap stands.
const LEAST_POOLED: usize = 5;
/// Latest sessions that count: an animal changes.
const LATEST: usize = 60;

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
    /// Declines among them.
    pub declined: usize,
    /// Whether other behaviours of the animal were taken in.
    pub pooled: bool,
    /// Chance to last to the planned end without decline, with Greenwood's interval on the log-log scale.
    pub lasts: Option<crate::stats::Estimate>,
    /// Why.
    pub reason: Reason,
}

/// When a quarter had declined; an end that was not reached is missing.
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
pub fn advise(past: &Past, behaviour: &str, limits: &Limits) -> Length {
    let usable = |session: &&Session| session.active_s > 0.0 && !session.tries.is_empty();
    let mut own: Vec<&Session> = past.of(behaviour).filter(usable).collect();
    own.drain(..own.len().saturating_sub(LATEST));
    let declines = |of: &[&Session]| of.iter().filter(|s| s.declined_s.is_some()).count();
    let few = own.len() < LEAST_SESSIONS || declines(&own) < LEAST_DECLINES;
    let mut all: Vec<&Session> = past.sessions.iter().filter(usable).collect();
    all.drain(..all.len().saturating_sub(LATEST));
    let pooled = few && all.iter().any(|session| session.behaviour != behaviour);
    let rests_on = if pooled { all } else { own };
    let seconds: Vec<Watched> = rests_on.iter().map(|session| watched_s(session)).collect();
    let tries: Vec<Watched> = rests_on.iter().map(|session| watched_tries(session)).collect();
    let until_decline_s = quarter(&seconds);
    let until_decline_tries = quarter(&tries);
    let cap = limits.planned.as_secs_f64();
    let planned_s = until_decline_s.known().map_or(cap, |q| q.point.min(cap)).max(1.0);
    let cap_reps = limits.planned_reps;
    let planned_reps = until_decline_tries
        .known()
        .map_or(cap_reps, |q| (q.point.floor() as u32).clamp(1, cap_reps));
    let lasts = Curve::fit(&seconds)
        .ok()
        .map(|curve| curve.at(planned_s, Band::LogLog, Confidence::NINETY_FIVE));
    let reason = why(&until_decline_s, &rests_on, declines(&rests_on), pooled, cap);
    Length {
        planned_s,
        planned_reps,
        until_decline_s,
        until_decline_tries,
        sessions: rests_on.len(),
        declined: declines(&rests_on),
        pooled,
        lasts,
        reason,
    }
}

fn watched_s(session: &Session) -> Watched {
    match session.declined_s {
        Some(time) => Watched { time: time.clamp(0.0, session.active_s), declined: true },
        None => Watched { time: session.active_s, declined: false },
    }
}

fn watched_tries(session: &Session) -> Watched {
    let until = session.declined_s.unwrap_or(f64::INFINITY);
    let tries = session.tries.iter().filter(|one| one.active_s <= until).count();
    Watched { time: tries as f64, declined: session.declined_s.is_some() }
}

fn quarter(watched: &[Watched]) -> Found<Quarter> {
    if watched.len() < LEAST_POOLED {
        return Found::needs(LEAST_POOLED, watched.len(), "sessions");
    }
    let by = Curve::fit(watched).and_then(|curve| curve.time_by(QUANTILE, Confidence::NINETY_FIVE));
    match by {
        Ok(TimeBy { point: Some(point), low, high, .. }) => {
            Found::Known(Quarter { point, low, high })
        }
        Ok(_) => Found::NotYet(format!("in {} sessions a quarter never declined", watched.len())),
        Err(error) => Found::NotYet(error.to_string()),
    }
}

fn why(
    quarter: &Found<Quarter>,
    rests_on: &[&Session],
    declined: usize,
    pooled: bool,
    cap: f64,
) -> Reason {
    let n = counted(rests_on.len(), "session", "sessions");
    let of = if pooled { " of all behaviours together, as this one has few" } else { "" };
    let because = match quarter {
        Found::Known(q) if q.point >= cap => {
            format!("the plan's limit comes before a quarter had declined, in {n}{of}")
        }
        Found::Known(_) => format!("by then a quarter had declined, in {n}{of}"),
        Found::NotYet(why) => format!("the plan's limit stands: {why}{of}"),
    };
    let mut inputs = vec![
        ("sessions", rests_on.len() as f64, ""),
        ("declined", declined as f64, "sessions"),
        ("the plan's limit", cap, "s"),
    ];
    if let Some(q) = quarter.known() {
        inputs.push(("a quarter had declined by", q.point, "s"));
    }
    reason(
        "how_long",
        because,
        &inputs,
        "Kaplan–Meier curve; sessions ended while good are censored; quantile 0.25",
        "Kaplan & Meier 1958, JASA 53:457; Greenwood 1926; Brookmeyer & Crowley 1982, Biometrics 38:29",
    )
}
