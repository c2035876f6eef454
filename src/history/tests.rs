//! The history on short, odd and known data. Outside numbers stand with their source; the statistics
//! themselves are checked where they live.

use jiff::civil::date;

use super::body::{Fact, Noted, Train, parse_weight, read};
use super::course::Course;
use super::cue::{Given, Probe, State, control, grid};
use super::next::Moves;
use super::testing::{PLAN, past, plan, session};
use super::*;
use crate::plan::{Limits, Plan};

fn course(past: &Past) -> Course<'_> {
    let present = &past.ladders[0];
    Course::new(past, "rests a foot on the nail file", present)
}

#[test]
fn nothing_trained_yet_is_an_answer() {
    let past = past(Vec::new());
    let course = course(&past);
    let advice = plan().advice;
    let steps = progress::steps(&course, &advice);
    assert_eq!(steps.len(), 3);
    assert!(steps.iter().all(|step| step.verdict == progress::Verdict::Untouched));
    assert_eq!(steps[0].trend, Found::needs(5, 0, "sessions"));
    let body = read(&[], date(2026, 1, 2));
    let next = next::plan(&past, &plan(), &body, date(2026, 1, 2));
    assert_eq!((next.work.step, next.work.moves), (1, Moves::Begin));
    assert_eq!(next.warm_up, None);
    assert_eq!(next.change, None);
    assert_eq!(next.length.planned_s, 180.0);
    assert!(people::compare(&course).is_empty());
    assert!(captured::of(&[], date(2026, 1, 2)).is_empty());
    assert_eq!(handover::note(&past, &next, &body).lines[0], "Not trained yet.");
}

#[test]
fn a_step_that_rises_every_day_is_getting_better() {
    // Five rising values without a tie: S = 10, exact two-sided p = 2/120 (all orders are equally likely).
    let past = past((0..5).map(|day| session(day, 2, 3 + day as u32, 20)).collect());
    let step = progress::step(&course(&past), 2, &plan().advice).unwrap();
    let trend = step.trend.known().unwrap();
    assert_eq!(trend.s, 10);
    approx::assert_abs_diff_eq!(trend.p, 2.0 / 120.0, epsilon = 1e-12);
    // One more of twenty a day is 0.35 a week.
    approx::assert_abs_diff_eq!(trend.per_week.point, 0.35, epsilon = 1e-9);
    assert_eq!(step.verdict, progress::Verdict::Better);
    assert_eq!(step.reason.probability, Some(trend.p));
}

#[test]
fn rewarded_tries_that_double_every_week_are_a_factor_of_two() {
    // By definition: 10 and 20 a minute seven days apart.
    let sessions = [0, 7, 14, 21, 28].map(|day| {
        let mut one = session(day, 1, 20, 20);
        let pace = 2.0_f64.powi(day / 7);
        one.tries.iter_mut().for_each(|one| one.active_s /= pace);
        one
    });
    let past = past(sessions.into());
    let step = progress::step(&course(&past), 1, &plan().advice).unwrap();
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
    let past = past(sessions.collect());
    let step = progress::step(&course(&past), 1, &plan().advice).unwrap();
    let line = step.change_over_time.known().unwrap();
    assert!(line.per_week.low < 1.0 && line.per_week.high > 1.0);
    assert_eq!(line.percent_a_week, None);
}

#[test]
fn the_planned_length_is_when_a_quarter_had_declined() {
    // Constructed sessions whose curve was computed with statsmodels 0.15.0 and lifelines 0.30.3: the first
    // time with S <= 0.75 is 9.5 (minutes there, tens of seconds here).
    let time = [6.5, 8.0, 8.0, 9.5, 11.0, 12.0, 12.0, 14.0, 15.0, 15.0];
    let declined = [true, true, false, true, true, false, true, true, false, false];
    let sessions = (0..10).map(|i| {
        let mut one = session(i as i32, 1, 20, 20);
        one.active_s = time[i] * 10.0;
        one.declined_s = declined[i].then_some(one.active_s);
        one
    });
    let past = past(sessions.collect());
    let limits = Limits::default();
    let length = length::advise(&past, "rests a foot on the nail file", &limits);
    assert_eq!(length.planned_s, 95.0);
    assert_eq!((length.sessions, length.declined, length.pooled), (10, 6, false));
    let capped = Limits { planned: std::time::Duration::from_secs(60), ..limits };
    assert_eq!(length::advise(&past, "rests a foot on the nail file", &capped).planned_s, 60.0);
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
    let past = past(sessions.collect());
    let length = length::advise(&past, "rests a foot on the nail file", &Limits::default());
    assert!(length.pooled);
    assert_eq!(length.sessions, 9);
    assert!(length.reason.because.contains("all behaviours"), "{}", length.reason.because);
}

