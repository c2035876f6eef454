//! What the record knows of each step, as [`crate::decide`] wants it.

use jiff::civil::Date;

use super::course::{Course, Placed, Trained};
use super::length::LATEST;
use crate::decide::Known;
use crate::plan::{Advice, Dimension};

/// Every step of the present plan that was tried, as of `today`, from the latest sessions of the behaviour.
pub fn ladder(course: &Course, advice: &Advice, today: Date) -> Vec<Known> {
    latest(course, advice, today, LATEST)
}

/// The same as a session is told of it that begins `today`: with that session it is what [`ladder`] will be.
pub fn before_a_session(course: &Course, advice: &Advice, today: Date) -> Vec<Known> {
    latest(course, advice, today, LATEST - 1)
}

fn latest(course: &Course, advice: &Advice, today: Date, sessions: usize) -> Vec<Known> {
    let from = course.sessions.len().saturating_sub(sessions);
    let sessions = &course.sessions[from..];
    let known = course.numbers().map(|step| of_sessions(course, sessions, step, advice, today));
    known.filter(|known| known.faded.tries > 0).collect()
}

/// What is known of one step.
pub fn step(course: &Course, step: u8, advice: &Advice, today: Date) -> Known {
    let from = course.sessions.len().saturating_sub(LATEST);
    of_sessions(course, &course.sessions[from..], step, advice, today)
}

fn of_sessions(
    course: &Course,
    sessions: &[Trained],
    step: u8,
    advice: &Advice,
    today: Date,
) -> Known {
    let dimension = course.present.rung(step).map_or(Dimension::Form, |rung| rung.dimension);
    let measures = |one: &Placed| match dimension {
        Dimension::Duration => one.was.duration_s.is_some(),
        Dimension::Latency => one.was.latency_s.is_some(),
        _ => false,
    };
    let mut last: Option<Date> = None;
    let mut known = Known::of(step);
    for trained in sessions {
        let fresh = trained.tries.iter().filter(|one| trained.session.is_fresh(&one.was));
        let here = || fresh.clone().filter(|one| one.working == Some(step));
        if here().next().is_none() {
            continue;
        }
        let day = trained.session.day;
        known = last.map_or(known.clone(), |last| known.rested(days(last, day)));
        let measured = here().any(measures);
        known = known.with(here().map(|one| one.met), measured, advice);
        last = Some(day);
    }
    last.map_or(known.clone(), |last| known.rested(days(last, today)))
}

/// Days from one date to a later one.
fn days(from: Date, to: Date) -> u32 {
    to.since(from).ok().and_then(|span| u32::try_from(span.get_days()).ok()).unwrap_or(0)
}
