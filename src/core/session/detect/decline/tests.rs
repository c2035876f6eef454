//! An animal that works in bouts, as those that work for themselves do.

use std::time::Duration;

use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::Plan;
use crate::session::{Derived, Event, Input, Logged, NudgeKind, Output, Session};

/// An hour at its own pace, told try by try; when it was told to end.
fn told_to_end(tries: impl Iterator<Item = f64>, until: f64) -> Vec<f64> {
    let mut plan = Plan::of_default_words();
    plan.limits.planned = Duration::from_secs(3600);
    plan.limits.planned_reps = 100_000;
    plan.limits.rate_floor_per_min = 0.1;
    let mut session = Session::new(plan);
    let begin = Said::Command { command: crate::plan::Command::Begin };
    let mut out = session.handle(At::ZERO, Input::said(begin, "tally begin"));
    for at in tries {
        let said = Said::Rep(Details::default());
        out.extend(session.handle(At::from_secs_f64(at), Input::said(said, "yes")));
    }
    out.extend(session.close(At::from_secs_f64(until)));
    let ends = |output: &Output| match output {
        Output::Append(Logged { at, event: Event::Derived(Derived::Nudged { nudge, reason }) }) => {
            let end = matches!(nudge, NudgeKind::EndSoon | NudgeKind::EndNow);
            (end && reason.detector == "decline").then(|| at.as_secs_f64())
        }
        _ => None,
    };
    out.iter().filter_map(ends).collect()
}

/// Gaps between tries within a bout, as uneven as a mouse's at a feeder.
fn bout(from: f64, tries: usize) -> impl Iterator<Item = f64> {
    let gaps = [3.0, 28.0, 8.0, 2.0, 40.0, 9.0, 5.0, 44.0, 1.0, 20.0];
    let mut at = from;
    (0..tries).map(move |n| {
        at += gaps[n % gaps.len()];
        at
    })
}

#[test]
fn each_bout_that_is_over_is_told_of_and_no_pause_between_them() {
    let first: Vec<f64> = bout(0.0, 40).collect();
    let over = first[39];
    let alone = [over + 700.0, over + 1050.0];
    let second: Vec<f64> = bout(over + 1300.0, 40).collect();
    let over_again = second[39];
    let all = first.into_iter().chain(alone).chain(second);
    let told = told_to_end(all, over_again + 600.0);
    assert_eq!(told.len(), 2, "{told:?}");
    assert!((over..over + 180.0).contains(&told[0]), "{over}: {told:?}");
    assert!((over_again..over_again + 180.0).contains(&told[1]), "{over_again}: {told:?}");
}

#[test]
fn an_animal_that_tries_now_and_then_has_no_work_to_cease() {
    let now_and_then =
        (0..30).map(|n| 100.0 * f64::from(n) + [0.0, 40.0, -30.0][n as usize % 3] + 31.0);
    let told = told_to_end(now_and_then, 3600.0);
    assert!(told.iter().all(|at| *at < 180.0), "{told:?}");
}
