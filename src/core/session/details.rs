//! A detail belongs to the tag it was said with; said alone, it may complete the latest try for a short time.

use std::time::Duration;

use proptest::prelude::*;

use super::{Answer, Event, Input, Logged, MissedBecause, Outcome, Output, Rep, Session};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, Plan, RewardValue, Side};

const LEFT: Details = Details { side: Some(Side::Left), ..Details::NONE };
const TWO: Details = Details { step: Some(2), ..Details::NONE };
const HIGH: Details = Details { value: Some(RewardValue::High), ..Details::NONE };

fn yes() -> Said {
    Said::Rep(Details::default())
}

/// A plan of four steps, four seconds for a lone detail, and a limited hold of six.
fn session() -> Session {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 4];
    plan.limits.limited_hold = Some(Duration::from_secs(6));
    Session::new(plan)
}

fn after(said: &[(f64, Said)]) -> Session {
    let mut session = session();
    for (at, said) in said {
        let _ = session.handle(At::from_secs_f64(*at), Input::said(said.clone(), "words"));
    }
    session
}

/// Each try as side and step, and how many doubts there are.
fn tries(said: &[(f64, Said)]) -> (Vec<(Option<Side>, u8)>, usize) {
    let session = after(said);
    let tries = session.reps().iter().map(|rep| (rep.side, rep.step)).collect();
    (tries, session.summary().unsure)
}

#[test]
fn what_is_said_with_a_miss_is_the_miss_s_own() {
    let both = Details { step: Some(2), ..LEFT };
    let said = [(1.0, yes()), (5.0, Said::Miss(both)), (9.0, yes())];
    let session = after(&said);
    let sides: Vec<_> = session.reps().iter().map(|rep| (rep.side, rep.step)).collect();
    assert_eq!(sides, [(None, 1), (Some(Side::Left), 2), (None, 1)]);
    assert_eq!(session.reps()[1].outcome, Outcome::Missed(MissedBecause::Said));
    assert!(!session.reps()[1].met_criterion(), "beyond the step, and missed all the same");
}

#[test]
fn a_lone_correction_that_changes_nothing_says_so_by_ear_when_nothing_more_came() {
    let told = |wanted: bool, after: &[(f64, Said)]| -> Vec<(f64, usize)> {
        let mut session = session();
        session.plan.words.set_say_taken_back(wanted);
        let mut told = Vec::new();
        let correction = (3.0, Said::Change(Details::default()));
        for (at, said) in [(1.0, yes()), correction].iter().chain(after) {
            let _ = session.handle(At::from_secs_f64(*at), Input::said(said.clone(), "words"));
        }
        for tenth in 0..200 {
            let at = 4.0 + f64::from(tenth) / 10.0;
            let out = session.advance(At::from_secs_f64(at));
            told.extend(out.into_iter().filter_map(|output| match output {
                Output::Say(Answer::Idle { number }) => Some((at, number)),
                _ => None,
            }));
        }
        told
    };
    assert_eq!(told(true, &[]), [(7.0, 1)]);
    assert_eq!(told(false, &[]), []);
    // What comes after it is what was to be changed, or something else.
    assert_eq!(told(true, &[(3.9, Said::Detail(LEFT))]), []);
    assert_eq!(told(true, &[(3.9, yes())]), []);
}

#[test]
fn a_lone_detail_completes_the_latest_try_for_a_short_time() {
    let left = |at| (at, Said::Detail(LEFT));
    let rep = |side| (side, 1);
    let own = Some(Side::Left);
    assert_eq!(tries(&[(1.0, yes()), left(4.5)]), (vec![rep(own)], 0));
    assert_eq!(tries(&[(1.0, yes()), left(5.5)]), (vec![rep(None)], 1), "too late");
    assert_eq!(
        tries(&[(1.0, yes()), (4.0, Said::Miss(Details::default())), left(5.5)]),
        (vec![rep(None), rep(own)], 0)
    );
    // A try may be completed bit by bit, and a change of it too.
    assert_eq!(tries(&[(1.0, yes()), (4.0, Said::Detail(TWO)), left(7.0)]), (vec![(own, 2)], 0));
    assert_eq!(tries(&[(1.0, yes()), (9.0, Said::Change(TWO)), left(11.0)]), (vec![(own, 2)], 0));
}

