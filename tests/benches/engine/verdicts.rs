//! Verdicts over weeks that somebody looks at after every session: how often they are wrong, and how late.

use hushtally::chain::LinkScores;
use hushtally::history::change;
use hushtally::history::course::Course;
use hushtally::history::effects::Shown;
use hushtally::history::progress::{self, Verdict};
use hushtally::history::{AnimalHistory, Ladder, Session, Try};
use hushtally::plan::{Plan, RewardValue};
use hushtally::sim::{self, Dice};
use jiff::{Timestamp, ToSpan};
use rand::RngExt;

use crate::figure;

/// Records of each kind; fewer to choose by.
const RECORDS: usize = 1_500;
const QUICK_RECORDS: usize = 300;
/// Sessions of a record, and tries of a session.
const SESSIONS: usize = 20;
const TRIES: u32 = 20;
/// Scatter of a share from session to session where neighbours are alike, and how alike.
const SCATTER: f64 = 0.12;
const ALIKE: f64 = 0.4;

/// A day's session at step 1 with this many of its tries met.
pub(crate) fn session(day: usize, version: i64, met: u32, tries: u32) -> Session {
    let first: Timestamp = "2026-01-02T16:00:00Z".parse().expect("a moment");
    let began = first + (24 * day as i64).hours();
    let local = jiff::tz::Offset::UTC.to_datetime(began);
    let one = |i: u32| Try {
        active_s: 5.0 * f64::from(i + 1),
        working: 1,
        step: 1,
        // The misses lie evenly between.
        paid: ((i + 1) * met / tries > i * met / tries).then_some(RewardValue::High),
        side: None,
        latency_s: None,
        duration_s: None,
        links: LinkScores::default(),
    };
    Session {
        id: format!("s{day}"),
        behaviour: "b".into(),
        version,
        person: None,
        handed_over: Vec::new(),
        place: None,
        began,
        day: local.date(),
        clock: local.time(),
        last_step: 1,
        active_s: 5.0 * f64::from(tries),
        declined_s: None,
        ended_well: true,
        cues: 0,
        unsure: 0,
        simulated: true,
        tries: (0..tries).map(one).collect(),
    }
}

pub(crate) fn plan() -> Plan {
    Plan { behaviour: "b".into(), ..Plan::of_default_words() }
}

fn chance(p: f64, dice: &mut Dice) -> u32 {
    (0..TRIES).filter(|_| dice.random_bool(p.clamp(0.0, 1.0))).count() as u32
}

/// A standard normal number (Box & Muller).
fn normal(dice: &mut Dice) -> f64 {
    let u: f64 = 1.0 - dice.random::<f64>();
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * dice.random::<f64>()).cos()
}

/// Counts whose chance is the same every time.
fn still(from: f64, to: f64, dice: &mut Dice) -> Vec<u32> {
    let p = dice.random_range(from..to);
    (0..SESSIONS).map(|_| chance(p, dice)).collect()
}

/// Shares about one level, each like its neighbours.
fn alike(dice: &mut Dice) -> Vec<u32> {
    let level = dice.random_range(0.35..0.7);
    let mut off = normal(dice);
    (0..SESSIONS)
        .map(|_| {
            let share: f64 = (level + SCATTER * off).clamp(0.0, 1.0);
            off = ALIKE * off + (1.0 - ALIKE * ALIKE).sqrt() * normal(dice);
            (share * f64::from(TRIES)).round() as u32
        })
        .collect()
}

/// Gains this many points a session.
fn gains(points: f64, dice: &mut Dice) -> Vec<u32> {
    let p = dice.random_range(0.25..0.45);
    (0..SESSIONS).map(|i| chance((p + points / 100.0 * i as f64).min(0.97), dice)).collect()
}

/// What is asked after each session of a record.
fn after_each<T>(met: &[u32], ask: impl Fn(&Course) -> T) -> Vec<T> {
    let ladder = Ladder::of(1, &plan());
    let sessions: Vec<Session> =
        met.iter().enumerate().map(|(day, met)| session(day, 1, *met, TRIES)).collect();
    (1..=sessions.len())
        .map(|upto| {
            let history =
                AnimalHistory::new("A", "s", vec![ladder.clone()], sessions[..upto].to_vec());
            ask(&Course::new(&history, "b", &ladder))
        })
        .collect()
}

fn verdicts(met: &[u32]) -> Vec<Verdict> {
    let advice = plan().advice;
    after_each(met, |course| {
        progress::step(course, 1, &advice).map_or(Verdict::TooEarly, |step| step.verdict)
    })
}

fn told_to_change(met: &[u32]) -> Vec<bool> {
    let advice = plan().advice;
    after_each(met, |course| {
        let today = course.latest_day().expect("a session");
        change::advise(course, 1, &advice, today).is_some()
    })
}

