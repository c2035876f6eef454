//! A person's name taken out of everything that people wrote: texts are read, changed and written again one by one,
//! so that nothing else changes. Before anything is kept, every session that was touched is replayed.

use std::collections::BTreeSet;

use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::name::{GONE, Name};
use super::plan_text::{self, Rule};
use super::texts::{self, Sort};
use super::{Forgotten, count};
use crate::store::append::{Content, decode, encode};
use crate::store::projection::{self, Fresh, Plans, fresh};
use crate::store::{Entry, StoreError};

/// In the place of a name that the usual words would repeat.
const GONE_TOO: &str = "(no longer known)";

/// Texts of one table that lose the name.
type Columns = [(&'static str, &'static str, Sort); 8];
/// Columns that people filled in, but for those that say who it was, and those of the plans' texts and the events.
const COLUMNS: Columns = [
    ("session", "behaviour", Sort::Key),
    ("session", "place", Sort::Free),
    ("session", "source_name", Sort::Free),
    ("journal", "place", Sort::Free),
    ("animal", "note", Sort::Free),
    ("animal_name", "name", Sort::Key),
    ("plan_version", "behaviour", Sort::Key),
    ("plan_version", "file", Sort::Free),
];

/// Takes the name out; all in the transaction that `conn` is in.
pub(super) fn forget(
    conn: &Connection,
    name: &Name,
    animals_stay: bool,
    forgotten: &mut Forgotten,
) -> Result<(), StoreError> {
    if !animals_stay {
        no_animal_is_called(conn, name)?;
    }
    let gone = if name.is_in(GONE) { GONE_TOO } else { GONE };
    let token = token(conn, name, gone)?;
    let rule = Rule { name, gone, token: &token, animals_stay };
    let plans = plans_with(conn, rule)?;
    let events = events_with(conn, rule)?;
    let touched = touched(conn, &plans, &events)?;
    let before = amounts(conn, &touched)?;

    forgotten.texts += write_plans(conn, &plans)?;
    forgotten.texts += write_events(conn, &events)?;
    forgotten.texts += entries(conn, rule)?;
    forgotten.texts += columns(conn, rule)?;

    for ((no, before), after) in before.iter().zip(amounts(conn, &touched)?.iter().map(|(_, a)| a))
    {
        if before != after {
            return Err(refused(&format!(
                "session number {no} would no longer read the same without the name"
            )));
        }
    }
    let mut known = Plans::default();
    for no in touched {
        if let Some(fresh) = readable(fresh(conn, no, &mut known))? {
            projection::write(conn, no, &fresh)?;
        }
    }
    if !plans_with(conn, rule)?.is_empty() || !events_with(conn, rule)?.is_empty() {
        return Err(refused("the name would still stand in plans or events"));
    }
    Ok(())
}

fn refused(why: &str) -> StoreError {
    StoreError::Refused(format!("nothing was forgotten: {why}"))
}

/// What an animal is called cannot be told from the name of a person.
fn no_animal_is_called(conn: &Connection, name: &Name) -> Result<(), StoreError> {
    let mut statement = conn.prepare("SELECT name, species FROM animal ORDER BY no")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (animal, species): (String, String) = (row.get(0)?, row.get(1)?);
        if name.is_in(&animal) || name.is_in(&species) {
            return Err(refused(&format!(
                "an animal is called so ({animal}, {species}). Where the animal is meant, it would have to stay: \
                 add --keep-animals to forget the person everywhere else"
            )));
        }
    }
    Ok(())
}

/// What takes the name's place where things are told apart by it: not yet there, so that nothing becomes one with what
/// was forgotten earlier.
fn token(conn: &Connection, name: &Name, gone: &str) -> Result<String, StoreError> {
    let mut used = conn.prepare(
        "SELECT 1 FROM plan_version WHERE instr(text, ?1) OR instr(behaviour, ?1)
         UNION ALL SELECT 1 FROM session WHERE instr(behaviour, ?1)
         UNION ALL SELECT 1 FROM journal WHERE instr(body, ?1)",
    )?;
    let mut number = 1;
    loop {
        let end = if number == 1 { ")".to_owned() } else { format!(" {number})") };
        let token = gone.replace(')', &end);
        if !name.is_in(&token) && !used.exists([&token])? {
            return Ok(token);
        }
        number += 1;
    }
}

struct PlanChange {
    no: i64,
    animal: i64,
    text: String,
}

