//! Treats that run out, the energy of a day, jackpots.

use super::*;

#[test]
fn the_treats_are_told_before_they_run_out_and_never_after() {
    let mut plan = Trial::plan();
    plan.limits.treats_laid_out = Some(10);
    let mut trial = Trial::new(plan, Prior::default());
    for i in 0..14 {
        trial.say(f64::from(i) * 6.0, yes());
    }
    assert_eq!(trial.kinds("treats"), [NudgeKind::BudgetLow]);
    assert!(trial.nudges[0].2.because.starts_with("3 of 10"), "{:?}", trial.nudges[0]);
}

/// At 602ce15 the count of treats went on, and the time at the pouch was a decline.
#[test]
fn the_pouch_is_filled_again_and_the_wait_for_it_is_no_decline() {
    let refilled = || Said::Command { command: Command::Refilled };
    let trained = |refills: bool| {
        let mut plan = Trial::plan();
        plan.limits.treats_laid_out = Some(40);
        plan.rewards.high.pieces = 1;
        let mut trial = Trial::new(plan, Prior::default());
        let mut now = 0.0;
        for i in 0..78 {
            now += 5.0 + f64::from(i % 3);
            trial.say(now, yes());
            if i == 38 {
                // At the pouch for longer than it takes to tell of silence, a moment at a time.
                for _ in 0..3 {
                    now += 18.0;
                    if refills {
                        trial.say(now, refilled());
                    }
                }
            }
        }
        trial.until(now + 3.0);
        trial
    };
    let with = trained(true);
    assert_eq!(with.kinds("treats"), [NudgeKind::BudgetLow; 2], "{:?}", with.nudges);
    let declines = |trial: &Trial| trial.count("decline") + trial.count("reward_rate");
    assert_eq!(declines(&with), 0, "{:?}", with.nudges);
    assert!(declines(&trained(false)) > 0, "the same without the word");
    // All that was eaten counts for the day, and what was said by mistake is taken back.
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..3 {
        trial.say(f64::from(i), yes());
    }
    let before = *trial.session.tally();
    trial.say(4.0, refilled());
    let after = *trial.session.tally();
    assert_eq!((after.pieces, after.kcal, after.rewarded), (0, before.kcal, 3));
    trial.say(5.0, Said::TakeBack);
    assert_eq!(trial.session.tally().pieces, before.pieces);
    assert!(trial.session.refills().is_empty());
}

/// It may have 5.8848 kcal of treats a day (CHECKS I8).
fn parrot_of_400_g() -> Body {
    Body {
        weight_g: 400.0,
        kind: BodyKind::OtherBird,
        activity: 1.5,
        treat_share: 0.1,
        lowest_g: None,
        highest_g: None,
    }
}

/// At 602ce15 a day that had nothing left when the session began was never told of.
#[test]
fn a_day_that_is_used_up_before_the_session_is_told_once() {
    let mut plan = Trial::plan();
    plan.body = Some(parrot_of_400_g());
    plan.rewards.high = Treat { what: "seed".into(), pieces: 1, kcal_per_piece: Some(0.1) };
    let mut trial = Trial::new(plan, Prior { kcal_today: 6.0, ..Prior::default() });
    for i in 0..5 {
        trial.say(f64::from(i) * 6.0, yes());
    }
    trial.until(60.0);
    assert_eq!(trial.kinds("treats"), [NudgeKind::BudgetLow]);
    let reason =
        &trial.nudges.iter().find(|(_, nudge, _)| *nudge == NudgeKind::BudgetLow).unwrap().2;
    assert_eq!(reason.because, "the day's 5.9 kcal in treats are used up");
}

/// CHECKS I8: a 400 g parrot at 1.5 x 78 kg^0.75 may have 5.8848 kcal of treats a day.
#[test]
fn the_days_energy_counts_what_was_given_before() {
    let mut plan = Trial::plan();
    plan.body = Some(parrot_of_400_g());
    let treat = Treat { what: "seed".into(), pieces: 1, kcal_per_piece: Some(0.5) };
    plan.rewards.low = treat.clone();
    plan.rewards.high = treat.clone();
    plan.rewards.jackpot = Treat { pieces: 3, ..treat };
    let prior = Prior { kcal_today: 2.0, ..Prior::default() };
    let mut trial = Trial::new(plan, prior);
    for i in 0..6 {
        trial.say(f64::from(i) * 6.0, yes());
    }
    trial.until(40.0);
    // 2.0 + 5 x 0.5 leaves 1.385 kcal, below three high rewards; 4 x 0.5 leaves 1.885.
    let (at, nudge, reason) = &trial.nudges[0];
    assert_eq!((*nudge, at.round()), (NudgeKind::BudgetLow, 25.0));
    let budget = reason.inputs.iter().find(|input| input.name.starts_with("the day's")).unwrap();
    assert!((budget.value - 5.8848).abs() < 1e-3, "{}", budget.value);
}

#[test]
fn jackpots_that_come_often_are_told() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..12 {
        let value = if i == 3 || i == 9 { RewardValue::Jackpot } else { RewardValue::Low };
        trial.say(f64::from(i) * 6.0, paid(value));
    }
    assert_eq!(trial.kinds("treats"), [NudgeKind::JackpotsOften]);
    let advice = trial.session.advice();
    assert!(advice.iter().any(|advice| advice.suggests == Suggests::FewerJackpots));
}
