//! Sentences about a plan: "step four is too big, split it", "step three is a hold of two seconds". Pure: words in, a
//! change out. Nothing is guessed: a sentence that does not name one change is none.

mod words;

use super::edit::PlanChange;
use super::{Dimension, RewardValue};
use words::Spoken;

const TOO_BIG: [&str; 6] = ["split", "break", "divide", "smaller", "halve", "big"];
const MERGE: [&str; 5] = ["merge", "join", "together", "combine", "small"];
const REMOVE: [&str; 4] = ["remove", "delete", "drop", "omit"];
const ADD: [&str; 3] = ["add", "insert", "append"];
const MOVE: [&str; 2] = ["move", "put"];
const LOW: [&str; 6] = ["everyday", "low", "ordinary", "usual", "normal", "small"];
const HIGH: [&str; 5] = ["better", "high", "bonus", "best", "special"];
const JACKPOT: [&str; 1] = ["jackpot"];
const TREAT: [&str; 4] = ["treat", "treats", "reward", "rewards"];
const TRIES: [&str; 6] = ["tries", "try", "repetitions", "reps", "rewards", "times"];
/// Words after which a name or a treat stands.
const IS: [&str; 5] = ["is", "are", "becomes", "become", "to"];
const CALLED: [&str; 2] = ["called", "named"];
/// Said before an order, out of courtesy.
const PLEASE: [&str; 7] = ["please", "now", "and", "then", "could", "can", "you"];

/// What a sentence asks for; `None` when it does not name one change. `working` is the step that "this step" means.
///
/// ```
/// use hushtally_core::plan::{Dimension, PlanChange, asked};
/// let change = asked("step four is too big, split it", 1).unwrap();
/// assert_eq!(change, PlanChange::Split { step: 4, into: Vec::new() });
/// let change = asked("step three is a hold of two seconds", 1).unwrap();
/// assert_eq!(change, PlanChange::Criterion { step: 3, dimension: Dimension::Duration, goal: 2.0 });
/// ```
pub fn asked(sentence: &str, working: u8) -> Option<PlanChange> {
    let said = Spoken::new(sentence, working);
    let first = said.first_but(&PLEASE);
    let order = said.word(first).unwrap_or_default();
    match order {
        "rename" | "call" => rename(&said, first),
        _ if ADD.contains(&order) => add(&said),
        "swap" | "exchange" => swap(&said),
        _ if MOVE.contains(&order) => move_step(&said),
        _ if said.has(&CALLED) => rename(&said, first),
        _ => treat(&said).or_else(|| split_or_merge(sentence, working)).or_else(|| of_one(&said)),
    }
}

/// "split step two into looks and leans", "merge steps two and three".
fn split_or_merge(sentence: &str, working: u8) -> Option<PlanChange> {
    let (order, names) = match sentence.split_once(" into ") {
        Some((order, names)) if !names.contains("step") => (order, names),
        _ => (sentence, ""),
    };
    let said = Spoken::new(order, working);
    let steps = said.steps();
    match (said.has(&TOO_BIG), said.has(&MERGE), &steps[..]) {
        _ if said.is_negated() || said.has(&REMOVE) => None,
        (true, false, [step]) => Some(PlanChange::Split { step: *step, into: parts(names) }),
        (false, true, [step]) => Some(PlanChange::Merge { step: *step }),
        (false, true, [a, b]) if a.abs_diff(*b) == 1 => Some(PlanChange::Merge { step: *a.min(b) }),
        _ => None,
    }
}

/// What is said in one breath of one step, or of the session: taken out, a criterion, a length, a number of tries.
fn of_one(said: &Spoken<'_>) -> Option<PlanChange> {
    if said.is_negated() || said.has(&TOO_BIG) || said.has(&MERGE) {
        return None;
    }
    let amount = said.amount();
    match (&said.steps()[..], amount) {
        ([step], None) if said.has(&REMOVE) => Some(PlanChange::Remove { step: *step }),
        ([step], Some((amount, unit))) if !said.has(&REMOVE) => {
            criterion(said, *step, amount, unit)
        }
        ([], Some((amount, unit))) => of_session(said, amount, unit),
        _ => None,
    }
}

fn criterion(said: &Spoken<'_>, step: u8, amount: f64, unit: &str) -> Option<PlanChange> {
    let (dimension, goal) = match unit {
        "second" | "seconds" if said.has(&["within", "latency", "cue"]) => {
            (Dimension::Latency, amount)
        }
        "second" | "seconds" => (Dimension::Duration, amount),
        "minute" | "minutes" => (Dimension::Duration, amount * 60.0),
        "meter" | "meters" | "metre" | "metres" => (Dimension::Distance, amount),
        "centimeters" | "centimetres" => (Dimension::Distance, amount / 100.0),
        _ => return None,
    };
    (goal > 0.0).then_some(PlanChange::Criterion { step, dimension, goal })
}

