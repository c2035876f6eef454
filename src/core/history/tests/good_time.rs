//! How long it stays good, and what is watched for.

use super::*;

/// A session of `ends` seconds whose tries come every five seconds, not all alike, and from `declines` on
/// three times as far apart and mostly missed.
fn tiring(day: i32, declines: f64, ends: f64) -> Session {
    let mut one = session(day, 1, 0, 1);
    let (mut now, mut tries, first) = (0.0, Vec::new(), one.tries[0]);
    for i in 0.. {
        let bad = now > declines;
        now += 5.0 * (1.0 + 0.2 * f64::from(i * 7 % 5 - 2)) * if bad { 3.0 } else { 1.0 };
        if now > ends {
            break;
        }
        let paid = (i % if bad { 5 } else { 20 } != 0) != bad;
        tries.push(Try { active_s: now, paid: paid.then_some(RewardValue::High), ..first });
    }
    (one.tries, one.active_s) = (tries, ends);
    one
}

#[test]
fn the_planned_length_is_when_a_quarter_had_declined_by_what_happened() {
    // Moments of decline spread as a log-normal with median 150 s and scatter 0.3 of the logs (quantiles by
    // the inverse normal function): a quarter has declined by 150 exp(-0.6745 x 0.3) = 122.5 s.
    let quantiles = (0..40).map(|i| {
        let within = (f64::from(i * 7 % 40) + 0.5) / 20.0 - 1.0;
        let score = crate::stats::Level::new(within.abs()).unwrap().z().copysign(within);
        150.0 * (0.3 * score).exp()
    });
    let sessions: Vec<Session> =
        (0..).zip(quantiles).map(|(day, declines)| tiring(day, declines, 200.0)).collect();
    let limits = Limits::default();
    let of = |sessions: Vec<Session>, limits: &Limits| {
        length::advise(&history(sessions), "rests a foot on the nail file", limits)
    };
    let found = of(sessions.clone(), &limits);
    let quarter = *found.until_decline_s.known().unwrap();
    assert!((105.0..145.0).contains(&quarter.point), "{quarter:?}");
    assert!(quarter.low.unwrap() < quarter.point && quarter.point < quarter.high.unwrap());
    assert!((27.0..=36.0).contains(&found.declined), "{}", found.declined);
    assert_eq!((found.planned_s, found.sessions, found.pooled), (quarter.point, 40, false));
    let lasts = found.lasts.known().unwrap();
    assert!((0.7..0.8).contains(&lasts.point), "{lasts:?}");
    assert!(lasts.low < lasts.point && lasts.point < lasts.high && lasts.high < 1.0, "{lasts:?}");
    // The curve is the same answer: it has fallen by a quarter where the sentence says so.
    let tiring = found.tiring.as_ref().unwrap();
    let upto = tiring.curve.iter().take_while(|(at, _)| *at <= quarter.point).last().unwrap();
    assert!((0.75..0.8).contains(&upto.1.point), "{upto:?}");
    assert_eq!(tiring.sessions.len(), 40);
    let lately = found.lately.unwrap();
    assert!(lately.sessions == 5 && (2.0..=5.0).contains(&lately.declined), "{lately:?}");
    // What was alarmed, or not, makes no difference.
    let mut alarmed = sessions.clone();
    alarmed.iter_mut().step_by(2).for_each(|session| session.declined_s = Some(20.0));
    assert_eq!(of(alarmed, &limits), found);
    let capped = Limits { planned: std::time::Duration::from_secs(60), ..limits };
    assert_eq!(of(sessions, &capped).planned_s, 60.0);
}

#[test]
fn how_long_it_stays_good_is_not_known_when_no_session_went_on_to_the_end() {
    // Every session is over long before a decline. At 602ce15 this was "1.0 (1.0 to 1.0)".
    let sessions = (0..20).map(|day| tiring(day, 1e9, 90.0));
    let limits = Limits::default();
    let found =
        length::advise(&history(sessions.collect()), "rests a foot on the nail file", &limits);
    assert_eq!(found.planned_s, limits.planned.as_secs_f64());
    let Found::NotYet(why) = &found.lasts else { panic!("{:?}", found.lasts) };
    assert!(why.starts_with("no session went on"), "{why}");
    assert!(matches!(found.until_decline_s, Found::NotYet(_)));
    assert_eq!(found.tiring, None);
    assert!(found.declined < 2.0, "{}", found.declined);
}

#[test]
fn the_first_slow_answer_is_watched_for_where_sessions_declined_and_not_where_alarms_were_given() {
    let tip = |sessions: Vec<Session>| {
        let tips = next_after(sessions, date(2026, 1, 20)).watch;
        tips.iter().any(|tip| tip.says.contains("first slow answer"))
    };
    let declining = |day| tiring(day, 80.0, 190.0);
    assert!(tip((0..8).map(declining).collect()));
    // Steady to the end, each with an alarm: at 602ce15 that was a decline.
    let alarmed = |day| Session { declined_s: Some(50.0), ..tiring(day, 1e9, 100.0) };
    assert!(!tip((0..8).map(alarmed).collect()));
}

#[test]
fn few_sessions_are_pooled_with_other_behaviours_and_say_so() {
    let sessions = (0..9).map(|day| {
        let mut one = session(day, 1, 20, 20);
        one.declined_s = (day % 2 == 0).then_some(50.0);
        if day > 1 {
            one.behaviour = "targets".into();
        }
        one
    });
    let history = history(sessions.collect());
    let length = length::advise(&history, "rests a foot on the nail file", &Limits::default());
    assert!(length.pooled);
    assert_eq!(length.sessions, 9);
    assert!(length.reason.because.contains("all behaviours"), "{}", length.reason.because);
}
