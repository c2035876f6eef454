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
        let score =
            crate::stats::summary::normal_score((f64::from(i * 7 % 40) + 0.5) / 40.0).unwrap();
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
fn changed(met: &[u32], line: usize) -> super::effects::PhaseEffect {
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
    use super::effects::Shown;
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
    use super::effects::Shown;
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

#[test]
fn weights_are_read_in_every_unit() {
    for (text, grams) in [
        ("92", 92.0),
        ("92 g", 92.0),
        ("0,0925 kg", 92.5),
        ("3.5 oz", 99.223_330_937_5),
        ("2 lb 3 oz", 992.233_309_375),
    ] {
        approx::assert_abs_diff_eq!(parse_weight(text).unwrap(), grams, epsilon = 1e-9);
    }
    for text in ["", "heavy", "-4 g", "0 g", "5 stone", "1e9 g", "20000 kg", "NaN g", "4 g g"] {
        assert_eq!(parse_weight(text), None, "{text}");
    }
}

fn says(body: &body::Body) -> Vec<String> {
    crate::wording::Wording::english().warnings("Pepino", &body.alarms)
}

fn weighed(grams: &[f64]) -> Vec<Noted> {
    let day =
        |i: usize| date(2026, 1, 1).checked_add(jiff::Span::new().days(i as i64 * 7)).unwrap();
    grams.iter().enumerate().map(|(i, g)| Noted { day: day(i), fact: Fact::Weight(*g) }).collect()
}

#[test]
fn a_tenth_less_than_the_baseline_stops_training() {
    // 405 g of 450 g is exactly -10 %: the alarm must fire (arithmetic; the limit: BirdChannel).
    let mut log = weighed(&[450.0; 8]);
    log.extend(weighed(&[405.0]).into_iter().map(|one| Noted { day: date(2026, 3, 1), ..one }));
    let body = read(&log, date(2026, 3, 1));
    assert_eq!(body.train, Train::NotAtAll);
    assert!(says(&body)[0].ends_with("see a veterinarian today"), "{:?}", says(&body));
    let next = next::plan(&history(vec![session(0, 2, 20, 20)]), &plan(), &body, date(2026, 3, 1));
    assert_eq!(next.train, Train::NotAtAll);
    assert_eq!(next.work.moves, Moves::Stay);
}

#[test]
fn five_percent_at_three_weighings_running_asks_for_a_veterinarian() {
    let log = weighed(&[400.0, 400.0, 400.0, 400.0, 400.0, 400.0, 379.0, 378.0, 380.0]);
    let body = read(&log, date(2026, 3, 1));
    assert_eq!(body.train, Train::Less);
    assert!(says(&body)[0].contains("three weighings running"), "{:?}", says(&body));
    let body = read(&log[..7], date(2026, 3, 1));
    assert!(says(&body)[0].contains("weigh again tomorrow"), "{:?}", says(&body));
    // Scatter of one or two percent is usual.
    assert!(read(&weighed(&[400.0, 396.0, 403.0, 394.0]), date(2026, 2, 1)).alarms.is_empty());
}

#[test]
fn a_slip_of_the_unit_is_told_and_counts_for_nothing() {
    let body = read(&weighed(&[400.0, 402.0, 399.0, 0.4, 401.0, 400_000.0]), date(2026, 2, 10));
    assert_eq!(body.latest_g, Some(401.0));
    assert_eq!(body.alarms.len(), 2);
    assert!(says(&body)[1].contains("kilograms for grams"), "{:?}", says(&body));
}

#[test]
fn told_ill_there_is_no_training_until_told_well() {
    let ill = Noted { day: date(2026, 1, 5), fact: Fact::Ill("sneezes".into()) };
    let well = Noted { day: date(2026, 1, 9), fact: Fact::Well };
    let body = read(std::slice::from_ref(&ill), date(2026, 1, 8));
    assert_eq!(body.train, Train::NotAtAll);
    assert_eq!(
        says(&body),
        [
            "noted ill on 5 January: sneezes; no training is planned until you say Pepino is well; see a veterinarian"
        ]
    );
    assert_eq!(read(&[ill, well], date(2026, 1, 9)).train, Train::AsPlanned);
}

#[test]
fn what_was_noted_of_its_health_stays_open_until_it_is_well() {
    let on = |month, day, fact| Noted { day: date(2026, month, day), fact };
    let sore = || Fact::Sore("left fore, warm".into());
    let signs = || Fact::Signs { text: "blood and limping".into(), words: vec!["blood".into()] };
    let open = |log: &[Noted], month| read(log, date(2026, month, 20)).concerns().len();
    // However long ago it was: nobody has said that it is over.
    assert_eq!(open(&[on(1, 5, sore())], 9), 1);
    assert_eq!(open(&[on(1, 5, sore()), on(1, 9, Fact::Well)], 9), 0);
    // A note that nobody answered is asked about, and is not logged by itself.
    let asked = read(&[on(1, 5, signs())], date(2026, 1, 20));
    assert_eq!((asked.concerns().len(), asked.train), (1, Train::AsPlanned));
    assert!(says(&asked)[0].starts_with("you noted blood on 5 January"), "{:?}", says(&asked));
    assert_eq!(open(&[on(1, 5, signs())], 9), 0, "not for ever");
    // "No" answers notes, and nothing else.
    assert_eq!(open(&[on(1, 5, sore()), on(1, 6, signs()), on(1, 7, Fact::NoConcern)], 1), 1);
    // Logged, it is a concern, and no question any more.
    let logged = [on(1, 5, signs()), on(1, 5, Fact::Concern("blood and limping".into()))];
    assert_eq!(open(&logged, 9), 1);
    assert_eq!(read(&logged, date(2026, 9, 20)).train, Train::NotAtAll);
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

#[test]
fn treats_fit_into_what_the_day_still_allows() {
    let text = format!(
        "{PLAN}\n[rewards.low]\nwhat = \"millet\"\nkcal_per_piece = 0.1\n[rewards.high]\nwhat = \"sunflower\"\n\
         kcal_per_piece = 0.5\n[rewards.jackpot]\nwhat = \"sunflower\"\npieces = 3\nkcal_per_piece = 0.5\n\
         [body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let mut history = history(vec![session(0, 2, 20, 20)]);
    history.ladders = vec![Ladder::of(1, &plan)];
    let body = read(&[], date(2026, 1, 2));
    // A 90 g parrot-like bird: a tenth of 1.5 x 12.81671 kcal is 1.9225 (Hand-Rearing Birds, table B.2). The
    // same day already brought 20 x 0.5 kcal, so nothing is left.
    let today = next::plan(&history, &plan, &body, date(2026, 1, 2)).treats;
    assert_eq!((today.reps, today.left_today_kcal), (0, Found::Known(0.0)));
    let next = next::plan(&history, &plan, &body, date(2026, 1, 3)).treats;
    approx::assert_abs_diff_eq!(*next.left_today_kcal.known().unwrap(), 1.922_506, epsilon = 1e-6);
    // What is given for something else on the same day counts too, by the plan that it was trained by: 2 x 0.7.
    let other = text.replace("rests a foot on the nail file", "turns").replace("0.5", "0.7");
    history.ladders.push(Ladder::of(2, &Plan::parse("q.toml", &other).unwrap()));
    history.sessions.push(Session { behaviour: "turns".into(), version: 2, ..session(1, 2, 2, 2) });
    let after = next::plan(&history, &plan, &body, date(2026, 1, 3)).treats;
    let left = *after.left_today_kcal.known().unwrap();
    approx::assert_abs_diff_eq!(left, 1.922_506 - 1.4, epsilon = 1e-6);
    // Of twenty high rewards and ten of the usual mix, 4 of 30 are low, 25.5 high, 0.5 jackpots: 0.463 kcal a
    // reward, so that four fit (arithmetic).
    assert_eq!(next.reps, 4);
    assert_eq!(next.kinds.iter().map(|kind| kind.pieces).collect::<Vec<_>>(), [1, 7]);
}

#[test]
fn behaviours_in_training_take_turns_and_rested_ones_are_due() {
    let named = |day, name: &str| Session { behaviour: name.into(), ..session(day, 1, 20, 20) };
    let history = history(vec![named(0, "waves"), named(40, "targets"), named(41, "turns")]);
    assert_eq!(next::behaviour(&history), Some("targets"));
    assert_eq!(next::behaviour(&super::testing::history(Vec::new())), None);
    let plan = Plan { behaviour: "targets".into(), ..plan() };
    let next = next::plan(&history, &plan, &read(&[], date(2026, 2, 13)), date(2026, 2, 13));
    assert_eq!(next.due, [next::Due { name: "waves".into(), days: 42 }]);
    assert!(next.chosen.because.contains("waited longest"), "{}", next.chosen.because);
}

/// The next session after these, on this day.
fn next_after(sessions: Vec<Session>, today: jiff::civil::Date) -> next::Next {
    next::plan(&history(sessions), &plan(), &read(&[], today), today)
}

#[test]
fn no_rest_is_advised_to_an_animal_that_rested() {
    // Ten sessions in a week, all declining: at 602ce15 a rest fitted on any later day.
    let sessions = (0..10).map(|day| {
        let mut one = session(day / 2, 2, 8, 20);
        one.began = one.began.checked_add(jiff::SignedDuration::from_mins(i64::from(day))).unwrap();
        one.declined_s = Some(99.0);
        one
    });
    let history = history(sessions.collect());
    let rest = |today| {
        let change = change::advise(&course(&history), 2, &plan().advice, today).unwrap();
        change.ways.iter().any(|fitting| fitting.way == change::Way::Rest)
    };
    assert!(rest(date(2026, 1, 6)));
    // 42 days after the latest session.
    assert!(!rest(date(2026, 2, 17)));
}

#[test]
fn what_rested_for_long_is_tried_first_and_is_not_called_safe() {
    let sessions = vec![session(0, 2, 19, 20), session(1, 3, 12, 20)];
    let soon = next_after(sessions.clone(), date(2026, 1, 5));
    let warm = soon.warm_up.as_ref().unwrap();
    assert_eq!((warm.step, warm.try_first), (2, false));
    let note = handover::note(&history(sessions.clone()), &soon).lines.join("\n");
    assert!(note.contains("Safe to fall back on: step 2"), "{note}");
    // 70 days later.
    let late = next_after(sessions.clone(), date(2026, 3, 14));
    assert_eq!((late.decision.says, late.work.step), (crate::decide::Says::TryFirst, 3));
    let warm = late.warm_up.as_ref().unwrap();
    assert_eq!((warm.step, warm.try_first), (2, true));
    assert!(warm.reason.because.contains("rested for 70 days"), "{}", warm.reason.because);
    let note = handover::note(&history(sessions), &late).lines.join("\n");
    assert!(!note.to_lowercase().contains("safe"), "{note}");
    assert!(
        note.contains("Try step 3, rests a foot on it, first: it rested for 70 days."),
        "{note}"
    );
}

#[test]
fn used_up_treats_are_said_and_no_empty_list() {
    let text = format!(
        "{PLAN}\n[rewards.low]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n[rewards.high]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n\
         [rewards.jackpot]\nwhat = \"seed\"\nkcal_per_piece = 0.5\n[body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let history = AnimalHistory::new(
        "Pepino",
        "cockatiel",
        vec![Ladder::of(1, &plan)],
        vec![session(0, 2, 20, 20)],
    );
    let at = |day| next::plan(&history, &plan, &read(&[], day), day);
    let today = at(date(2026, 1, 2));
    assert_eq!((today.treats.reps, today.length.planned_reps), (0, 0));
    let told = crate::wording::Wording::english().next(&today);
    assert!(told.contains("Treats are used up for today; train tomorrow."), "{told}");
    assert!(!told.contains("Lay out") && !told.contains("0 rewarded"), "{told}");
    let note = handover::note(&history, &today).lines.join("\n");
    assert!(note.contains("Treats are used up for today; train tomorrow."), "{note}");
    // The next day allows some: one number of them, whoever asks.
    let next = at(date(2026, 1, 3));
    assert!(next.treats.reps > 0 && next.treats.reps < 20);
    assert_eq!(next.length.planned_reps, next.treats.reps);
}

#[test]
fn a_weight_of_a_month_ago_is_said_to_be_old() {
    let text = format!(
        "{PLAN}\n[rewards.high]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n[rewards.low]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n\
         [rewards.jackpot]\nwhat = \"seed\"\nkcal_per_piece = 0.01\n[body]\nweight_g = 90\nkind = \"other_bird\"\nactivity = 1.5\n"
    );
    let plan = Plan::parse("p.toml", &text).unwrap();
    let history = history(vec![session(0, 2, 20, 20)]);
    let log = weighed(&[91.0]);
    let says = |today| {
        let next = next::plan(&history, &plan, &read(&log, today), today);
        let watch = next.watch.iter().map(|tip| tip.says.clone());
        watch.chain([next.treats.reason.because]).collect::<Vec<_>>().join("\n")
    };
    let fresh = says(date(2026, 1, 5));
    assert!(!fresh.contains("weighed"), "{fresh}");
    // Once: it was said of the treats, too.
    let old = says(date(2026, 2, 1));
    assert_eq!(old.matches("last weighed 31 days ago").count(), 1, "{old}");
}

#[test]
fn the_last_step_leads_on_and_its_unmeasured_goal_is_said() {
    let sessions: Vec<Session> = (0..16).map(|day| session(day, 3, 19, 20)).collect();
    let of = |sessions: &[Session]| {
        let today = sessions.last().unwrap().day;
        crate::wording::Wording::english().next(&next_after(sessions.to_vec(), today))
    };
    let first = of(&sessions[..1]);
    assert!(first.contains("Ask for step 3 in other places and with other people."), "{first}");
    assert!(first.contains("Its goal of 5 seconds was never measured."), "{first}");
    assert!(of(&sessions[..9]).contains("Reward step 3 more thinly."), "{}", of(&sessions[..9]));
    assert!(of(&sessions).contains("Leave step 3 for a week, then test it."), "{}", of(&sessions));
    let mut held = sessions;
    held.push(session(23, 3, 19, 20));
    held.iter_mut().for_each(|one| one.tries[0].duration_s = Some(6.0));
    let kept = of(&held);
    assert!(kept.contains("Keep step 3 with one session a week."), "{kept}");
    assert!(!kept.contains("never measured"), "{kept}");
}
