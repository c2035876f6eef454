//! Declines: slowing down, falling silent, words of mood.

use super::*;

#[test]
fn answers_and_tries_that_slow_down_are_told() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    let mut now = 2.0;
    for i in 0..25 {
        trial.say(now, Said::Cue);
        trial.say(now + 2.0 + uneven(i), yes());
        now += 7.0;
    }
    assert_eq!(trial.count("decline"), 0);
    for i in 0..25 {
        trial.say(now, Said::Cue);
        trial.say(now + 5.0 + uneven(i), yes());
        now += 10.0;
    }
    assert_eq!(trial.kinds("decline"), [NudgeKind::EndSoon, NudgeKind::EndNow]);
    let (_, _, reason) =
        trial.nudges.iter().find(|(_, _, reason)| reason.detector == "decline").unwrap();
    assert!(reason.because.starts_with("answers to the cue take"), "{reason:?}");
    let said = |name: &str| reason.inputs.iter().find(|input| input.name == name).unwrap().value;
    assert!(said("said by times") > 3.0 && said("said by misses") < 1.0, "{reason:?}");
    assert!(trial.session.declining_since().is_some_and(|since| since.as_secs() >= 150));
}

#[test]
fn movements_that_slow_down_within_the_tries_are_told() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    let lift = || Said::Own { name: "lift".into() };
    let mut now = 2.0;
    for i in 0..40 {
        for step in 0..3 {
            let pace = if i < 25 { 1.0 } else { 2.4 };
            trial.say(now + f64::from(step) * (pace + uneven(i + step) * 0.2), lift());
        }
        trial.say(now + 8.0, yes());
        now += 20.0;
    }
    assert!(trial.kinds("decline").contains(&NudgeKind::EndSoon), "{:?}", trial.nudges);
}

#[test]
fn one_long_gap_is_not_a_decline() {
    for gap in [20.0, 30.0] {
        let mut trial = Trial::new(Trial::plan(), Prior::default());
        for i in 0..60 {
            let away = if i >= 30 { gap } else { 0.0 };
            trial.say(f64::from(i) * 6.0 + uneven(i) + away, yes());
        }
        assert_eq!(trial.count("decline"), 0, "{gap}: {:?}", trial.nudges);
    }
}

#[test]
fn no_try_at_all_any_more_is_told() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..40 {
        trial.say(f64::from(i) * 6.0 + uneven(i), yes());
    }
    trial.until(600.0);
    let told = trial.nudges.iter().find(|(_, _, reason)| reason.detector == "decline").unwrap();
    assert!((265.0..400.0).contains(&told.0), "{told:?}");
    assert!(told.2.because.starts_with("nothing for"), "{told:?}");
}

#[test]
fn a_new_cue_closes_the_last_as_a_miss_that_nobody_said() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..25 {
        trial.say(f64::from(i) * 7.0, Said::Cue);
        trial.say(f64::from(i) * 7.0 + 2.0 + uneven(i), yes());
    }
    for i in 25..60 {
        trial.say(f64::from(i) * 7.0, Said::Cue);
        // Every third cue is answered, and as quickly as ever; nobody says the misses.
        if i % 3 == 0 {
            trial.say(f64::from(i) * 7.0 + 2.0 + uneven(i), yes());
        }
    }
    let told = trial.nudges.iter().find(|(_, _, reason)| reason.detector == "decline").unwrap();
    let inputs = &told.2.inputs;
    let cues = inputs.iter().find(|input| input.name == "said by cues without an answer").unwrap();
    assert!(cues.value > 2.0, "{told:?}");
}

#[test]
fn outlasting_the_plan_proves_nothing() {
    let mut plan = Trial::plan();
    plan.limits.planned = Duration::from_secs(120);
    let past = PastSession { active_s: 90.0, declined_s: Some(80.0), ..PastSession::default() };
    let prior = Prior { sessions: vec![past; 5], ..Prior::default() };
    let mut trial = Trial::new(plan, prior);
    for i in 0..300 {
        let said = if i % 7 == 3 { Said::Miss(Details::default()) } else { yes() };
        trial.say(f64::from(i) * 6.0 + uneven(i), said);
    }
    assert_eq!(trial.count("decline"), 0, "{:?}", trial.nudges);
}

#[test]
fn an_animal_that_is_said_to_be_well_is_given_longer() {
    let told_at = |calm: bool| {
        let mut trial = Trial::new(Trial::plan(), Prior::default());
        let mut now = 0.0;
        for i in 0..120 {
            // Slow for a while, twice.
            now += if matches!(i, 25..50 | 80..100) { 10.0 } else { 5.0 } + uneven(i);
            trial.say(now, yes());
            if calm && trial.session.declining_since().is_some() {
                trial.say(now + 1.0, Said::State { mood: Mood::Calm });
                assert_eq!(trial.session.declining_since(), None);
            }
        }
        let alarms = trial.nudges.iter().filter(|(_, _, reason)| reason.detector == "decline");
        (alarms.map(|(at, ..)| *at).collect::<Vec<_>>(), trial.session.alarms_taken_back())
    };
    let (without, _) = told_at(false);
    let (with, taken_back) = told_at(true);
    assert!(taken_back >= 1 && with[0] == without[0], "{with:?} {without:?}");
    // The same slowness later needs more.
    let second = |told: &[f64]| told.iter().copied().find(|at| *at > 500.0).unwrap_or(f64::MAX);
    assert!(second(&with) >= second(&without), "{with:?} {without:?}");
}

#[test]
fn a_smaller_budget_speaks_later() {
    let told_at = |per_hour: f64| {
        let mut plan = Trial::plan();
        plan.limits.false_nudges_per_hour = per_hour;
        let mut trial = Trial::new(plan, Prior::default());
        for i in 0..30 {
            trial.say(f64::from(i) * 5.0 + uneven(i), yes());
        }
        for i in 0..60 {
            trial.say(150.0 + f64::from(i) * 8.0 + uneven(i), yes());
        }
        let told = trial.nudges.iter().find(|(_, _, reason)| reason.detector == "decline");
        told.map_or(f64::MAX, |(at, ..)| *at)
    };
    let told = [8.0, 1.0, 0.05].map(told_at);
    assert!(told[0] < told[1] && told[1] < told[2], "{told:?}");
}

#[test]
fn state_words_end_soon_then_at_once() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    trial.say(1.0, yes());
    trial.say(5.0, Said::State { mood: Mood::Calm });
    trial.say(6.0, Said::State { mood: Mood::Worried });
    trial.say(12.0, Said::State { mood: Mood::Tired });
    trial.until(20.0);
    assert_eq!(trial.kinds("state words"), [NudgeKind::EndSoon, NudgeKind::EndNow]);
}