#[test]
fn no_detail_reaches_past_another_tag() {
    let between = [
        Said::State { mood: Mood::Worried },
        Said::Cue,
        Said::HoldStart,
        Said::Own { name: "lift".into() },
    ];
    for tag in between {
        let (reps, doubts) = tries(&[(1.0, yes()), (2.0, tag.clone()), (3.0, Said::Detail(LEFT))]);
        assert_eq!((reps, doubts), (vec![(None, 1)], 1), "{tag:?}");
    }
    // "Cancel left": what stands before the one that was taken back is older still.
    let taken = [(1.0, yes()), (2.0, yes()), (2.5, Said::TakeBack), (3.0, Said::Detail(LEFT))];
    assert_eq!(tries(&taken), (vec![(None, 1)], 1));
    let mut session = session();
    let _ = session.handle(At::from_secs_f64(1.0), Input::said(yes(), "yes"));
    let unsure = Input::Doubted { words: "yes".into(), other: "yet".into() };
    let _ = session.handle(At::from_secs_f64(2.0), unsure);
    let _ = session.handle(At::from_secs_f64(2.5), Input::said(Said::Detail(LEFT), "left"));
    assert_eq!((session.reps()[0].side, session.summary().unsure), (None, 2));
}

#[test]
fn a_correction_is_of_the_latest_try() {
    let moods = [(1.0, yes()), (2.0, Said::State { mood: Mood::Calm }), (30.0, Said::Change(TWO))];
    assert_eq!(tries(&moods), (vec![(None, 2)], 0));
    let miss = [(1.0, yes()), (3.0, Said::Miss(Details::default())), (30.0, Said::Change(LEFT))];
    assert_eq!(tries(&miss), (vec![(None, 1), (Some(Side::Left), 1)], 0));
    // A miss is paid nothing, and one that came by itself was not said.
    let paid = [(1.0, yes()), (3.0, Said::Miss(Details::default())), (4.0, Said::Change(HIGH))];
    assert_eq!(tries(&paid).1, 1);
    let ran_out = [(1.0, yes()), (3.0, Said::Cue), (12.0, Said::Change(TWO))];
    assert_eq!(tries(&ran_out), (vec![(None, 1), (None, 1)], 1));
}

#[test]
fn a_value_that_was_said_stays_when_the_step_is_put_right() {
    let down = Said::Change(Details { step: Some(1), ..Details::default() });
    let paid = |first: Said| {
        let step_up = Said::Command { command: Command::StepUp };
        let session = after(&[(0.5, step_up), (1.0, first), (5.0, down.clone())]);
        session.reps()[0].paid()
    };
    assert_eq!(paid(yes()), Some(RewardValue::Low), "as the plan pays a lesser step");
    assert_eq!(paid(Said::Rep(HIGH)), Some(RewardValue::High));
}

fn details() -> impl Strategy<Value = Details> {
    let side = prop_oneof![Just(Side::Left), Just(Side::Right)];
    let value = prop_oneof![Just(RewardValue::Low), Just(RewardValue::Jackpot)];
    (prop::option::of(1..5_u8), prop::option::of(side), prop::option::of(value))
        .prop_map(|(step, side, value)| Details { step, side, value, ..Details::default() })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_detail_never_changes_a_try_older_than_the_latest(
        said in prop::collection::vec((0..5000_u64, prop_oneof![
            3 => details().prop_map(Said::Rep),
            2 => details().prop_map(|details| Said::Miss(details.of_a_miss())),
            4 => details().prop_map(Said::Detail),
            2 => details().prop_map(Said::Change),
            1 => Just(Said::Cue),
            1 => Just(Said::TakeBack),
            1 => Just(Said::State { mood: Mood::Calm }),
        ]), 1..60),
    ) {
        let mut session = session();
        let mut now = At::ZERO;
        for (wait, said) in said {
            now = now + Duration::from_millis(wait);
            let _ = session.advance(now);
            let before: Vec<Rep> = session.reps().to_vec();
            let is_detail = matches!(said, Said::Detail(_) | Said::Change(_));
            let out = session.handle(now, Input::said(said, "words"));
            if !is_detail {
                continue;
            }
            let latest = before.len().saturating_sub(1);
            prop_assert_eq!(session.reps().len(), before.len());
            prop_assert_eq!(&session.reps()[..latest], &before[..latest]);
            // What finds nothing to go to is never dropped in silence.
            let kept = |output: &Output| matches!(output, Output::Append(Logged { event: Event::Input(_), .. }));
            prop_assert!(out.iter().any(kept));
        }
    }
}
