//! Putting a behaviour on cue: whether the cue controls it, and where it has been tried.

use std::collections::BTreeMap;

use serde::Serialize;

use super::course::{Course, Trained};
use super::reason;
use crate::sentences::says;
use crate::session::Reason;
use crate::stats::{Level as Confidence, proportions};

/// Probes of a row before it is judged (common practice, no source).
pub const LEAST_PROBES: u32 = 5;
/// Tries of a cell before it counts as tested (common practice, no source).
const LEAST_TRIES: u32 = 5;
/// A cell goes well from this share on (common practice, no source).
const GOES_WELL: f64 = 0.8;
const FOUR: &str =
    "the four conditions of stimulus control: Pryor, Don't Shoot the Dog, chapter 3 (notes page)";

/// One test of a cue.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// What was given.
    pub given: Given,
    /// Whether the behaviour came.
    pub came: bool,
    /// Whether another behaviour came instead.
    pub other: bool,
    /// Where.
    pub place: Option<String>,
    /// With whom.
    pub person: Option<String>,
}

/// What was given in a probe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Given {
    /// The behaviour's own cue.
    Own,
    /// No cue.
    None,
    /// Another cue.
    Other,
}

/// The stimulus-control table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Control {
    /// The four conditions in order.
    pub rows: Vec<Condition>,
    /// What to do next.
    pub next: String,
    /// Why.
    pub reason: Reason,
}

/// One condition.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Condition {
    /// In words.
    pub name: String,
    /// Probes in which it held.
    pub held: u32,
    /// Probes.
    pub probes: u32,
    /// Share that held with Wilson's interval; `None` without a probe.
    pub share: Option<crate::stats::Estimate>,
    /// In one word.
    pub state: State,
}

/// How a condition or a cell stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Never tried.
    Untested,
    /// Too few to judge.
    Few,
    /// Not yet.
    NotYet,
    /// It holds.
    Holds,
}

/// Sums up the probes of a behaviour.
pub fn control(probes: &[Probe]) -> Control {
    type Asks = fn(&Probe) -> Option<bool>;
    let conditions: [(&str, Asks); 4] = [
        ("own", |p| (p.given == Given::Own).then_some(p.came)),
        ("none", |p| (p.given == Given::None).then_some(!p.came)),
        ("other", |p| (p.given == Given::Other).then_some(!p.came)),
        ("else", |p| (p.given == Given::Own).then_some(!p.other)),
    ];
    let rows: Vec<Condition> = conditions
        .iter()
        .map(|(what, asks)| {
            let answers: Vec<bool> = probes.iter().filter_map(asks).collect();
            let (held, probes) =
                (count(answers.iter().filter(|held| **held).count()), count(answers.len()));
            let state = judged(held, probes, LEAST_PROBES);
            let share = proportions::wilson(held, probes, Confidence::NINETY_FIVE).ok();
            let name = says("condition", &[], &[("what", *what)]);
            Condition { name, held, probes, share, state }
        })
        .collect();
    let open = rows.iter().position(|row| row.state != State::Holds);
    let mut inputs: Vec<(&str, f64, &str)> =
        rows.iter().map(|row| (row.name.as_str(), f64::from(row.held), "probes")).collect();
    let mut why = ("conditions_hold", vec![]);
    if let Some(row) = open.map(|index| &rows[index]) {
        inputs.extend([
            ("held", f64::from(row.held), "probes"),
            ("probes", f64::from(row.probes), ""),
        ]);
        why = ("condition", vec![("name", row.name.as_str())]);
    }
    let what = open.map_or("place", |index| conditions[index].0);
    let next = says("condition_next", &[], &[("what", what)]);
    let method = "share of probes, at least five a row, from 0.8 on";
    let reason = reason("stimulus_control", (why.0, &why.1), &inputs, method, FOUR);
    Control { rows, next, reason }
}

