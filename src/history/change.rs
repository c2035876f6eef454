//! When a step gains no more, or hardly comes at all: change the plan, and the ways that fit.
//!
//! Whether it still gains is asked again after every session, and each time could be wrong. What may go
//! wrong is therefore spent (Lan & DeMets 1983, Biometrika 70:659): a good part of it at every fifth full
//! session, where little evidence will do, and almost nothing in between, where it takes much.

use jiff::civil::Time;
use serde::Serialize;

use super::course::Course;
use super::level::{Level, levels};
use super::{counted, reason};
use crate::plan::{Advice, Dimension, RewardValue};
use crate::session::Reason;
use crate::stats::{Level as Confidence, gain, proportions};

/// Every so many full sessions it is looked at closely.
pub const LOOK_EVERY: usize = 5;
/// How sure it must be that it gains no more: at the first close look, at a later one, in between (chosen
/// on tuning seeds of the bench).
const SURE: [f64; 3] = [0.57, 0.68, 0.88];
/// Fewer full sessions than this say nothing of a gain.
const LEAST_SESSIONS: usize = 3;
/// A step that so few tries meet hardly comes.
const HARDLY: f64 = 0.2;
/// Latest sessions that the ways are read from.
const SESSIONS: usize = 2;
/// Least tries at a time of day for it to be compared.
const LEAST_TRIES: u32 = 10;

/// The plan should change at this step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// The step.
    pub step: u8,
    /// Its name.
    pub name: String,
    /// Ways that fit, the likelier ones first.
    pub ways: Vec<Fitting>,
    /// Why.
    pub reason: Reason,
}

/// A way that fits, and why it does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitting {
    /// Which way.
    pub way: Way,
    /// Why it fits here.
    pub because: String,
}

/// Ways to change a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Make the step smaller, or go back one.
    SmallerStep,
    /// Pay better.
    BetterReward,
    /// Fewer distractions, a known place.
    FewerDistractions,
    /// Another time of day.
    AnotherTime,
    /// A rest.
    Rest,
    /// Reward it when it happens by itself.
    Capture,
}

impl Way {
    /// In words.
    pub fn said(self) -> &'static str {
        match self {
            Way::SmallerStep => "a smaller step",
            Way::BetterReward => "a better reward",
            Way::FewerDistractions => "fewer distractions",
            Way::AnotherTime => "another time of day",
            Way::Rest => "a rest of a day or two",
            Way::Capture => "capturing instead",
        }
    }
}

/// Whether the plan should change at the step worked on; `None` while it may gain, or too little to say.
///
/// A session is full when the step had at least as many tries as the plan's advice looks at. A step whose
/// latest full session reached the threshold for raising needs no change.
pub fn advise(course: &Course, working: u8, advice: &Advice) -> Option<Change> {
    let levels = levels(course, working);
    let full: Vec<&Level> = levels.iter().filter(|level| level.tries >= advice.tries).collect();
    let last = full.last()?;
    if f64::from(last.met) / f64::from(last.tries) >= advice.raise_at {
        return None;
    }
    let latest = full.iter().rev().take(SESSIONS);
    let (met, tries) = latest.fold((0, 0), |(met, tries), l| (met + l.met, tries + l.tries));
    let reason = stands_still(&full).or_else(|| hardly_comes(&full, met, tries))?;
    Some(Change {
        step: working,
        name: course.present.rung(working)?.name.clone(),
        ways: ways(course, working, f64::from(met) / f64::from(tries), advice),
        reason,
    })
}

/// It gains no more from session to session.
fn stands_still(full: &[&Level]) -> Option<Reason> {
    let sessions = full.len();
    if sessions < LEAST_SESSIONS {
        return None;
    }
    let sure = match sessions {
        LOOK_EVERY => SURE[0],
        n if n.is_multiple_of(LOOK_EVERY) => SURE[1],
        _ => SURE[2],
    };
    let counts: Vec<(u32, u32)> = full.iter().map(|level| (level.met, level.tries)).collect();
    let found = gain::gain(&counts).ok().filter(|found| found.none >= sure)?;
    let because = format!(
        "it stays near {:.0} % after {sessions} full sessions; {:.0} of 100 steps that went like this gain no more",
        100.0 * found.level,
        100.0 * found.none
    );
    let inputs = [
        ("chance that it gains no more", found.none, ""),
        ("needed to say so now", sure, ""),
        ("level", found.level, ""),
        ("gain expected", found.points, "points a session"),
        ("full sessions", sessions as f64, ""),
    ];
    let method = "level and gain kept session by session, counts as beta-binomial; little is drawn to \
                  the prior, and what may go wrong is spent over the sessions";
    let source = "Rabiner 1989, Proc IEEE 77:257; Williams 1982, Appl Stat 31:144; Lan & DeMets 1983, \
                  Biometrika 70:659";
    Some(Reason {
        probability: Some(found.none),
        ..reason("no_progress", because, &inputs, method, source)
    })
}