fn plans_with(conn: &Connection, rule: Rule<'_>) -> Result<Vec<PlanChange>, StoreError> {
    let mut statement = conn.prepare("SELECT no, animal, text FROM plan_version ORDER BY no")?;
    let mut rows = statement.query([])?;
    let mut changes = Vec::new();
    while let Some(row) = rows.next()? {
        let text = row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?;
        match plan_text::without(text, rule) {
            Ok(Some(text)) => {
                changes.push(PlanChange { no: row.get(0)?, animal: row.get(1)?, text });
            }
            Ok(None) => {}
            Err(_) if !rule.name.is_in(text) => {}
            Err(error) => {
                return Err(refused(&format!(
                    "a stored plan holds the name and is not TOML: {error}"
                )));
            }
        }
    }
    Ok(changes)
}

/// Plans that become the same are one from then on.
fn write_plans(conn: &Connection, changes: &[PlanChange]) -> Result<u64, StoreError> {
    let mut same =
        conn.prepare("SELECT no FROM plan_version WHERE animal = ?1 AND sha256 = ?2 AND no <> ?3")?;
    for PlanChange { no, animal, text } in changes {
        let sum = Sha256::digest(text.as_bytes());
        let other: Option<i64> =
            same.query_row(params![animal, sum.as_slice(), no], |row| row.get(0)).optional()?;
        match other {
            Some(other) => {
                conn.execute("UPDATE session SET plan = ?2 WHERE plan = ?1", [*no, other])?;
                conn.execute("DELETE FROM plan_version WHERE no = ?1", [no])?;
            }
            None => {
                conn.execute(
                    "UPDATE plan_version SET text = ?2, sha256 = ?3 WHERE no = ?1",
                    params![no, text, sum.as_slice()],
                )?;
            }
        }
    }
    Ok(changes.len() as u64)
}

struct EventChange {
    session: i64,
    ordinal: i64,
    body: String,
}

fn events_with(conn: &Connection, rule: Rule<'_>) -> Result<Vec<EventChange>, StoreError> {
    let mut statement = conn.prepare("SELECT session, ordinal, kind, body FROM event")?;
    let mut rows = statement.query([])?;
    let mut changes = Vec::new();
    while let Some(row) = rows.next()? {
        let body = row.get_ref(3)?.as_str().map_err(rusqlite::Error::from)?;
        if surely_not_in_json(body, rule.name) {
            continue;
        }
        let kind = row.get_ref(2)?.as_str().map_err(rusqlite::Error::from)?;
        let Ok(mut content) = decode(kind, body) else {
            unreadable_without(body, rule.name)?;
            continue;
        };
        let mut found = false;
        texts::of_content(&mut content, &mut |text, sort| found |= change(text, sort, rule));
        if found {
            let body = match &content {
                Content::Event(event) => encode(event)?.1,
                Content::Edit(edit) => in_json(edit)?,
            };
            changes.push(EventChange { session: row.get(0)?, ordinal: row.get(1)?, body });
        }
    }
    Ok(changes)
}

fn write_events(conn: &Connection, changes: &[EventChange]) -> Result<u64, StoreError> {
    let mut update =
        conn.prepare("UPDATE event SET body = ?3 WHERE session = ?1 AND ordinal = ?2")?;
    for EventChange { session, ordinal, body } in changes {
        update.execute(params![session, ordinal, body])?;
    }
    Ok(changes.len() as u64)
}

fn entries(conn: &Connection, rule: Rule<'_>) -> Result<u64, StoreError> {
    let mut changes = Vec::new();
    let mut statement = conn.prepare("SELECT ordinal, body FROM journal")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let body = row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?;
        if surely_not_in_json(body, rule.name) {
            continue;
        }
        let Ok(mut entry) = serde_json::from_str::<Entry>(body) else {
            unreadable_without(body, rule.name)?;
            continue;
        };
        let mut found = false;
        texts::of_entry(&mut entry, &mut |text, sort| found |= change(text, sort, rule));
        if found {
            changes.push((row.get::<_, i64>(0)?, in_json(&entry)?));
        }
    }
    let mut update = conn.prepare("UPDATE journal SET body = ?2 WHERE ordinal = ?1")?;
    for (ordinal, body) in &changes {
        update.execute(params![ordinal, body])?;
    }
    Ok(changes.len() as u64)
}

