//! Changes to a plan's text that leave everything else in it as it was, comments included. Pure: text in,
//! text out. Steps keep what they are called in the record, so that their history follows them.

mod steps;

use serde::Serialize;
use toml_edit::{DocumentMut, Item, Table, TableLike, Value};

use super::{Dimension, Plan, PlanErrors, RewardValue};

/// A change to a plan. Steps are counted from 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum PlanChange {
    /// Put smaller steps in front of this one. The step itself stays the goal they lead to, and keeps its history.
    Split {
        /// Which.
        step: u8,
        /// Names of the smaller steps; when empty, one or two are made from the step's goal or name.
        into: Vec<String>,
    },
    /// Make this step and the next one into one. The later one stays, and takes the history of both.
    Merge {
        /// The earlier of the two.
        step: u8,
    },
    /// Put a new step after this one.
    Add {
        /// After which; 0 puts it first, 255 last.
        after: u8,
        /// What the animal does there.
        name: String,
    },
    /// Call a step otherwise; its history follows it.
    Rename {
        /// Which.
        step: u8,
        /// The new name.
        name: String,
    },
    /// Put a step elsewhere.
    Move {
        /// Which.
        step: u8,
        /// The number that it has afterwards; 255 is the last.
        to: u8,
    },
    /// Take a step out of the plan; its tries stay in the record.
    Remove {
        /// Which.
        step: u8,
    },
    /// Measure a step.
    Criterion {
        /// Which.
        step: u8,
        /// By what.
        dimension: Dimension,
        /// In seconds or metres.
        goal: f64,
    },
    /// How long a session is to be.
    Length {
        /// In minutes.
        minutes: f64,
    },
    /// How many rewarded tries a session is to have.
    Tries {
        /// So many.
        tries: u32,
    },
    /// What a reward is.
    Treat {
        /// Which reward.
        value: RewardValue,
        /// What is given.
        what: String,
        /// Pieces at once.
        pieces: u32,
    },
}

/// A change with the names of the steps that it is about, to be read back.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Described {
    /// The change.
    #[serde(flatten)]
    pub change: PlanChange,
    /// The step's name.
    pub of: String,
    /// The name of the step that it comes after, or that it is merged with; empty when there is none.
    pub beside: String,
    /// Whether what was known of the treat's energy goes with it.
    pub energy_goes: bool,
}

impl PlanChange {
    /// The step that it names, if it names one.
    pub fn step(&self) -> Option<u8> {
        match self {
            PlanChange::Split { step, .. }
            | PlanChange::Merge { step }
            | PlanChange::Rename { step, .. }
            | PlanChange::Move { step, .. }
            | PlanChange::Remove { step }
            | PlanChange::Criterion { step, .. } => Some(*step),
            PlanChange::Add { after, .. } => Some(*after).filter(|after| *after > 0),
            PlanChange::Length { .. } | PlanChange::Tries { .. } | PlanChange::Treat { .. } => None,
        }
    }

    /// The same where the end of the plan, however long that is, has its number.
    fn within(&self, steps: usize) -> PlanChange {
        let last = u8::try_from(steps).unwrap_or(u8::MAX);
        match self.clone() {
            PlanChange::Add { after: u8::MAX, name } => PlanChange::Add { after: last, name },
            PlanChange::Move { step, to: u8::MAX } => PlanChange::Move { step, to: last },
            other => other,
        }
    }

    /// The change with names, by the plan as it is.
    pub fn described(&self, plan: &Plan) -> Described {
        let change = self.within(plan.steps.len());
        let name = |number: u8| {
            let index = usize::from(number).checked_sub(1);
            index.and_then(|index| plan.steps.get(index)).map(|step| step.name.clone())
        };
        let beside = match &change {
            PlanChange::Merge { step } => name(step.saturating_add(1)),
            PlanChange::Move { step, to } if to > step => name(*to),
            PlanChange::Move { to, .. } => name(to.saturating_sub(1)),
            _ => None,
        };
        let energy_goes = match &change {
            PlanChange::Treat { value, what, .. } => {
                let treat = plan.rewards.of(*value);
                treat.kcal_per_piece.is_some() && treat.what != *what
            }
            _ => false,
        };
        Described {
            of: change.step().and_then(name).unwrap_or_default(),
            change,
            beside: beside.unwrap_or_default(),
            energy_goes,
        }
    }
}

