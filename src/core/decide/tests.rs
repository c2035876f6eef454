//! The decision on known counts; its numbers against scipy 1.17 (`scipy.stats.beta`).

use approx::assert_abs_diff_eq;
use proptest::prelude::*;

use super::*;
use crate::plan::Dimension;

fn plan() -> Plan {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 3];
    plan
}

fn after(step: u8, sessions: &[(u32, u32)]) -> Known {
    let advice = plan().advice;
    sessions.iter().fold(Known::of(step), |known, (met, tries)| {
        known.rested(1).with_counts(*met, *tries, &advice)
    })
}

fn says(known: &Known) -> (Says, u8) {
    let decision = decide(&plan(), known, false);
    (decision.says, decision.to)
}

#[test]
fn the_share_and_its_chances_are_those_of_scipy() {
    // Thirty tries, each making those before it weigh 24 of 25; then beta(met + 0.5, missed + 0.5).
    let first = [1, 0, 0, 1, 1, 0, 1, 1, 1, 1].map(|met| met == 1);
    let rest = (0..20).map(|i| i != 9);
    let known = Known::of(2).with(first.into_iter().chain(rest), false, &plan().advice);
    let decision = decide(&plan(), &known, false);
    assert_abs_diff_eq!(known.faded.met, 15.962_315_472_571_301, epsilon = 1e-9);
    assert_abs_diff_eq!(known.faded.missed, 1.691_243_446_661_047_8, epsilon = 1e-9);
    assert_abs_diff_eq!(decision.ready, 0.867_403_124_753_674, epsilon = 2e-9);
    assert_abs_diff_eq!(decision.too_hard, 0.000_143_576_547_832_212_56, epsilon = 2e-9);
    let share = decision.share.unwrap();
    assert_abs_diff_eq!(share.low, 0.743_400_582_952_554_6, epsilon = 1e-9);
    assert_abs_diff_eq!(share.high, 0.974_822_886_284_422, epsilon = 1e-9);
    assert_eq!((decision.says, decision.to), (Says::Ready, 3));
    assert_abs_diff_eq!(decision.reason.probability.unwrap(), 1.0 - decision.ready, epsilon = 1e-9);
}

#[test]
fn what_is_decided_of_plain_counts() {
    assert_eq!(says(&Known::of(2)), (Says::Untried, 2));
    assert_eq!(says(&after(2, &[(2, 3)])), (Says::TooFew, 2));
    assert_eq!(says(&after(2, &[(19, 20)])), (Says::Ready, 3));
    assert_eq!(says(&after(3, &[(19, 20)])), (Says::Held, 3));
    assert_eq!(says(&after(2, &[(13, 20)])), (Says::Stay, 2));
    assert_eq!(says(&after(2, &[(4, 20)])), (Says::TooHard, 1));
    assert_eq!(says(&after(1, &[(4, 20)])), (Says::TooHard, 1));
    assert_eq!(says(&after(2, &[(13, 20); 5])), (Says::Stuck, 2));
    // A whole session at least, whatever its share.
    assert_eq!(says(&after(2, &[(9, 9)])), (Says::Stay, 2));
    assert_eq!(says(&after(2, &[(5, 5), (5, 5)])), (Says::Ready, 3));
    assert_eq!(decide(&plan(), &after(2, &[(19, 20)]), true).says, Says::TakeItEasy);
}

#[test]
fn earlier_sessions_weigh_less_and_less() {
    let ready = |sessions: &[(u32, u32)]| decide(&plan(), &after(2, sessions), false).ready;
    let alone = ready(&[(16, 20)]);
    assert!(ready(&[(20, 20), (16, 20)]) > alone && ready(&[(8, 20), (16, 20)]) < alone);
    let long_ago = ready(&[(0, 20), (16, 20), (16, 20), (16, 20), (16, 20), (16, 20)]);
    let never = ready(&[(16, 20); 6]);
    assert!((long_ago - never).abs() < 0.05, "{long_ago} {never}");
}

