//! Changes to the steps of a plan's text.

use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, value};

use super::{EditError, PlanChange, put};
use crate::plan::{Dimension, Plan, Step};

/// The most steps that a plan may have.
const MOST: usize = 50;

/// Changes the steps.
pub(super) fn change(
    document: &mut DocumentMut,
    plan: &Plan,
    change: &PlanChange,
) -> Result<(), EditError> {
    let count = plan.steps.len();
    let index_of = |asked: u8| {
        let index = usize::from(asked).checked_sub(1).filter(|index| *index < count);
        index.ok_or(EditError::NoStep { asked, steps: count })
    };
    if plan.chain.is_some() {
        return Err(EditError::Chain);
    }
    let Some(tables) = document.get_mut("step").and_then(Item::as_array_of_tables_mut) else {
        return Err(EditError::Inline);
    };
    // Where the step that sessions start at lies afterwards.
    let start = usize::from(plan.start_step) - 1;
    let start = match change {
        PlanChange::Split { step, into } => {
            let index = index_of(*step)?;
            let smaller = if into.is_empty() {
                smaller_steps(plan, index)
            } else {
                named(&plan.steps[index], into)
            };
            // Where the start itself is split, sessions start at the first of its smaller steps.
            let start = if start > index { start + smaller.len() } else { start };
            insert(tables, index, smaller)?;
            start
        }
        PlanChange::Merge { step } => {
            let index = index_of(*step)?;
            let later = plan.steps.get(index + 1).ok_or(EditError::NothingAfter(*step))?;
            merge(tables, index, &plan.steps[index], later);
            if start > index { start - 1 } else { start }
        }
        PlanChange::Add { after, name } => {
            let index = if *after == 0 { 0 } else { index_of(*after)? + 1 };
            let mut new = Table::new();
            new.decor_mut().set_prefix("\n");
            new["name"] = value(name);
            insert(tables, index, vec![new])?;
            if start >= index { start + 1 } else { start }
        }
        PlanChange::Rename { step, name } => {
            let index = index_of(*step)?;
            let Some(table) = tables.get_mut(index) else { return Err(EditError::Inline) };
            put(table, "name", name.as_str().into());
            if plan.steps[index].id.is_none() {
                // In the record it stays what it was.
                put(table, "id", plan.steps[index].name.as_str().into());
            }
            start
        }
        PlanChange::Move { step, to } => {
            let (from, to) = (index_of(*step)?, index_of(*to)?);
            let mut all: Vec<Table> = std::mem::take(tables).into_iter().collect();
            let places: Vec<_> = all.iter().map(Table::position).collect();
            let moved = all.remove(from);
            all.insert(to, moved);
            for (mut table, place) in all.into_iter().zip(places) {
                table.set_position(place);
                tables.push(table);
            }
            match start {
                _ if start == from => to,
                _ if from < start && start <= to => start - 1,
                _ if to <= start && start < from => start + 1,
                _ => start,
            }
        }
        PlanChange::Remove { step } => {
            let index = index_of(*step)?;
            if count == 1 {
                return Err(EditError::OnlyStep);
            }
            tables.remove(index);
            if start > index { start - 1 } else { start.min(count - 2) }
        }
        PlanChange::Criterion { step, dimension, goal } => {
            let index = index_of(*step)?;
            let Some(table) = tables.get_mut(index) else { return Err(EditError::Inline) };
            put(table, "dimension", name_of(*dimension).as_str().into());
            put(table, "goal", (*goal).into());
            start
        }
        PlanChange::Length { .. } | PlanChange::Tries { .. } | PlanChange::Treat { .. } => start,
    };
    if document.contains_key("start_step") {
        let number = i64::try_from(start).unwrap_or_default() + 1;
        put(document.as_table_mut(), "start_step", number.into());
    }
    Ok(())
}

/// The smaller steps that lead to a step, when nobody named them: half of a measured goal (between the goal
/// of the step before, if of the same dimension, and this one's), or the begin of the movement.
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
    if like.dimension != Dimension::Form {
        table["dimension"] = value(name_of(like.dimension));
    }
    if let Some(goal) = goal {
        table["goal"] = value(goal);
    }
    table
}

/// As a plan writes it.
fn name_of(dimension: Dimension) -> String {
    let name = serde_json::to_value(dimension).unwrap_or_default();
    name.as_str().unwrap_or_default().to_owned()
}

/// A list of tables takes new ones only at its end, so that it is built again in order.
fn insert(tables: &mut ArrayOfTables, index: usize, new: Vec<Table>) -> Result<(), EditError> {
    let count = tables.len() + new.len();
    if count > MOST {
        return Err(EditError::TooMany(count));
    }
    let mut all: Vec<Table> = std::mem::take(tables).into_iter().collect();
    // Tables are written where they stood in the file; a new one takes the place of the one it precedes, or of the last.
    let place = all.get(index).or(all.last()).and_then(Table::position);
    for (offset, mut table) in new.into_iter().enumerate() {
        table.set_position(place);
        all.insert(index + offset, table);
    }
    all.into_iter().for_each(|table| tables.push(table));
    Ok(())
}

fn merge(tables: &mut ArrayOfTables, index: usize, earlier: &Step, later: &Step) {
    let mut was: Vec<&str> = later.was.iter().map(String::as_str).collect();
    was.push(earlier.key());
    was.extend(earlier.was.iter().map(String::as_str));
    let comment =
        tables.get(index).and_then(|table| table.decor().prefix()?.as_str()).unwrap_or_default();
    let comment = comment.to_owned();
    if let Some(table) = tables.get_mut(index + 1) {
        table["was"] = value(was.into_iter().collect::<Array>());
        let own = table.decor().prefix().and_then(|prefix| prefix.as_str()).unwrap_or_default();
        let both = format!("{comment}{}", own.trim_start_matches('\n'));
        table.decor_mut().set_prefix(both);
    }
    tables.remove(index);
}
