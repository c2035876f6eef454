//! The plan should change at a step that gains no more or hardly comes ([`crate::decide`] says when): the ways that fit.

use jiff::civil::{Date, Time};
use serde::Serialize;

use super::course::Course;
use super::{quantities, standing};
use crate::decide;
use crate::plan::{Advice, Dimension, RewardValue};
use crate::sentences::{because, says};
use crate::session::Reason;

/// Latest sessions that the ways are read from.
const SESSIONS: usize = 2;
/// Sessions of this many days tell whether it works much.
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
    pub fn said(self) -> String {
        let way = match self {
            Way::SmallerStep => "smaller_step",
            Way::BetterReward => "better_reward",
            Way::FewerDistractions => "fewer_distractions",
            Way::AnotherTime => "another_time",
            Way::Rest => "rest",
            Way::Capture => "capture",
        };
        says("way", &[], &[("way", way)])
    }
}

impl Change {
    /// The ways that fit, in words.
    pub fn ways_said(&self) -> String {
        let ways: Vec<String> = self.ways.iter().map(|fitting| fitting.way.said()).collect();
        says("ways", &[], &[("ways", &ways.join("|"))])
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

/// A way and why it fits, by the template of this name.
fn fitting(way: Way, name: &str, inputs: &[(&str, f64, &str)]) -> Fitting {
    Fitting { way, because: because(name, &quantities(inputs), &[]) }
}

fn ways(course: &Course, working: u8, share: f64, advice: &Advice, today: Date) -> Vec<Fitting> {
    let mut ways = Vec::new();
    if share < advice.ease_below {
        ways.push(fitting(Way::SmallerStep, "smaller_step", &[("share met", share, "")]));
    } else if working > 1 {
        ways.push(fitting(Way::SmallerStep, "smaller_step", &[]));
    }
    let recent = course.sessions.iter().rev().take(SESSIONS).flat_map(|trained| &trained.tries);
    let paid: Vec<RewardValue> = recent.filter_map(super::course::Placed::paid).collect();
    let low = paid.iter().filter(|value| **value == RewardValue::Low).count();
    if 2 * low >= paid.len() && !paid.is_empty() {
        let counts = [("low", low as f64, ""), ("rewards", paid.len() as f64, "")];
        ways.push(fitting(Way::BetterReward, "better_reward", &counts));
    }
    let rung = course.present.rung(working);
    let places = distinct(course, |trained| trained.session.place.as_deref());
    let raises = rung.is_some_and(|rung| {
        matches!(rung.dimension, Dimension::Distraction | Dimension::Place | Dimension::Person)
    });
    if raises {
        ways.push(fitting(Way::FewerDistractions, "fewer_distractions", &[]));
    } else if places > 1 {
        ways.push(fitting(
            Way::FewerDistractions,
            "fewer_distractions",
            &[("places", places as f64, "")],
        ));
    }
    // A rest is for an animal that works much now, not for one that rested.
    let within = |day: Date, days: i32| today.since(day).is_ok_and(|span| span.get_days() < days);
    let week =
        course.sessions.iter().rev().take_while(|trained| within(trained.session.day, WEEK_DAYS));
    let (sessions, declined) =
        week.fold((0, 0), |(n, d), t| (n + 1, d + usize::from(t.session.declined_s.is_some())));
    let another_time = better_time(course, working);
    ways.extend(another_time.map(|because| Fitting { way: Way::AnotherTime, because }));
    if sessions >= 7 || (sessions > 0 && 2 * declined > sessions) {
        let counts = [("sessions", sessions as f64, ""), ("declined", declined as f64, "")];
        ways.push(fitting(Way::Rest, "rest", &counts));
    }
    if share < 0.2 {
        ways.push(fitting(Way::Capture, "capture", &[]));
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
    const BANDS: [&str; 3] = ["morning", "afternoon", "evening"];
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
    let counts = [
        ("met", f64::from(bands[best].0), ""),
        ("tries", f64::from(bands[best].1), ""),
        ("met usually", f64::from(bands[usual].0), ""),
        ("tries usually", f64::from(bands[usual].1), ""),
    ];
    let words = [("best", BANDS[best]), ("usual", BANDS[usual])];
    Some(because("another_time", &quantities(&counts), &words))
}