/// It is so far from coming that no gain will help soon.
fn hardly_comes(full: &[&Level], met: u32, tries: u32) -> Option<Reason> {
    if full.len() < SESSIONS {
        return None;
    }
    let share = proportions::wilson(met, tries, Confidence::NINETY_FIVE).ok()?;
    if share.high >= HARDLY {
        return None;
    }
    let because = format!("the latest two full sessions met the criterion {met} of {tries} times");
    let inputs = [
        ("met in the latest two", f64::from(met), "tries"),
        ("tries in the latest two", f64::from(tries), "tries"),
        ("at most", share.high, ""),
    ];
    let method = "upper end of Wilson's 95 % interval below 20 %";
    Some(reason("hardly_comes", because, &inputs, method, "Wilson 1927, JASA 22:209"))
}

fn ways(course: &Course, working: u8, share: f64, advice: &Advice) -> Vec<Fitting> {
    let mut ways = Vec::new();
    let mut fits = |way, because: String| ways.push(Fitting { way, because });
    if share < advice.ease_below {
        fits(Way::SmallerStep, format!("only {:.0} % meet the criterion now", 100.0 * share));
    } else if working > 1 {
        fits(
            Way::SmallerStep,
            "a step between this one and the one before keeps rewards coming".into(),
        );
    }
    let recent = course.sessions.iter().rev().take(SESSIONS).flat_map(|trained| &trained.tries);
    let paid: Vec<RewardValue> = recent.filter_map(super::course::Placed::paid).collect();
    let low = paid.iter().filter(|value| **value == RewardValue::Low).count();
    if 2 * low >= paid.len() && !paid.is_empty() {
        fits(
            Way::BetterReward,
            format!("{low} of the latest {} rewards were low ones", paid.len()),
        );
    }
    let rung = course.present.rung(working);
    let places = distinct(course, |trained| trained.session.place.as_deref());
    let raises = rung.is_some_and(|rung| {
        matches!(rung.dimension, Dimension::Distraction | Dimension::Place | Dimension::Person)
    });
    if raises || places > 1 {
        let because = if raises {
            "the step itself raises what goes on around".to_owned()
        } else {
            format!("the latest sessions were in {places} places")
        };
        fits(Way::FewerDistractions, because);
    }
    if let Some(because) = better_time(course, working) {
        fits(Way::AnotherTime, because);
    }
    let latest = course.latest_day();
    let week = course.sessions.iter().rev().take_while(|trained| {
        let span = latest.and_then(|day| day.since(trained.session.day).ok());
        span.is_some_and(|span| span.get_days() < 7)
    });
    let (sessions, declined) =
        week.fold((0, 0), |(n, d), t| (n + 1, d + usize::from(t.session.declined_s.is_some())));
    if sessions >= 7 || 2 * declined > sessions {
        let of_week = counted(sessions, "session", "sessions");
        fits(Way::Rest, format!("{of_week} within a week, {declined} of them with a decline"));
    }
    if share < 0.2 {
        fits(
            Way::Capture,
            "it hardly comes when asked for; reward it when it comes by itself".into(),
        );
    }
    ways
}

fn distinct<'a>(
    course: &'a Course,
    of: impl Fn(&'a super::course::Trained<'a>) -> Option<&'a str>,
) -> usize {
    let mut seen: Vec<&str> = course.sessions.iter().rev().take(4).filter_map(of).collect();
    seen.sort_unstable();
    seen.dedup();
    seen.len()
}

/// The time of day at which the step went best, when the usual one is at least a tenth worse.
fn better_time(course: &Course, working: u8) -> Option<String> {
    const BANDS: [&str; 3] = ["in the morning", "in the afternoon", "in the evening"];
    let band = |clock: Time| match clock.hour() {
        0..12 => 0,
        12..17 => 1,
        _ => 2,
    };
    let mut bands = [(0_u32, 0_u32); 3];
    for trained in &course.sessions {
        let here = &mut bands[band(trained.session.clock)];
        for one in trained.tries.iter().filter(|one| one.working == Some(working)) {
            *here = (here.0 + u32::from(one.met), here.1 + 1);
        }
    }
    let share = |(met, tries): (u32, u32)| f64::from(met) / f64::from(tries);
    let enough = |index: &usize| bands[*index].1 >= LEAST_TRIES;
    let usual = band(course.sessions.last()?.session.clock);
    let best =
        (0..3).filter(enough).max_by(|a, b| share(bands[*a]).total_cmp(&share(bands[*b])))?;
    if !enough(&usual) || share(bands[best]) < share(bands[usual]) + 0.1 {
        return None;
    }
    Some(format!(
        "{} it met the criterion {} of {} times, {} {} of {}",
        BANDS[best], bands[best].0, bands[best].1, BANDS[usual], bands[usual].0, bands[usual].1
    ))
}
