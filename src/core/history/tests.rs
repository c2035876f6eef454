//! The history on short, odd and known data. Outside numbers stand with their source; the statistics
//! themselves are checked where they live.

use jiff::civil::date;

use super::body::{Fact, Noted, Train, parse_weight, read};
use super::course::Course;
use super::cue::{Given, Probe, State, control, grid};
use super::next::Moves;
use super::testing::{PLAN, history, plan, session};
use super::*;
use crate::plan::{Limits, Plan, RewardValue};
use crate::wording::handover;

mod good_time;
mod health;
mod next_session;
mod weeks;

fn course(history: &AnimalHistory) -> Course<'_> {
    let present = &history.ladders[0];
    Course::new(history, "rests a foot on the nail file", present)
}

#[test]
fn nothing_trained_yet_is_an_answer() {
    let history = history(Vec::new());
    let course = course(&history);
    let advice = plan().advice;
    let steps = progress::steps(&course, &advice);
    assert_eq!(steps.len(), 3);
    assert!(steps.iter().all(|step| step.verdict == progress::Verdict::Untouched));
    assert_eq!(steps[0].trend, Found::needs(5, 0, "sessions"));
    let body = read(&[], date(2026, 1, 2));
    let next = next::plan(&history, &plan(), &body, date(2026, 1, 2));
    assert_eq!((next.work.step, next.work.moves), (1, Moves::Begin));
    assert_eq!(next.warm_up, None);
    assert_eq!(next.change, None);
    assert_eq!(next.length.planned_s, 180.0);
    assert!(people::compare(&course).is_empty());
    assert!(captured::of(&[], date(2026, 1, 2)).is_empty());
    assert_eq!(handover::note(&history, &next).lines[0], "Not trained yet.");
}

#[test]
fn sessions_over_midnight_and_clock_changes_keep_order_and_date() {
    // The night of 29 March 2026: clocks in Berlin go from 2:00 to 3:00.
    let at = |text: &str| {
        let began: jiff::ZonedDateTime = text.parse().unwrap();
        let mut one = session(0, 1, 10, 10);
        (one.began, one.day, one.clock) = (began.timestamp(), began.date(), began.time());
        one
    };
    let sessions = vec![
        at("2026-03-29T03:10:00+02:00[Europe/Berlin]"),
        at("2026-03-28T23:59:00+01:00[Europe/Berlin]"),
        at("2026-03-28T20:30:00-04:00[America/New_York]"),
        at("2026-03-29T01:50:00+01:00[Europe/Berlin]"),
    ];
    let history = history(sessions);
    let days: Vec<_> = history.sessions.iter().map(|session| session.day.to_string()).collect();
    assert_eq!(days, ["2026-03-28", "2026-03-28", "2026-03-29", "2026-03-29"]);
    let course = course(&history);
    // By real time: 23:59 to 1:50 is 111 minutes, 1:50 to 3:10 only 20.
    let minutes: Vec<f64> =
        course.sessions.iter().map(|trained| (trained.at_days * 1440.0).round()).collect();
    assert_eq!(minutes, [0.0, 91.0, 111.0, 131.0]);
}

fn weighed(grams: &[f64]) -> Vec<Noted> {
    let day =
        |i: usize| date(2026, 1, 1).checked_add(jiff::Span::new().days(i as i64 * 7)).unwrap();
    grams.iter().enumerate().map(|(i, g)| Noted { day: day(i), fact: Fact::Weight(*g) }).collect()
}

#[test]
fn a_cue_controls_when_all_four_conditions_hold() {
    let probe = |given, came, other| Probe { given, came, other, place: None, person: None };
    let mut probes = vec![probe(Given::Own, true, false); 5];
    let table = control(&probes);
    assert_eq!(
        table.rows.each_state(),
        [State::Holds, State::Untested, State::Untested, State::Holds]
    );
    assert!(table.next.starts_with("wait without a cue"), "{}", table.next);
    probes.extend(vec![probe(Given::None, false, false); 5]);
    probes.extend(vec![probe(Given::Other, true, false); 5]);
    assert_eq!(control(&probes).rows[2].state, State::NotYet);
}

trait EachState {
    fn each_state(&self) -> Vec<State>;
}

impl EachState for Vec<super::cue::Condition> {
    fn each_state(&self) -> Vec<State> {
        self.iter().map(|row| row.state).collect()
    }
}

#[test]
fn the_next_cell_changes_one_thing() {
    let at = |day, place: &str, person: &str| {
        let mut one = session(day, 1, 10, 10);
        (one.place, one.person) = (Some(place.into()), Some(person.into()));
        one
    };
    let history =
        history(vec![at(0, "kitchen", "Ada"), at(1, "kitchen", "Ada"), at(2, "garden", "Ben")]);
    let grid = grid(&course(&history), &[]);
    assert_eq!((grid.places.len(), grid.persons.len()), (2, 2));
    let next = grid.next.unwrap();
    assert!((next.place == "kitchen") != (next.person == "Ada"), "{next:?}");
}

#[test]
fn people_are_compared_on_the_same_step_only() {
    let with = |day, person: &str, step, met| {
        let mut one = session(day, step, met, 20);
        one.person = Some(person.into());
        one
    };
    let mut sessions: Vec<Session> = (0..6).map(|day| with(day, "Ada", 1, 18)).collect();
    sessions.extend((6..12).map(|day| with(day, "Ben", 1, 10)));
    let same = history(sessions.clone());
    let people = people::compare(&course(&same));
    assert_eq!(people[0].against_others.known().unwrap().point, 1.0);
    sessions[6..].iter_mut().for_each(|session| {
        session.last_step = 3;
        session.tries.iter_mut().for_each(|one| one.working = 3);
    });
    let other = history(sessions);
    assert!(matches!(people::compare(&course(&other))[0].against_others, Found::NotYet(_)));
}

/// The next session after these, on this day.
fn next_after(sessions: Vec<Session>, today: jiff::civil::Date) -> next::Next {
    next::plan(&history(sessions), &plan(), &read(&[], today), today)
}