#[test]
fn more_tries_are_asked_for_where_they_would_tell() {
    let more = |sessions: &[(u32, u32)]| decide(&plan(), &after(2, sessions), false).more_tries;
    assert_eq!(more(&[(2, 3)]), Some(2));
    let some = more(&[(6, 9)]).unwrap();
    assert!((1..40).contains(&some), "{some}");
    // Decided, or so near a threshold that many more would not tell.
    assert_eq!(more(&[(19, 20)]), None);
    assert_eq!(more(&[(40, 50)]), None);
}

#[test]
fn what_rested_is_tried_first_and_a_session_ends_the_rest() {
    let known = after(2, &[(19, 20)]);
    assert_eq!(says(&known.clone().rested(13)), (Says::Ready, 3));
    let rested = known.rested(70);
    assert_eq!(says(&rested), (Says::TryFirst, 2));
    let decision = decide(&plan(), &rested, false);
    assert_eq!(
        (decision.rested_days, decision.reason.because.as_str()),
        (Some(70), "it rested for 70 days")
    );
    assert_eq!(says(&rested.with_counts(10, 10, &plan().advice)), (Says::Ready, 3));
}

#[test]
fn the_end_of_the_road_leads_on() {
    let onward = |sessions: usize, days: u32, then: u32| {
        let advice = plan().advice;
        let known = (0..sessions)
            .fold(Known::of(3), |known, _| known.rested(days).with_counts(19, 20, &advice));
        let known = known.rested(then).with_counts(19, 20, &advice);
        decide(&plan(), &known, false).onward.unwrap()
    };
    assert_eq!(onward(1, 1, 1), Onward::OtherPlaces);
    assert_eq!(onward(7, 1, 1), Onward::ThinnerRewards);
    assert_eq!(onward(15, 1, 1), Onward::RetentionTest);
    assert_eq!(onward(15, 1, 7), Onward::OnceAWeek);
    // What is missed ends it.
    assert_eq!(decide(&plan(), &after(3, &[(19, 20), (8, 20)]), false).onward, None);
}

#[test]
fn a_goal_that_nobody_measured_is_said_to_be() {
    let mut plan = plan();
    plan.steps[2].dimension = Dimension::Duration;
    plan.steps[2].goal = Some(5.0);
    let known = |measured| Known::of(3).with([true; 20], measured, &plan.advice);
    let unmeasured = decide(&plan, &known(false), false).unmeasured;
    assert_eq!(unmeasured, Some(Unmeasured { dimension: Dimension::Duration, goal: 5.0 }));
    assert_eq!(decide(&plan, &known(true), false).unmeasured, None);
    plan.steps[2].dimension = Dimension::Distance;
    assert!(decide(&plan, &known(false), false).unmeasured.is_some());
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_decision_can_be_asked_why_and_the_quick_question_has_the_same_answer(
        sessions in proptest::collection::vec((0_u32..40, 0_u32..40), 0..12),
        step in 0_u8..9,
        rested in 0_u32..100,
        tries in 0_u32..30,
    ) {
        let mut plan = plan();
        plan.advice.tries = tries;
        let known = sessions.iter().fold(Known::of(step), |known, (met, tries)| {
            known.rested(1).with_counts(*met, *tries, &plan.advice)
        }).rested(rested);
        let decision = decide(&plan, &known, false);
        prop_assert!((1..=3).contains(&decision.to) && decision.to.abs_diff(decision.step) <= 1);
        prop_assert!(!decision.reason.because.is_empty());
        prop_assert!(decision.reason.inputs.iter().all(|input| input.value.is_finite()));
        let said = matches!(decision.says, Says::Ready | Says::Held | Says::TryFirst);
        prop_assert!(ready(&known, &plan.advice).is_none() || said);
        let hard = matches!(decision.says, Says::TooHard | Says::TryFirst);
        prop_assert!(too_hard(&known, &plan.advice, LIKELY).is_none() || hard);
        prop_assert!(decision.says != Says::TooHard || too_hard(&known, &plan.advice, LIKELY).is_some());
        prop_assert_eq!(decision.stuck.is_some(), stuck(&known, &plan.advice).is_some());
        // Kept with a session, it comes back the same.
        let kept: Known = serde_json::from_str(&serde_json::to_string(&known).unwrap()).unwrap();
        prop_assert_eq!(kept, known);
    }
}