fn of_session(said: &Spoken<'_>, amount: f64, unit: &str) -> Option<PlanChange> {
    let session = said.has(&["session", "sessions", "length", "long", "train"]);
    match unit {
        _ if amount <= 0.0 => None,
        "minute" | "minutes" if session => Some(PlanChange::Length { minutes: amount }),
        "second" | "seconds" if session => Some(PlanChange::Length { minutes: amount / 60.0 }),
        _ if TRIES.contains(&unit) && amount.fract() == 0.0 && amount <= 1_000.0 => {
            Some(PlanChange::Tries { tries: amount as u32 })
        }
        _ => None,
    }
}

/// "rename step two to leans over", "step two is called leans over".
fn rename(said: &Spoken<'_>, first: usize) -> Option<PlanChange> {
    let (step, range) = said.first_step()?;
    let name = match said.word(first)? {
        "call" => said.rest(range.end),
        "rename" => {
            let to = said.word(range.end).filter(|word| ["to", "into", "as"].contains(word));
            to.and_then(|_| said.rest(range.end + 1))
        }
        _ => said.find(&CALLED).filter(|at| *at >= range.end).and_then(|at| said.rest(at + 1)),
    };
    (!said.before(range.start).is_negated()).then_some(PlanChange::Rename { step, name: name? })
}

/// "add a step after two, touches the target", "add a step at the end called touches".
fn add(said: &Spoken<'_>) -> Option<PlanChange> {
    let at = said.find(&["step"])? + 1;
    let (after, from) = match said.word(at) {
        Some(word @ ("after" | "before")) => {
            let (number, end) = said.number_of_step(at + 1)?;
            (if word == "after" { number } else { number - 1 }, end)
        }
        Some("at") => {
            let place = said.find(&["end", "front", "beginning", "start"])?;
            let after = if said.word(place) == Some("end") { u8::MAX } else { 0 };
            (after, place + 1)
        }
        _ => (u8::MAX, at),
    };
    let from =
        if said.word(from).is_some_and(|word| CALLED.contains(&word)) { from + 1 } else { from };
    Some(PlanChange::Add { after, name: said.rest(from)? })
}

/// "move step three before step two", "move step three to the end".
fn move_step(said: &Spoken<'_>) -> Option<PlanChange> {
    let steps = said.steps();
    let to = match (&steps[..], said.find(&["before", "after", "behind"])) {
        ([step, other], Some(at)) => {
            let before = said.word(at) == Some("before");
            // The step leaves a gap behind, so what follows it comes one nearer.
            match (before, step < other) {
                (true, true) => other - 1,
                (true, false) | (false, true) => *other,
                (false, false) => other + 1,
            }
        }
        ([_], None) if said.has(&["end", "last"]) => u8::MAX,
        ([_], None) if said.has(&["front", "beginning", "start", "first"]) => 1,
        _ => return None,
    };
    let step = *steps.first()?;
    (step != to && !said.is_negated()).then_some(PlanChange::Move { step, to })
}

/// "swap steps two and three"; only neighbours, since more would be two changes.
fn swap(said: &Spoken<'_>) -> Option<PlanChange> {
    match said.steps()[..] {
        [a, b] if a.abs_diff(b) == 1 => Some(PlanChange::Move { step: a.min(b), to: a.max(b) }),
        _ => None,
    }
}

/// "the better treat is sunflower hearts", "the jackpot is three sunflower hearts".
fn treat(said: &Spoken<'_>) -> Option<PlanChange> {
    let is = said.find(&IS)?;
    let order = said.before(is);
    let values = [
        (RewardValue::Low, order.has(&LOW)),
        (RewardValue::High, order.has(&HIGH)),
        (RewardValue::Jackpot, order.has(&JACKPOT)),
    ];
    let mut named = values.iter().filter(|(_, named)| *named);
    let (Some((value, _)), None) = (named.next(), named.next()) else { return None };
    if (*value != RewardValue::Jackpot && !order.has(&TREAT)) || said.is_negated() {
        return None;
    }
    let from = is + usize::from(said.word(is + 1) == Some("now")) + 1;
    let (pieces, from) = match said.number(from) {
        Some((count @ 2..=20, end)) if said.rest(end).is_some() => (u32::from(count), end),
        _ => (1, from),
    };
    Some(PlanChange::Treat { value: *value, what: said.rest(from)?, pieces })
}

/// "looking, reaching and touching" as three names.
fn parts(names: &str) -> Vec<String> {
    names
        .split([',', ';'])
        .flat_map(|part| part.split(" and "))
        .map(|part| part.trim().trim_end_matches('.').to_owned())
        .filter(|part| !part.is_empty())
        .collect()
}

#[cfg(test)]
mod tests;
