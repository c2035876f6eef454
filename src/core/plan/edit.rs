//! Changes to a plan's text that leave everything else in it as it was, comments included. Pure: text in,
//! text out. Steps keep what they are called in the record, so that their history follows them.

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use super::{Plan, PlanErrors, Step};

/// A change to the steps of a plan.
#[derive(Debug, Clone, PartialEq)]
pub enum StepChange {
    /// Put smaller steps in front of this one (counted from 1). The step itself stays the goal they lead to,
    /// and keeps its history.
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
}

/// Why a plan could not be changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// The plan was faulty before.
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
    /// The plan would hold more steps than it may.
    #[error("the plan would have {0} steps; 50 is the most")]
    TooMany(usize),
    /// The steps stand in a form that cannot be changed without losing comments.
    #[error("the steps are written as one list; write each under a [[step]] line of its own")]
    Inline,
}

/// Changes the plan's text.
///
/// # Errors
/// The plan is faulty, or has no such step.
pub fn change_steps(file: &str, text: &str, change: &StepChange) -> Result<String, EditError> {
    let plan = Plan::parse(file, text)?;
    let asked = match change {
        StepChange::Split { step, .. } | StepChange::Merge { step } => *step,
    };
    let index = usize::from(asked).wrapping_sub(1);
    let Some(step) = plan.steps.get(index) else {
        return Err(EditError::NoStep { asked, steps: plan.steps.len() });
    };
    // Parsed as a plan already, so that it is TOML.
    let mut document: DocumentMut = text.parse().map_err(|_| EditError::Inline)?;
    let Some(tables) = document.get_mut("step").and_then(Item::as_array_of_tables_mut) else {
        return Err(EditError::Inline);
    };
    match change {
        StepChange::Split { into, .. } => {
            let smaller =
                if into.is_empty() { smaller_steps(&plan, index) } else { named(step, into) };
            if tables.len() + smaller.len() > 50 {
                return Err(EditError::TooMany(tables.len() + smaller.len()));
            }
            insert(tables, index, smaller);
            shift_start(&mut document, &plan, index, into.len().max(1) as i64);
        }
        StepChange::Merge { .. } => {
            let Some(later) = plan.steps.get(index + 1) else {
                return Err(EditError::NothingAfter(asked));
            };
            merge(tables, index, step, later);
            shift_start(&mut document, &plan, index, -1);
        }
    }
    let changed = document.to_string();
    Plan::parse(file, &changed)?;
    Ok(changed)
}

/// The smaller steps that lead to a step, when nobody named them: half of a measured goal (between the goal
/// of the step before, if of the same dimension, and this one's), or the start of the movement.
fn smaller_steps(plan: &Plan, index: usize) -> Vec<Table> {
    let step = &plan.steps[index];
    let before = index.checked_sub(1).map(|index| &plan.steps[index]);
    let from = before.filter(|before| before.dimension == step.dimension).and_then(|b| b.goal);
    let (name, goal) = match step.goal {
        Some(goal) => {
            let half = f64::midpoint(from.unwrap_or(0.0), goal);
            (format!("{}, up to {half}", step.name), Some(half))
        }
        None => (format!("begins: {}", step.name), None),
    };
    vec![table(&name, step, goal)]
}

fn named(step: &Step, names: &[String]) -> Vec<Table> {
    names.iter().map(|name| table(name, step, None)).collect()
}

fn table(name: &str, like: &Step, goal: Option<f64>) -> Table {
    let mut table = Table::new();
    table.decor_mut().set_prefix("\n");
    table["name"] = value(name);
    let dimension = serde_json::to_value(like.dimension).unwrap_or_default();
    if let Some(dimension) = dimension.as_str().filter(|dimension| *dimension != "form") {
        table["dimension"] = value(dimension);
    }
    if let Some(goal) = goal {
        table["goal"] = value(goal);
    }
    table
}

/// A list of tables takes new ones only at its end, so that it is built again in order.
fn insert(tables: &mut ArrayOfTables, index: usize, smaller: Vec<Table>) {
    let mut all: Vec<Table> = std::mem::take(tables).into_iter().collect();
    // Tables are written where they stood in the file; a new one takes the place of the one it precedes.
    let place = all[index].position();
    for (offset, mut table) in smaller.into_iter().enumerate() {
        table.set_position(place);
        all.insert(index + offset, table);
    }
    all.into_iter().for_each(|table| tables.push(table));
}

fn merge(tables: &mut ArrayOfTables, index: usize, earlier: &Step, later: &Step) {
    let mut was: Vec<&str> = later.was.iter().map(String::as_str).collect();
    was.push(earlier.key());
    was.extend(earlier.was.iter().map(String::as_str));
    let comment =
        tables.get(index).and_then(|table| table.decor().prefix()?.as_str()).unwrap_or_default();
    let comment = comment.to_owned();
    if let Some(table) = tables.get_mut(index + 1) {
        table["was"] = value(was.into_iter().collect::<toml_edit::Array>());
        let own = table.decor().prefix().and_then(|prefix| prefix.as_str()).unwrap_or_default();
        let both = format!("{comment}{}", own.trim_start_matches('\n'));
        table.decor_mut().set_prefix(both);
    }
    tables.remove(index);
}

/// Keeps the start on the same step when those before it move. Where the start itself was split, sessions
/// start at the first of its smaller steps.
fn shift_start(document: &mut DocumentMut, plan: &Plan, index: usize, by: i64) {
    if usize::from(plan.start_step) > index + 1 && document.contains_key("start_step") {
        document["start_step"] = value(i64::from(plan.start_step) + by);
    }
}