/// Why a plan could not be changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// The plan was faulty before, or would be afterwards.
    #[error(transparent)]
    Plan(#[from] PlanErrors),
    /// There is no such step.
    #[error("there is no step {asked}; the plan has {steps}")]
    NoStep {
        /// Asked for.
        asked: u8,
        /// How many there are.
        steps: usize,
    },
    /// Nothing follows the last step.
    #[error("step {0} is the last one: there is no next step to merge it with")]
    NothingAfter(u8),
    /// A plan needs a step.
    #[error("it is the plan's only step: call it otherwise instead")]
    OnlyStep,
    /// The plan would hold more steps than it may.
    #[error("the plan would have {0} steps; 50 is the most")]
    TooMany(usize),
    /// The steps of a chain follow from its links.
    #[error("the steps of a chain follow from its links; change the [[links]] in the plan's file")]
    Chain,
    /// The steps stand in a form that cannot be changed without losing comments.
    #[error("the steps are written as one list; write each under a [[step]] line of its own")]
    Inline,
}

/// Changes the plan's text.
///
/// # Errors
/// The plan is faulty, or has no such step.
///
/// ```
/// use hushtally_core::plan::{PlanChange, change_plan};
/// let text = "animal = \"Pepino\"\nspecies = \"cockatiel\"\nbehaviour = \"turns\"\n[[step]]\nname = \"looks\" # well\n";
/// let change = PlanChange::Rename { step: 1, name: "looks up".into() };
/// let changed = change_plan("p.toml", text, &change).unwrap();
/// assert!(changed.contains("name = \"looks up\" # well\nid = \"looks\""));
/// ```
pub fn change_plan(file: &str, text: &str, change: &PlanChange) -> Result<String, EditError> {
    let plan = Plan::parse(file, text)?;
    // Parsed as a plan already, so that it is TOML.
    let mut document: DocumentMut = text.parse().map_err(|_| EditError::Inline)?;
    match change {
        PlanChange::Length { minutes } => {
            put(table(&mut document, &["limits"])?, "planned_minutes", (*minutes).into());
        }
        PlanChange::Tries { tries } => {
            put(table(&mut document, &["limits"])?, "planned_reps", i64::from(*tries).into());
        }
        PlanChange::Treat { value, what, pieces } => {
            let treat = table(&mut document, &["rewards", value.name()])?;
            put(treat, "what", what.as_str().into());
            put(treat, "pieces", i64::from(*pieces).into());
            if plan.rewards.of(*value).what != *what {
                // It was another treat's.
                treat.remove("kcal_per_piece");
            }
        }
        _ => steps::change(&mut document, &plan, &change.within(plan.steps.len()))?,
    }
    let changed = document.to_string();
    Plan::parse(file, &changed)?;
    Ok(changed)
}

/// The table at this path, made where it is missing.
fn table<'a>(
    document: &'a mut DocumentMut,
    path: &[&str],
) -> Result<&'a mut dyn TableLike, EditError> {
    let mut at: &mut dyn TableLike = document.as_table_mut();
    for (depth, name) in path.iter().enumerate() {
        let mut new = Table::new();
        // A table that only holds others needs no line of its own.
        new.set_implicit(depth + 1 < path.len());
        let item = at.entry(name).or_insert(Item::Table(new));
        at = item.as_table_like_mut().ok_or(EditError::Inline)?;
    }
    Ok(at)
}

/// Puts a value there; the comment after the one before stays.
fn put(table: &mut dyn TableLike, key: &str, mut new: Value) {
    match table.get_mut(key) {
        Some(Item::Value(old)) => {
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
        _ => drop(table.insert(key, Item::Value(new))),
    }
}

#[cfg(test)]
mod tests;
