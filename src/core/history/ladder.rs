//! Which step of an old plan is which step of the present one. Numbers shift when a step is split,
//! merged or removed; the history follows the step's id or name.

use serde::Serialize;

use super::treats;
use crate::plan::{Dimension, Plan, RewardValue};

/// The steps of one version of a plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ladder {
    /// The version's number in the record; zero for a plan that no session was trained by.
    pub version: i64,
    /// Steps in order; never empty.
    pub rungs: Vec<Rung>,
    /// What a low, a high reward and a jackpot bring, in kcal; zero where the plan does not say.
    pub kcal: [f64; 3],
}

/// One step, as the history sees it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rung {
    /// Id or name.
    pub key: String,
    /// Name.
    pub name: String,
    /// Element raised.
    pub dimension: Dimension,
    /// Goal of a measured criterion, in the dimension's unit.
    pub goal: Option<f64>,
    /// Ids or names of earlier steps that count as this one.
    pub was: Vec<String>,
}

impl Rung {
    /// Whether an older step is this one: by id, by name, or by what it was.
    fn takes(&self, old: &Rung) -> bool {
        let same = |text: &str| text == old.key || same_name(text, &old.name);
        same(&self.key) || same(&self.name) || self.was.iter().any(|was| same(was))
    }
}

fn same_name(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

impl Ladder {
    /// The steps of a plan.
    pub fn of(version: i64, plan: &Plan) -> Self {
        let rungs = plan.steps.iter().map(|step| Rung {
            key: step.key().to_owned(),
            name: step.name.clone(),
            dimension: step.dimension,
            goal: step.goal,
            was: step.was.clone(),
        });
        let kcal = [RewardValue::Low, RewardValue::High, RewardValue::Jackpot]
            .map(|value| treats::given_kcal(plan, [value].into_iter()));
        Ladder { version, rungs: rungs.collect(), kcal }
    }

    /// For each step of this ladder its number (from 1) in `present`; `None` when it is not there any more.
    /// An exact id or name goes before a mention in `was`.
    pub fn onto(&self, present: &Ladder) -> Vec<Option<u8>> {
        let number = |index: usize| u8::try_from(index + 1).ok();
        let exact = |old: &Rung| present.rungs.iter().position(|rung| rung.key == old.key);
        let kept = |old: &Rung| present.rungs.iter().position(|rung| rung.takes(old));
        self.rungs.iter().map(|old| exact(old).or_else(|| kept(old)).and_then(number)).collect()
    }

    /// The step of this number (from 1); the nearest there is when out of range.
    pub fn rung(&self, number: u8) -> Option<&Rung> {
        let index = usize::from(number.max(1)) - 1;
        self.rungs.get(index.min(self.rungs.len().saturating_sub(1)))
    }
}
