//! Each detector on a short session made for it.

use std::time::Duration;

use crate::at::At;
use crate::decide::Says;
use crate::interpret::{Details, Said};
use crate::plan::{Body, BodyKind, Command, Dimension, Mood, Plan, RewardValue, Side, Treat};
use crate::session::{
    Allowed, Derived, Event, Input, Logged, NudgeKind, Output, PastSession, PastStep, Prior,
    Reason, Session, Suggests,
};

mod declining;
mod food;
mod pace;
mod steps;

/// A session whose tags are said at given seconds, and the nudges that came of them.
struct Trial {
    session: Session,
    nudges: Vec<(f64, NudgeKind, Reason)>,
}

impl Trial {
    /// A long plan with four steps, so that nothing but the detector under test has cause to speak.
    fn plan() -> Plan {
        let mut plan = Plan::of_default_words();
        plan.steps = vec![plan.steps[0].clone(); 4];
        plan.limits.planned = Duration::from_secs(3600);
        plan.limits.planned_reps = 1000;
        plan.limits.rate_floor_per_min = 3.0;
        plan
    }

    fn new(plan: Plan, prior: Prior) -> Self {
        Trial { session: Session::with_prior(plan, prior), nudges: Vec::new() }
    }

    fn say(&mut self, seconds: f64, said: Said) {
        let out = self.session.handle(At::from_secs_f64(seconds), Input::said(said, "words"));
        self.keep(out);
    }

    fn until(&mut self, seconds: f64) {
        let out = self.session.advance(At::from_secs_f64(seconds));
        self.keep(out);
    }

    fn keep(&mut self, out: Vec<Output>) {
        self.nudges.extend(out.into_iter().filter_map(|output| match output {
            Output::Append(Logged {
                at,
                event: Event::Derived(Derived::Nudged { nudge, reason }),
            }) => Some((at.as_secs_f64(), nudge, reason)),
            _ => None,
        }));
    }

    fn count(&self, detector: &str) -> usize {
        self.nudges.iter().filter(|(_, _, reason)| reason.detector == detector).count()
    }

    fn kinds(&self, detector: &str) -> Vec<NudgeKind> {
        let of = self.nudges.iter().filter(|(_, _, reason)| reason.detector == detector);
        of.map(|(_, nudge, _)| *nudge).collect()
    }
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn paid(value: RewardValue) -> Said {
    Said::Rep(Details { value: Some(value), ..Details::default() })
}

/// A little irregular, as animals are.
fn uneven(i: u32) -> f64 {
    [0.0, 0.4, -0.3, 0.2, -0.1][i as usize % 5]
}

#[test]
fn good_work_of_a_quarter_of_an_hour_is_left_alone() {
    let mut trial = Trial::new(Trial::plan(), Prior::default());
    for i in 0..150 {
        let said = if i % 7 == 3 { Said::Miss(Details::default()) } else { yes() };
        trial.say(f64::from(i) * 6.0 + uneven(i), said);
    }
    let warned: Vec<_> =
        trial.nudges.iter().filter(|(_, nudge, _)| *nudge != NudgeKind::StepReady).collect();
    assert!(warned.is_empty(), "{warned:?}");
}

#[test]
fn the_planned_end_goes_by_what_the_day_still_allows() {
    let allowed = Allowed { seconds: 3600.0, reps: 10, day_kcal: None };
    let prior = Prior { allowed: Some(allowed), ..Prior::default() };
    let mut trial = Trial::new(Trial::plan(), prior);
    for i in 0..12 {
        trial.say(f64::from(i) * 25.0, yes());
    }
    trial.until(330.0);
    assert_eq!(trial.kinds("planned end"), [NudgeKind::EndSoon, NudgeKind::EndNow]);
    let told = trial.nudges.iter().find(|(_, _, reason)| reason.detector == "planned end").unwrap();
    assert_eq!(told.2.because, "9 of 10 planned rewarded tries");
}

#[test]
fn the_learnt_length_comes_before_the_planned_one() {
    let prior = Prior { learnt_length: Some(Duration::from_secs(100)), ..Prior::default() };
    let mut trial = Trial::new(Trial::plan(), prior);
    for i in 0..25 {
        trial.say(f64::from(i) * 5.0, yes());
    }
    trial.until(130.0);
    assert_eq!(trial.kinds("planned end"), [NudgeKind::EndSoon, NudgeKind::EndNow]);
    assert!((trial.nudges[0].0 - 90.0).abs() < 1.5, "{:?}", trial.nudges[0]);
}

#[test]
fn a_late_jackpot_is_the_high_point() {
    let mut plan = Trial::plan();
    plan.limits.planned = Duration::from_secs(120);
    let mut trial = Trial::new(plan, Prior::default());
    for i in 0..16 {
        let value = if i == 4 || i == 15 { RewardValue::Jackpot } else { RewardValue::Low };
        trial.say(f64::from(i) * 5.5, paid(value));
    }
    trial.until(84.0);
    assert_eq!(trial.kinds("high point"), [NudgeKind::HighPoint]);
    assert!(trial.nudges.iter().any(|(at, nudge, _)| *nudge == NudgeKind::HighPoint && *at > 80.0));
}

/// CHECKS B10: five of five on one side is not significant, six of six is (p = 0.03125).
#[test]
fn a_side_difference_that_lasts_goes_to_the_veterinarian() {
    let side_advice = |reps: u32, past: usize| {
        let day = PastSession { sides: [0, 6], active_s: 60.0, ..PastSession::default() };
        let prior = Prior { sessions: vec![day; past], ..Prior::default() };
        let mut trial = Trial::new(Trial::plan(), prior);
        for i in 0..reps {
            let details = Details { side: Some(Side::Right), ..Details::default() };
            trial.say(f64::from(i) * 6.0, Said::Rep(details));
        }
        let advice = trial.session.advice();
        advice.into_iter().find(|advice| advice.reason.detector == "sides")
    };
    assert_eq!(side_advice(5, 0), None);
    let one = side_advice(6, 0).unwrap();
    assert_eq!(one.suggests, Suggests::SideDiffers);
    assert!((one.reason.probability.unwrap() - 0.03125).abs() < 1e-12);
    let lasting = side_advice(6, 2).unwrap();
    assert_eq!(lasting.suggests, Suggests::SeeVeterinarian);
    assert!(lasting.reason.because.contains("veterinarian"));
}