fn share(of: impl Iterator<Item = bool>) -> f64 {
    let (yes, all) = of.fold((0, 0), |(yes, all), one| (yes + u32::from(one), all + 1));
    f64::from(yes) / f64::from(all)
}

/// Share of records without a trend that are called better or worse at least once.
fn called(records: impl Iterator<Item = Vec<u32>>) -> f64 {
    let wrong = |verdict: &Verdict| matches!(verdict, Verdict::Better | Verdict::Worse);
    share(records.map(|met| verdicts(&met).iter().any(wrong)))
}

/// Sessions until something is told first, the middle one of all records; endless for half of them.
fn median_first(records: impl Iterator<Item = Vec<bool>>) -> f64 {
    let first =
        |told: Vec<bool>| told.iter().position(|t| *t).map_or(f64::INFINITY, |i| (i + 1) as f64);
    let mut firsts: Vec<f64> = records.map(first).collect();
    firsts.sort_by(f64::total_cmp);
    firsts[firsts.len() / 2]
}

/// Share of changes of the plan, in twelve simulated weeks that no change touches, that are shown to have
/// done something.
fn changes_shown(tuning: bool, animals: u64) -> (f64, usize) {
    let from = if tuning { 6_000 } else { 7_000 };
    let (mut shown, mut all) = (0, 0);
    for seed in from..from + animals {
        let mut plan = plan();
        plan.steps = vec![plan.steps[0].clone(); 5];
        for (index, step) in plan.steps.iter_mut().enumerate() {
            step.name = format!("step {}", index + 1);
        }
        let sessions: Vec<Session> = sim::weeks(&plan, seed, 84)
            .iter()
            .map(|dated| {
                let version = i64::from(dated.day >= 42) + 1;
                crate::good_time::recorded(&plan, &dated.simulated, dated.day as usize, version)
            })
            .collect();
        let ladders = vec![Ladder::of(1, &plan), Ladder::of(2, &plan)];
        let history = AnimalHistory::new("A", "s", ladders, sessions);
        let present = Ladder::of(2, &plan);
        let course = Course::new(&history, "b", &present);
        for step in progress::steps(&course, &plan.advice) {
            for effect in &step.effects {
                all += 1;
                shown += usize::from(effect.shown != Shown::NotShown);
            }
        }
    }
    (shown as f64 / all as f64, all)
}

/// Prints the figures; constants were chosen on the tuning seeds.
pub(crate) fn report(tuning: bool, quick: bool) {
    let count = if quick { QUICK_RECORDS } else { RECORDS };
    let mut dice = sim::dice(if tuning { 170_001 } else { 170_002 });
    let mut records = |make: &dyn Fn(&mut Dice) -> Vec<u32>| -> Vec<Vec<u32>> {
        (0..count).map(|_| make(&mut dice)).collect()
    };
    let independent = called(records(&|dice| still(0.3, 0.75, dice)).into_iter());
    figure("no_trend_called_in_20_sessions", 100.0 * independent, "%", "<=5", &[]);
    let near_the_top = called(records(&|dice| still(0.85, 0.98, dice)).into_iter());
    let alike = called(records(&alike).into_iter());
    figure("no_trend_called_in_20_sessions_alike", 100.0 * alike, "%", "<=10", &[]);
    let improving = records(&|dice| gains(2.0, dice));
    let told = share(improving.iter().flat_map(|met| told_to_change(met)));
    figure("improving_told_to_change_plan", 100.0 * told, "%", "<=5", &[]);
    let stuck = records(&|dice| still(0.3, 0.65, dice));
    let first = median_first(stuck.iter().map(|met| told_to_change(met)));
    figure("stuck_told_within_sessions", first, "sessions", "<=5", &[]);
    let (shown, changes) = changes_shown(tuning, if quick { 8 } else { 40 });
    figure("idle_change_shown_share", 100.0 * shown, "%", "<=5", &[]);
    let better = |points: f64| {
        let mut dice = sim::dice(170_003);
        let found = (0..300).map(|_| {
            verdicts(&gains(points, &mut dice))
                .iter()
                .any(|v| matches!(v, Verdict::Better | Verdict::Reached))
        });
        100.0 * share(found)
    };
    eprintln!(
        "verdicts over {count} records of {SESSIONS} sessions of {TRIES} tries; {changes} idle changes of plan; \
         no trend near the top called in {:.1} %; gains of 2 and 4 points a session called better or reached in {:.0} \
         and {:.0} % within {SESSIONS} sessions; stuck told at all: {:.0} %",
        100.0 * near_the_top,
        better(2.0),
        better(4.0),
        100.0 * share(stuck.iter().map(|met| told_to_change(met).contains(&true)))
    );
}
