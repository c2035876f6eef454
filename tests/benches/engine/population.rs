//! Simulated animals with a few ordinary sessions behind them, and one long session to be judged.

use std::time::Duration;

use hushtally::plan::Plan;
use hushtally::session::{PastSession, Prior, Session};
use hushtally::sim::{self, Animal, Simulated, Trainer};
use rand::RngExt;

/// Ordinary sessions before the one that is judged.
const BEFORE: usize = 6;
/// The judged session goes on to the animal's breakdown, or for this many seconds.
const LONGEST_S: f64 = 600.0;

/// The plan's default of false nudges an hour.
pub(crate) const USUAL: f64 = 1.0;

/// Which animals: thresholds are chosen on one set and reported on the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Seeds {
    Tuning,
    Reported,
}

/// One judged session.
#[derive(Clone)]
pub(crate) struct Case {
    pub(crate) simulated: Simulated,
    pub(crate) prior: Prior,
    pub(crate) working: u8,
    pub(crate) cues: bool,
    /// The trainer's plan.
    pub(crate) plan: Plan,
}

impl Case {
    /// The plan as it stands at the step worked on, with this many false nudges an hour to stand.
    pub(crate) fn plan(&self, false_nudges_per_hour: f64) -> Plan {
        let mut plan = plan_at(&self.plan, self.working);
        plan.limits.false_nudges_per_hour = false_nudges_per_hour;
        plan
    }

    /// Seconds from the decline to the breakdown, if both came.
    pub(crate) fn lasts(&self) -> Option<f64> {
        let truth = &self.simulated.truth;
        Some(truth.broke_down?.since(truth.declined?).as_secs_f64())
    }
}

/// The plan of all simulated trainers. Its floor is a little over half of a usual pace.
pub(crate) fn plan() -> Plan {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 5];
    plan.limits.rate_floor_per_min = 4.0;
    plan.limits.planned = Duration::from_secs(180);
    plan
}

/// The plan as it stands at a step.
pub(crate) fn plan_at(plan: &Plan, step: u8) -> Plan {
    Plan { start_step: step, ..plan.clone() }
}

/// Runs the engine over the tags.
pub(crate) fn replay(
    plan: &Plan,
    prior: Prior,
    simulated: &Simulated,
) -> (Session, Vec<hushtally::session::Output>) {
    let mut session = Session::with_prior(plan.clone(), prior);
    let mut out = Vec::new();
    for (at, input) in &simulated.inputs {
        out.extend(session.handle(*at, input.clone()));
    }
    out.extend(session.close(simulated.truth.ended));
    (session, out)
}

pub(crate) fn cases(seeds: Seeds, count: u64) -> Vec<Case> {
    let first = match seeds {
        Seeds::Tuning => 1_000_000,
        Seeds::Reported => 0,
    };
    (first..first + count).map(case).collect()
}

fn case(seed: u64) -> Case {
    let mut dice = sim::dice(seed);
    let plan = plan();
    let mut animal = Animal::draw(plan.steps.len(), &mut dice);
    let planned = plan.limits.planned.as_secs_f64();
    let mut trainer = Trainer::draw(planned, &mut dice);
    let mut working = 1;
    let mut prior = Prior::default();
    for _ in 0..BEFORE {
        trainer.stops_after = planned * dice.random_range(0.7..1.15);
        let simulated = sim::run(&mut animal, &trainer, &plan, working, &mut dice);
        let (session, _) = replay(&plan_at(&plan, working), prior.clone(), &simulated);
        prior.sessions.push(PastSession::of(&session));
        // This trainer goes on roughly when it is time to.
        let opinion = simulated.truth.habit + dice.random_range(-0.1..0.1);
        if opinion > 0.85 && usize::from(working) < plan.steps.len() {
            working += 1;
        }
    }
    trainer.stops_after = LONGEST_S;
    let simulated = sim::run(&mut animal, &trainer, &plan, working, &mut dice);
    Case { simulated, prior, working, cues: trainer.cues, plan }
}