fn judged(held: u32, of: u32, least: u32) -> State {
    match of {
        0 => State::Untested,
        few if few < least => State::Few,
        _ if f64::from(held) / f64::from(of) >= GOES_WELL => State::Holds,
        _ => State::NotYet,
    }
}

/// Where and with whom a behaviour was tried.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Grid {
    /// Places, in order of name.
    pub places: Vec<String>,
    /// Persons, in order of name.
    pub persons: Vec<String>,
    /// A row a place, a cell a person.
    pub cells: Vec<Vec<Cell>>,
    /// The next cell to try.
    pub next: Option<NextCell>,
}

/// One place with one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Cell {
    /// Tries that met the criterion, and probes on the cue that came.
    pub met: u32,
    /// Tries and probes.
    pub tries: u32,
    /// In one word.
    pub state: State,
}

/// Which cell to try next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextCell {
    /// Where.
    pub place: String,
    /// With whom.
    pub person: String,
    /// Why.
    pub reason: Reason,
}

/// Lays out sessions and probes by place and person. What was not said is left out.
pub fn grid(course: &Course, probes: &[Probe]) -> Grid {
    let mut seen: BTreeMap<(String, String), (u32, u32)> = BTreeMap::new();
    let mut add = |place: &Option<String>, person: &Option<String>, met: u32, tries: u32| {
        if let (Some(place), Some(person)) = (place, person) {
            let cell = seen.entry((place.clone(), person.clone())).or_default();
            *cell = (cell.0 + met, cell.1 + tries);
        }
    };
    for part in course.sessions.iter().flat_map(Trained::parts) {
        let met = part.tries.iter().filter(|one| one.met).count();
        let person = part.person.map(str::to_owned);
        add(&part.session.place, &person, count(met), count(part.tries.len()));
    }
    for probe in probes.iter().filter(|probe| probe.given == Given::Own) {
        add(&probe.place, &probe.person, u32::from(probe.came), 1);
    }
    let mut places: Vec<String> = seen.keys().map(|(place, _)| place.clone()).collect();
    let mut persons: Vec<String> = seen.keys().map(|(_, person)| person.clone()).collect();
    persons.sort();
    places.dedup();
    persons.dedup();
    let cell = |place: &String, person: &String| {
        let (met, tries) = seen.get(&(place.clone(), person.clone())).copied().unwrap_or_default();
        Cell { met, tries, state: judged(met, tries, LEAST_TRIES) }
    };
    let cells: Vec<Vec<Cell>> = places
        .iter()
        .map(|place| persons.iter().map(|person| cell(place, person)).collect())
        .collect();
    let next = next_cell(&places, &persons, &cells);
    Grid { places, persons, cells, next }
}

/// The open cell that differs in one thing from the cell that goes best: one change at a time.
fn next_cell(places: &[String], persons: &[String], cells: &[Vec<Cell>]) -> Option<NextCell> {
    let all = || (0..places.len()).flat_map(|p| (0..persons.len()).map(move |q| (p, q)));
    let best = all()
        .filter(|(p, q)| cells[*p][*q].state == State::Holds)
        .max_by_key(|(p, q)| cells[*p][*q].tries)?;
    let open = all().filter(|(p, q)| matches!(cells[*p][*q].state, State::Untested | State::Few));
    let changes = |(p, q): (usize, usize)| usize::from(p != best.0) + usize::from(q != best.1);
    let (p, q) = open.min_by_key(|cell| changes(*cell))?;
    let changed = if changes((p, q)) < 2 { "one" } else { "two" };
    let words = [
        ("place", places[best.0].as_str()),
        ("person", persons[best.1].as_str()),
        ("changes", changed),
    ];
    let known = cells[best.0][best.1];
    let inputs = [
        ("met there", f64::from(known.met), "tries"),
        ("tries there", f64::from(known.tries), "tries"),
    ];
    let method = "nearest open cell to the best one";
    let reason = reason("next_cell", ("next_cell", &words), &inputs, method, super::CUSTOM);
    Some(NextCell { place: places[p].clone(), person: persons[q].clone(), reason })
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
