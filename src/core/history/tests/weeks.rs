//! What is said of a step over weeks: better, standing still, and what a change of plan did.

use super::*;

#[test]
fn a_step_that_rises_every_day_is_getting_better() {
    let of = |sessions: i32| {
        let history =
            history((0..sessions).map(|day| session(day, 2, 3 + day as u32, 20)).collect());
        progress::step(&course(&history), 2, &plan().advice).unwrap()
    };
    let step = of(12);
    let trend = step.trend.known().unwrap();
    // One more of twenty a day is five points a session, and 0.35 a week.
    approx::assert_abs_diff_eq!(trend.per_session.point, 0.05, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(trend.per_week.unwrap().point, 0.35, epsilon = 1e-9);
    let (low, high) = (trend.per_session.low.unwrap(), trend.per_session.high.unwrap());
    assert!(0.0 < low && low < 0.05 && 0.05 < high && high < 0.1, "{low} to {high}");
    assert_eq!(step.verdict, progress::Verdict::Better);
    assert_eq!(step.reason.probability, Some(trend.p));
    // Five sessions may rise by chance, and somebody looks after each: that is not yet a trend.
    let early = of(5);
    assert_eq!(early.verdict, progress::Verdict::NoTrend);
    assert_eq!(early.trend.known().unwrap().per_week, None, "not a week yet");
}

#[test]
fn several_sessions_a_day_and_a_long_rest_are_sessions_one_after_the_other() {
    let at = |i: i32| {
        let mut one = session(if i < 6 { 0 } else { 90 }, 2, 5 + i as u32, 20);
        one.began = one.began.checked_add(jiff::SignedDuration::from_hours(i64::from(i))).unwrap();
        one
    };
    let history = history((0..12).map(at).collect());
    let step = progress::step(&course(&history), 2, &plan().advice).unwrap();
    approx::assert_abs_diff_eq!(
        step.trend.known().unwrap().per_session.point,
        0.05,
        epsilon = 1e-9
    );
}

#[test]
fn rewarded_tries_that_double_every_week_are_a_factor_of_two() {
    // By definition: 10 and 20 a minute seven days apart.
    let sessions = (0..12).map(|week| 7 * week).map(|day| {
        let mut one = session(day, 1, 20, 20);
        let pace = 2.0_f64.powi(day / 7);
        one.tries.iter_mut().for_each(|one| one.active_s /= pace);
        one
    });
    let history = history(sessions.collect());
    let step = progress::step(&course(&history), 1, &plan().advice).unwrap();
    let line = step.change_over_time.known().unwrap();
    approx::assert_abs_diff_eq!(line.per_week.point, 2.0, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(line.percent_a_week.unwrap().point, 100.0, epsilon = 1e-7);
}

#[test]
fn a_change_that_is_not_shown_has_no_percent() {
    // One of the five days goes against the others: Sen's interval has no change in it.
    let paces = [1.0, 1.3, 0.9, 1.2, 1.0];
    let sessions = (0..5).map(|day| {
        let mut one = session(day, 1, 20, 20);
        one.tries.iter_mut().for_each(|one| one.active_s /= paces[day as usize]);
        one
    });
    let history = history(sessions.collect());
    let step = progress::step(&course(&history), 1, &plan().advice).unwrap();
    let line = step.change_over_time.known().unwrap();
    assert!(line.per_week.low < 1.0 && line.per_week.high > 1.0);
    assert_eq!(line.percent_a_week, None);
}

#[test]
fn a_step_that_stands_still_asks_for_a_change() {
    let of = |sessions: Vec<Session>| {
        let history = history(sessions);
        change::advise(&course(&history), 2, &plan().advice, date(2026, 1, 14))
    };
    let change = of((0..5).map(|day| session(day, 2, 8, 20)).collect()).unwrap();
    assert_eq!(change.step, 2);
    assert!(change.ways.iter().any(|fitting| fitting.way == change::Way::SmallerStep));
    assert!(change.reason.because.starts_with("it stays near 4"), "{}", change.reason.because);
    // Two points a session are a gain, however the tries of two sessions fall.
    let slow: Vec<Session> = [8, 8, 9, 8, 10, 9, 11, 10, 11, 12]
        .into_iter()
        .zip(0..)
        .map(|(m, d)| session(d, 2, m, 20))
        .collect();
    for sessions in 2..=slow.len() {
        assert_eq!(of(slow[..sessions].to_vec()), None, "after {sessions}");
    }
    assert_eq!(of((0..5).map(|day| session(day, 2, 8 + day as u32, 20)).collect()), None);
    assert_eq!(of((0..5).map(|day| session(day, 2, 17, 20)).collect()), None, "reached");
    assert_eq!(of((0..6).map(|day| session(day, 2, 1, 5)).collect()), None, "no full session");
    let hardly = of((0..2).map(|day| session(day, 2, 1, 20)).collect()).unwrap();
    assert_eq!(hardly.reason.detector, "hardly_comes");
}

#[test]
fn another_time_of_day_is_named_when_it_went_better() {
    let sessions = (0..10).map(|day| {
        let early = day % 2 == 0 && day < 4;
        let mut one = session(day, 2, if early { 16 } else { 7 }, 20);
        if early {
            one.clock = jiff::civil::time(9, 0, 0, 0);
        }
        one
    });
    let history = history(sessions.collect());
    let change = change::advise(&course(&history), 2, &plan().advice, date(2026, 1, 14)).unwrap();
    let way = change.ways.iter().find(|fitting| fitting.way == change::Way::AnotherTime).unwrap();
    assert_eq!(
        way.because,
        "in the morning it met the criterion 32 of 40 times, in the evening 56 of 160"
    );
}

#[test]
fn history_follows_a_step_through_split_rename_and_removal() {
    let now = Plan::parse(
        "pepino.toml",
        r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
[[step]]
name = "turns to the file"
[[step]]
name = "touches it"
was = ["touches the file"]
[[step]]
name = "rests a foot on it"
"#,
    )
    .unwrap();
    let mut history =
        history(vec![session(0, 1, 10, 10), session(1, 2, 10, 10), session(2, 3, 10, 10)]);
    let present = Ladder::of(2, &now);
    history.ladders.push(present.clone());
    assert_eq!(history.ladders[0].onto(&present), [None, Some(2), Some(3)]);
    let course = Course::new(&history, &now.behaviour, &present);
    assert_eq!(course.gone["looks at the file"], 10);
    let records = record::steps(&course, date(2026, 2, 1), 0.8);
    assert_eq!(records[0].paid, [0, 0, 0]);
    assert_eq!(records[1].paid, [0, 10, 0]);
    assert_eq!(records[1].last, Some(date(2026, 1, 3)));
    // Paid until the third of January, and a later step a day more: four weeks are rest enough.
    assert!(records[1].due);
    assert_eq!((records[1].rested_days, records[1].unpractised_days), (Some(29), Some(28)));
    assert_eq!(record::fall_back(&records, 3).unwrap().step, 2);
}

/// Sessions of these counts of twenty; the plan is another from session `line` on.
fn changed(met: &[u32], line: usize) -> effects::PhaseEffect {
    let sessions = (0..).zip(met).map(|(day, met)| session(day, 2, *met, 20));
    let mut history = history(sessions.collect());
    let second = Ladder { version: 2, ..history.ladders[0].clone() };
    history.ladders.push(second);
    history.sessions[line..].iter_mut().for_each(|session| session.version = 2);
    let step = progress::step(&course(&history), 2, &plan().advice).unwrap();
    assert_eq!(step.phases.len(), 2);
    step.effects[0].clone()
}

#[test]
fn a_step_up_at_a_change_of_plan_is_shown() {
    use effects::Shown;
    let up = [6, 8, 7, 6, 8, 7, 8, 6, 7, 7, 15, 17, 16, 15, 17, 16, 17, 15, 16, 16];
    let effect = changed(&up, 10);
    assert_eq!((effect.line, effect.shown), (date(2026, 1, 12), Shown::Better), "{effect:?}");
    let step = effect.step.known().unwrap();
    assert!(step.low > 0.0 && step.low < step.point && step.point < step.high, "{step:?}");
    // All pairs better: non-overlap and Tau-U are 1 by definition, and no interval goes beyond.
    assert_eq!(effect.non_overlap.known().unwrap().point, 1.0);
    let tau = effect.tau_u.known().unwrap();
    assert_eq!((tau.point, tau.high), (1.0, 1.0));
    assert!(effect.p.unwrap() < 1e-4);
}

#[test]
fn what_got_better_by_itself_is_not_the_effect_of_a_change() {
    use effects::Shown;
    // It gains a point or two a session, before as after: all pairs are better, and nothing was done.
    let gains: Vec<u32> = (0..16).map(|i| 3 + i).collect();
    let effect = changed(&gains, 8);
    assert_eq!(effect.non_overlap.known().unwrap().point, 1.0);
    assert_eq!(effect.shown, Shown::NotShown);
    assert_eq!(effect.because, "it was changing before already");
    assert!(matches!(effect.tau_u, Found::NotYet(_)));
    let short = changed(&[5, 5, 5, 5, 15, 15, 15, 15, 15, 15], 4);
    assert_eq!(short.shown, Shown::NotShown);
    assert_eq!(short.because, "only 4 sessions before it, and it takes 5");
    assert!(
        matches!(short.tau_u, Found::NotYet(_)) && matches!(short.non_overlap, Found::NotYet(_))
    );
}