#[test]
fn two_full_sessions_without_progress_ask_for_a_change() {
    let stuck = past((0..4).map(|day| session(day, 2, 8, 20)).collect());
    let change = change::advise(&course(&stuck), 2, &plan().advice).unwrap();
    assert_eq!(change.step, 2);
    assert!(change.ways.iter().any(|fitting| fitting.way == change::Way::SmallerStep));
    assert_eq!(change.reason.source, CUSTOM);
    let rising = past((0..4).map(|day| session(day, 2, 8 + day as u32, 20)).collect());
    assert_eq!(change::advise(&course(&rising), 2, &plan().advice), None);
    let reached = past((0..4).map(|day| session(day, 2, 17, 20)).collect());
    assert_eq!(change::advise(&course(&reached), 2, &plan().advice), None);
    let short = past((0..4).map(|day| session(day, 2, 1, 5)).collect());
    assert_eq!(change::advise(&course(&short), 2, &plan().advice), None);
}

#[test]
fn another_time_of_day_is_named_when_it_went_better() {
    let sessions = (0..6).map(|day| {
        let early = day % 2 == 0 && day < 4;
        let mut one = session(day, 2, if early { 16 } else { 7 }, 20);
        if early {
            one.clock = jiff::civil::time(9, 0, 0, 0);
        }
        one
    });
    let past = past(sessions.collect());
    let change = change::advise(&course(&past), 2, &plan().advice).unwrap();
    let way = change.ways.iter().find(|fitting| fitting.way == change::Way::AnotherTime).unwrap();
    assert_eq!(
        way.because,
        "in the morning it met the criterion 32 of 40 times, in the evening 28 of 80"
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
    let mut past = past(vec![session(0, 1, 10, 10), session(1, 2, 10, 10), session(2, 3, 10, 10)]);
    let present = Ladder::of(2, &now);
    past.ladders.push(present.clone());
    assert_eq!(past.ladders[0].onto(&present), [None, Some(2), Some(3)]);
    let course = Course::new(&past, &now.behaviour, &present);
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

#[test]
fn a_change_of_plan_draws_a_line_and_is_measured() {
    // All pairs better: non-overlap is 1 by definition; Tau-U without a trend before is 1, too.
    let mut past =
        past((0..8).map(|day| session(day, 2, if day < 4 { 5 } else { 15 }, 20)).collect());
    let second = Ladder { version: 2, ..past.ladders[0].clone() };
    past.ladders.push(second);
    past.sessions[4..].iter_mut().for_each(|session| session.version = 2);
    let step = progress::step(&course(&past), 2, &plan().advice).unwrap();
    assert_eq!(step.phases.len(), 2);
    let effect = &step.effects[0];
    assert_eq!(effect.line, date(2026, 1, 6));
    assert_eq!(effect.non_overlap.known().unwrap().point, 1.0);
    assert_eq!(effect.tau_u.known().unwrap().point, 1.0);
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
    let past = past(sessions);
    let days: Vec<_> = past.sessions.iter().map(|session| session.day.to_string()).collect();
    assert_eq!(days, ["2026-03-28", "2026-03-28", "2026-03-29", "2026-03-29"]);
    let course = course(&past);
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
    assert!(body.alarms[0].says.ends_with("see a veterinarian today"), "{}", body.alarms[0].says);
    let next = next::plan(&past(vec![session(0, 2, 20, 20)]), &plan(), &body, date(2026, 3, 1));
    assert_eq!(next.train, Train::NotAtAll);
    assert_eq!(next.work.moves, Moves::Stay);
}

#[test]
fn five_percent_at_three_weighings_running_asks_for_a_veterinarian() {
    let log = weighed(&[400.0, 400.0, 400.0, 400.0, 400.0, 400.0, 379.0, 378.0, 380.0]);
    let body = read(&log, date(2026, 3, 1));
    assert_eq!(body.train, Train::Less);
    assert!(body.alarms[0].says.contains("three weighings running"), "{}", body.alarms[0].says);
    let body = read(&log[..7], date(2026, 3, 1));
    assert!(body.alarms[0].says.contains("weigh again tomorrow"), "{}", body.alarms[0].says);
    // Scatter of one or two percent is usual.
    assert!(read(&weighed(&[400.0, 396.0, 403.0, 394.0]), date(2026, 2, 1)).alarms.is_empty());
}

#[test]
fn a_slip_of_the_unit_is_told_and_counts_for_nothing() {
    let body = read(&weighed(&[400.0, 402.0, 399.0, 0.4, 401.0, 400_000.0]), date(2026, 2, 10));
    assert_eq!(body.latest_g, Some(401.0));
    assert_eq!(body.alarms.len(), 2);
    assert!(body.alarms[1].says.contains("kilograms for grams"), "{}", body.alarms[1].says);
}

#[test]
fn told_ill_there_is_no_training_until_told_well() {
    let ill = Noted { day: date(2026, 1, 5), fact: Fact::Ill("sneezes".into()) };
    let well = Noted { day: date(2026, 1, 9), fact: Fact::Well };
    let body = read(std::slice::from_ref(&ill), date(2026, 1, 8));
    assert_eq!(body.train, Train::NotAtAll);
    assert_eq!(
        body.alarms[0].says,
        "told ill 3 days ago: sneezes. No training until told well; see a veterinarian"
    );
    assert_eq!(read(&[ill, well], date(2026, 1, 9)).train, Train::AsPlanned);
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
    let past = past(vec![at(0, "kitchen", "Ada"), at(1, "kitchen", "Ada"), at(2, "garden", "Ben")]);
    let grid = grid(&course(&past), &[]);
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
    let same = past(sessions.clone());
    let people = people::compare(&course(&same));
    assert_eq!(people[0].against_others.known().unwrap().point, 1.0);
    sessions[6..].iter_mut().for_each(|session| {
        session.last_step = 3;
        session.tries.iter_mut().for_each(|one| one.working = 3);
    });
    let other = past(sessions);
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
    let past = past(vec![session(0, 2, 20, 20)]);
    let body = read(&[], date(2026, 1, 2));
    // A 90 g parrot-like bird: a tenth of 1.5 x 12.81671 kcal is 1.9225 (Hand-Rearing Birds, table B.2). The
    // same day already brought 20 x 0.5 kcal, so nothing is left.
    let today = next::plan(&past, &plan, &body, date(2026, 1, 2)).treats;
    assert_eq!((today.reps, today.left_today_kcal), (0, Found::Known(0.0)));
    let next = next::plan(&past, &plan, &body, date(2026, 1, 3)).treats;
    approx::assert_abs_diff_eq!(*next.left_today_kcal.known().unwrap(), 1.922_506, epsilon = 1e-6);
    // Of twenty high rewards and ten of the usual mix, 4 of 30 are low, 25.5 high, 0.5 jackpots: 0.463 kcal a
    // reward, so that four fit (arithmetic).
    assert_eq!(next.reps, 4);
    assert_eq!(next.kinds.iter().map(|kind| kind.pieces).collect::<Vec<_>>(), [1, 7]);
}

#[test]
fn behaviours_in_training_take_turns_and_rested_ones_are_due() {
    let named = |day, name: &str| Session { behaviour: name.into(), ..session(day, 1, 20, 20) };
    let past = past(vec![named(0, "waves"), named(40, "targets"), named(41, "turns")]);
    assert_eq!(next::behaviour(&past), Some("targets"));
    assert_eq!(next::behaviour(&super::testing::past(Vec::new())), None);
    let plan = Plan { behaviour: "targets".into(), ..plan() };
    let next = next::plan(&past, &plan, &read(&[], date(2026, 2, 13)), date(2026, 2, 13));
    assert_eq!(next.due, [next::Due { name: "waves".into(), days: 42 }]);
    assert!(next.chosen.because.contains("waited longest"), "{}", next.chosen.because);
}
