//! The plan should change at a step that gains no more or hardly comes ([`crate::decide`] says when): the ways that fit.

use jiff::civil::{Date, Time};
use serde::Serialize;

use super::course::Course;
use super::{counted, standing};
use crate::decide;
use crate::plan::{Advice, Dimension, RewardValue};
use crate::session::Reason;

/// Latest sessions that the ways are read from.
const SESSIONS: usize = 2;
/// Sessions of so many days tell whether it works much.
const WEEK_DAYS: i32 = 7;
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

/// Whether the plan should change at the step worked on, as of `today`; `None` while it may gain, is ready, or there is
/// too little to say.
pub fn advise(course: &Course, working: u8, advice: &Advice, today: Date) -> Option<Change> {
    let known = standing::step(course, working, advice, today);
    let reason = decide::stuck(&known, advice)?;
    let full = known.sessions.iter().rev().filter(|(_, tries)| *tries >= advice.tries);
    let (met, tries) =
        full.take(SESSIONS).fold((0, 0), |(met, tries), one| (met + one.0, tries + one.1));
    Some(Change {
        step: working,
        name: course.present.rung(working)?.name.clone(),
        ways: ways(course, working, f64::from(met) / f64::from(tries.max(1)), advice, today),
        reason,
    })
}

fn ways(course: &Course, working: u8, share: f64, advice: &Advice, today: Date) -> Vec<Fitting> {
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
    // A rest is for an animal that works much now, not for one that rested.
    let within = |day: Date, days: i32| today.since(day).is_ok_and(|span| span.get_days() < days);
    let week =
        course.sessions.iter().rev().take_while(|trained| within(trained.session.day, WEEK_DAYS));
    let (sessions, declined) =
        week.fold((0, 0), |(n, d), t| (n + 1, d + usize::from(t.session.declined_s.is_some())));
    if sessions >= 7 || (sessions > 0 && 2 * declined > sessions) {
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