fn columns(conn: &Connection, rule: Rule<'_>) -> Result<u64, StoreError> {
    let mut texts = 0;
    for table in ["session", "journal"] {
        for person in values(conn, table, "person")? {
            let clean = if rule.name.is(&person) {
                None
            } else {
                let Some(clean) = rule.name.without(&person, rule.gone) else { continue };
                Some(clean)
            };
            let sql = format!("UPDATE {table} SET person = ?2 WHERE person = ?1");
            texts += count(conn.execute(&sql, params![person, clean])?);
        }
    }
    for (table, column, sort) in COLUMNS {
        for old in values(conn, table, column)? {
            let mut new = old.clone();
            if !change(&mut new, sort, rule) {
                continue;
            }
            let sql = match table {
                "animal_name" if rule.animals_stay => continue,
                // An earlier name of an animal: it is found by the present one.
                "animal_name" => "DELETE FROM animal_name WHERE name = ?1 AND ?2 <> ''".to_owned(),
                _ => format!("UPDATE {table} SET {column} = ?2 WHERE {column} = ?1"),
            };
            texts += count(conn.execute(&sql, params![old, new])?);
        }
    }
    Ok(texts)
}

/// Every text of a column, once.
fn values(conn: &Connection, table: &str, column: &str) -> Result<Vec<String>, StoreError> {
    let sql = format!(
        "SELECT DISTINCT CAST({column} AS TEXT) COLLATE BINARY FROM {table} WHERE {column} IS NOT NULL"
    );
    let mut statement = conn.prepare(&sql)?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn change(text: &mut String, sort: Sort, rule: Rule<'_>) -> bool {
    let gone = match sort {
        Sort::Free => rule.gone,
        Sort::Key => rule.token,
    };
    match rule.name.without(text, gone) {
        Some(clean) => {
            *text = clean;
            true
        }
        None => false,
    }
}

/// In JSON some characters stand escaped, so that only a text without escapes can be looked through as it is.
fn surely_not_in_json(body: &str, name: &Name) -> bool {
    !body.contains('\\') && name.surely_not_in(body)
}

/// What this program cannot read it cannot change; it may stay when the name is not in it.
fn unreadable_without(body: &str, name: &Name) -> Result<(), StoreError> {
    fn holds(value: &serde_json::Value, name: &Name) -> bool {
        use serde_json::Value;
        match value {
            Value::String(text) => name.is_in(text),
            Value::Array(values) => values.iter().any(|value| holds(value, name)),
            Value::Object(fields) => fields.values().any(|value| holds(value, name)),
            _ => false,
        }
    }
    let holds = match serde_json::from_str(body) {
        Ok(value) => holds(&value, name),
        Err(_) => name.is_in(body),
    };
    if holds {
        return Err(refused(
            "an event or entry that this version cannot read holds the name: use the newer program",
        ));
    }
    Ok(())
}

fn in_json<T: serde::Serialize>(value: &T) -> Result<String, StoreError> {
    serde_json::to_string(value)
        .map_err(|error| StoreError::Refused(format!("a text cannot be written down: {error}")))
}

/// The sessions whose plan or events change.
fn touched(
    conn: &Connection,
    plans: &[PlanChange],
    events: &[EventChange],
) -> Result<BTreeSet<i64>, StoreError> {
    let mut touched: BTreeSet<i64> = events.iter().map(|change| change.session).collect();
    let mut of_plan = conn.prepare("SELECT no FROM session WHERE plan = ?1")?;
    for change in plans {
        for no in of_plan.query_map([change.no], |row| row.get(0))? {
            touched.insert(no?);
        }
    }
    Ok(touched)
}

/// What each session amounts to, names aside; nothing for one that cannot be read.
type Amounts = Vec<(i64, Option<[u8; 32]>)>;

fn amounts(conn: &Connection, sessions: &BTreeSet<i64>) -> Result<Amounts, StoreError> {
    let mut known = Plans::default();
    let amount = |no: &i64| Ok((*no, readable(fresh(conn, *no, &mut known))?.map(|f| amount(&f))));
    sessions.iter().map(amount).collect()
}

fn amount(fresh: &Fresh) -> [u8; 32] {
    let folded = &fresh.folded;
    let mut summary = folded.summary.clone();
    for named in [&mut summary.animal, &mut summary.behaviour, &mut summary.step_name] {
        named.clear();
    }
    // Whom they name stands in the marks; of two that are forgotten there is one.
    summary.hands.clear();
    let marks: Vec<_> =
        folded.marks.iter().map(|mark| (mark.at, mark.active, mark.kind, mark.event)).collect();
    let all = format!(
        "{:?}",
        (
            &folded.reps,
            marks,
            summary,
            folded.active,
            folded.ended,
            folded.edits,
            &folded.aimless,
            fresh.events
        )
    );
    Sha256::digest(all.as_bytes()).into()
}

/// A session that could not be read before cannot be made worse.
fn readable(fresh: Result<Fresh, StoreError>) -> Result<Option<Fresh>, StoreError> {
    match fresh {
        Ok(fresh) => Ok(Some(fresh)),
        Err(error) if error.is_of_one_session() => Ok(None),
        Err(other) => Err(other),
    }
}
