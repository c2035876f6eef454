//! The plan's pace floor.

use super::*;

#[test]
fn rewards_that_stop_are_told_once_and_again_only_after_the_pace_was_back() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..20 {
        trial.say(f64::from(i) * 6.0 + uneven(i), yes());
    }
    trial.until(400.0);
    assert_eq!(trial.kinds("pace floor"), [NudgeKind::RateFalling]);
    let (at, _, reason) =
        trial.nudges.iter().find(|(_, _, reason)| reason.detector == "pace floor").unwrap();
    assert!((130.0..200.0).contains(at), "{at}");
    assert!(reason.probability.unwrap() < 0.2, "{reason:?}");
    trial.say(401.0, yes());
    trial.until(500.0);
    assert_eq!(trial.count("pace floor"), 1, "one reward is not a pace");
    for i in 0..14 {
        trial.say(501.0 + f64::from(i) * 6.0, yes());
    }
    trial.until(800.0);
    assert_eq!(trial.count("pace floor"), 2);
}

#[test]
fn a_pace_that_stays_under_the_floor_for_the_window_is_always_told_once() {
    // The floor is three a minute, so one in 20 seconds; the window 30 seconds.
    for gap in [21.0, 22.0, 25.0, 29.0, 31.0, 40.0, 59.0, 200.0] {
        for well_for in [0, 30, 100] {
            let mut trial = Trial::new(Trial::plan(), Prior::default());
            for second in (0..well_for).step_by(6) {
                trial.say(f64::from(second), yes());
            }
            let from = f64::from(well_for);
            for i in 0..(300.0 / gap) as u32 {
                trial.say(from + f64::from(i) * gap + 1.0, yes());
            }
            trial.until(from + 300.0);
            let told: Vec<f64> = trial
                .nudges
                .iter()
                .filter(|(_, _, reason)| reason.detector == "pace floor")
                .map(|(at, ..)| at - from)
                .collect();
            assert_eq!(told.len(), 1, "every {gap} s after {well_for} s: {told:?}");
            assert!(told[0] <= 30.0 * 4.0, "every {gap} s after {well_for} s: {told:?}");
        }
    }
    // At the floor, evenly, it is kept.
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..60 {
        trial.say(f64::from(i) * 20.0, yes());
    }
    assert_eq!(trial.count("pace floor"), 0, "{:?}", trial.nudges);
}

/// How often an hour it is told of a pace that is this many times the floor, by chance alone.
fn told_an_hour(pace: f64) -> f64 {
    use rand::RngExt;

    const HOURS: u32 = 4;

    let mut dice = crate::sim::dice(18);
    let mut told = 0;
    for _ in 0..HOURS {
        let mut trial = Trial::new(Trial::plan(), Prior::default());
        let mut at = 0.0;
        while at < 3600.0 {
            trial.say(at, yes());
            // The floor is three a minute.
            at += -(1.0 - dice.random::<f64>()).ln() * 20.0 / pace;
        }
        told += trial.count("pace floor");
    }
    f64::from(u32::try_from(told).unwrap()) / f64::from(HOURS)
}

#[test]
fn a_pace_near_the_floor_that_comes_and_goes_is_not_told_over_and_over() {
    // Over 20 hours it was 1.7 and 4.2; told again at every return to the floor it is about 20.
    let told = [0.7, 1.0].map(told_an_hour);
    assert!((0.5..6.0).contains(&told[0]) && (0.5..8.0).contains(&told[1]), "{told:?}");
}
