//! Steps that are too much or ready, longer holds, and advice.

use super::*;

#[test]
fn misses_that_mount_up_say_that_the_step_is_too_much() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..30 {
        trial.say(
            f64::from(i) * 5.0 + uneven(i),
            if i % 6 == 5 { Said::Miss(Details::default()) } else { yes() },
        );
    }
    assert_eq!(trial.count("decline"), 0);
    for i in 30..90 {
        trial.say(
            f64::from(i) * 5.0 + uneven(i),
            if i % 4 == 0 { yes() } else { Said::Miss(Details::default()) },
        );
    }
    // First what is seen, then, when that many say so, what is decided of the step, by ear as in the recap.
    assert_eq!(trial.kinds("decline"), [NudgeKind::PayThisOne], "{:?}", trial.nudges);
    trial.until(450.0);
    let decided = [NudgeKind::StepReady, NudgeKind::StepTooMuch];
    assert_eq!(trial.kinds("criterion"), decided, "{:?}", trial.nudges);
    let next = trial.session.summary().next;
    assert_eq!((next.says, trial.session.declining_since()), (Says::TooHard, None));
}

#[test]
fn a_bad_beginning_is_not_yet_a_step_that_is_too_much() {
    // Six of ten are met, which the plan stands, but of the first five only two.
    let met = [true, false, false, true, false, true, true, false, true, true];
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..40 {
        let said = if met[i as usize % 10] { yes() } else { Said::Miss(Details::default()) };
        trial.say(2.0 + f64::from(i) * 5.0 + uneven(i), said);
    }
    let all = trial.kinds("criterion");
    assert!(!all.contains(&NudgeKind::StepTooMuch), "{:?}", trial.nudges);
}

#[test]
fn just_after_a_raise_slipping_is_let_slip() {
    let slip = |raise: bool| {
        let mut plan = Trial::plan();
        plan.advice.settle_tries = 8;
        let mut trial = Trial::new(plan, Prior::default());
        for i in 0..40 {
            trial.say(f64::from(i) * 5.0, yes());
        }
        if raise {
            trial.say(201.0, Said::Command { command: Command::StepUp });
        }
        for i in 0..8 {
            trial.say(205.0 + f64::from(i) * 5.0, Said::Miss(Details::default()));
        }
        trial.until(250.0);
        trial.count("decline")
    };
    assert_eq!((slip(false), slip(true)), (1, 0));
}

#[test]
fn a_step_with_a_history_is_ready_after_eight_of_ten() {
    let past = PastSession {
        active_s: 180.0,
        steps: vec![PastStep {
            step: 1,
            seconds: 180.0,
            tries: 20,
            met: 15,
            rewards: 15,
            ..PastStep::default()
        }],
        ..PastSession::default()
    };
    let prior = Prior { sessions: vec![past], ..Prior::default() };
    let ready_at = |prior: Prior| {
        let mut trial = Trial::new(Trial::plan(), prior);
        for i in 0..40 {
            trial.say(
                f64::from(i) * 5.0 + uneven(i),
                if i % 9 == 4 { Said::Miss(Details::default()) } else { yes() },
            );
        }
        let ready = trial.nudges.iter().find(|(_, nudge, _)| *nudge == NudgeKind::StepReady);
        ready.map(|(at, ..)| *at)
    };
    let (with, without) = (ready_at(prior).unwrap(), ready_at(Prior::default()).unwrap());
    assert!(with < 60.0 && without > 90.0, "{with} {without}");
}

#[test]
fn a_longer_hold_than_most_is_a_good_one() {
    let mut plan = Trial::plan();
    plan.steps[0].dimension = Dimension::Duration;
    let mut trial = Trial::new(plan, Prior::default());
    let mut now = 1.0;
    for i in 0..14 {
        trial.say(now, Said::HoldStart);
        trial.say(now + if i == 12 { 4.0 } else { 2.0 + 0.05 * f64::from(i % 7) }, yes());
        now += 8.0;
    }
    let best: Vec<_> =
        trial.nudges.iter().filter(|(_, _, reason)| reason.because.starts_with("4.0 s")).collect();
    assert_eq!(best.len(), 1, "{:?}", trial.nudges);
    assert_eq!(best[0].1, NudgeKind::GoodOne);
}

#[test]
fn advice_holds_raises_and_eases_and_asks_for_more_reps() {
    let advice = |met: u32, missed: u32, step: u8| {
        let mut plan = Trial::plan();
        plan.start_step = step;
        let mut trial = Trial::new(plan, Prior::default());
        for i in 0..met + missed {
            // Misses spread evenly.
            let miss = (i + 1) * missed / (met + missed) > i * missed / (met + missed);
            trial.say(
                f64::from(i) * 6.0 + uneven(i),
                if miss { Said::Miss(Details::default()) } else { yes() },
            );
        }
        trial.session.advice()[0].suggests
    };
    assert_eq!(advice(2, 1, 1), Suggests::MoreReps { needed: 2 });
    assert_eq!(advice(19, 1, 1), Suggests::Raise { step: 2 });
    assert_eq!(advice(19, 1, 4), Suggests::Generalise);
    assert_eq!(advice(13, 7, 2), Suggests::Hold { step: 2 });
    assert_eq!(advice(4, 16, 2), Suggests::Ease { step: 1 });
    assert_eq!(advice(4, 16, 1), Suggests::ChangePlan);
}
