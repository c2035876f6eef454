//! Lines of one session to a session with its events. Keys follow from what the lines say, so that the same
//! file gives the same keys.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::key::{Key, first_ten};
use super::line::{OfSession, RepLine};
use super::tags::{Tags, limited_hold, start_step, tags};
use super::{ImportError, ImportOptions, Imported, LineError, LineErrors};
use crate::at::At;
use crate::plan::{Plan, RewardValue};
use crate::session::Session;
use crate::store::append::{Content, Stored, encode};
use crate::store::fold::fold;
use crate::store::journal::{Entry, NewEntry};
use crate::store::projection::{self, Fresh};
use crate::store::query::reps_of_one;
use crate::store::row;
use crate::store::session::{animal_no, insert, micros, moment};
use crate::store::{
    AnimalId, Change, Edit, EventId, NewSession, RepEdit, RepRow, SessionId, Source, StoreError,
    Target,
};

type Behaviour = (Arc<str>, Arc<str>, Arc<str>);

/// The plan of each behaviour and limited hold, as text and as read.
pub(super) type Plans = BTreeMap<(Behaviour, Option<At>), (String, Plan)>;
/// An event with what the database says of it.
type Prepare = (Stored, &'static str, String);

/// A plan for each behaviour, with as many steps as its lines speak of.
pub(super) fn plans(sessions: &BTreeMap<Key, Vec<RepLine>>) -> Result<Plans, StoreError> {
    let mut steps: BTreeMap<Behaviour, u8> = BTreeMap::new();
    let mut earns: BTreeMap<(Behaviour, u8), Earns> = BTreeMap::new();
    let mut holds: BTreeSet<(Behaviour, Option<At>)> = BTreeSet::new();
    for (key, lines) in sessions {
        let of_line = |line: &RepLine| {
            let OfSession { start_step, last_step, .. } = line.of_session;
            line.step.max(line.working).max(start_step).max(last_step)
        };
        let highest = lines.iter().filter_map(of_line).max();
        let steps = steps.entry(behaviour_of(key)).or_insert(1);
        *steps = highest.unwrap_or(1).max(*steps);
        holds.insert((behaviour_of(key), limited_hold(lines)));
        for line in lines.iter().filter(|line| !line.named) {
            let (Some(step), Some(paid)) = (line.step, line.paid) else { continue };
            earns
                .entry((behaviour_of(key), step))
                .or_default()
                .add(paid, line.working.is_some_and(|working| step < working));
        }
    }
    let text = |(key, hold): (Behaviour, Option<At>)| {
        let steps = steps.get(&key).copied().unwrap_or(1);
        let (animal, species, behaviour) = &key;
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let species = if species.is_empty() { "not given" } else { species };
        let mut plan = format!(
            "# Made by the import of earlier notes.\nanimal = {}\nspecies = {}\nbehaviour = {}\n",
            quoted(animal),
            quoted(species),
            quoted(behaviour),
        );
        for step in 1..=steps {
            plan.push_str(&format!("[[step]]\nname = \"step {step}\"\n"));
            let of_step = earns.get(&(key.clone(), step)).and_then(Earns::set);
            if let Some(value) = of_step {
                plan.push_str(&format!("earns = \"{}\"\n", value.name()));
            }
        }
        if let Some(hold) = hold {
            plan.push_str(&format!("[limits]\nlimited_hold_s = {:?}\n", hold.as_secs_f64()));
        }
        let read =
            Plan::parse("earlier notes", &plan).map_err(|e| StoreError::Refused(e.to_string()))?;
        Ok(((key, hold), (plan, read)))
    };
    holds.into_iter().map(text).collect()
}

/// What unnamed rewards at one step were.
#[derive(Debug, Default)]
struct Earns {
    paid: BTreeSet<RewardValue>,
    /// Whether one of them is not what a step earns by itself: high, and low below the step worked on.
    unusual: bool,
}

impl Earns {
    fn add(&mut self, paid: RewardValue, below: bool) {
        let usual = if below { RewardValue::Low } else { RewardValue::High };
        self.unusual |= paid != usual;
        self.paid.insert(paid);
    }

    /// What the step was set to earn, where one value tells of all of them.
    fn set(&self) -> Option<RewardValue> {
        let only = (self.paid.len() == 1).then(|| self.paid.first().copied()).flatten();
        only.filter(|_| self.unusual)
    }
}

fn behaviour_of(key: &Key) -> Behaviour {
    (key.animal.clone(), key.species.clone(), key.behaviour.clone())
}

/// A session worked out from its lines, ready to be written.
pub(super) struct Prepared {
    new: NewSession,
    line: u64,
    reps: u64,
    events: Vec<Prepare>,
    fresh: Fresh,
}

/// Works out what a session's lines amount to. Pure, and most of the work: done while another is written.
pub(super) fn prepare(
    key: &Key,
    mut lines: Vec<RepLine>,
    plans: &Plans,
    options: &ImportOptions,
) -> Result<Prepared, ImportError> {
    lines.sort_by_key(|line| (line.at, line.line));
    let start_step = start_step(&lines);
    let mut errors = LineErrors::default();
    let known = plans.get(&(behaviour_of(key), limited_hold(&lines)));
    let (plan_text, mut plan) =
        known.cloned().unwrap_or_else(|| (String::new(), Plan::of_default_words()));
    plan.start_step = start_step;
    let Tags { events: logged, revised, added } = tags(&lines, &plan, &mut errors);
    if errors.count > 0 {
        return Err(ImportError::Lines(errors));
    }
    let millis = u64::try_from(key.began_us / 1_000).unwrap_or(0);
    let id = match key.session.parse::<Uuid>() {
        // The key of the session that was exported, so that it is known where it comes from.
        Ok(known) if known.get_version_num() == 7 => SessionId(known),
        _ => SessionId(seven(millis, &key.digest(&["session"]))),
    };
    let mut events: Vec<Prepare> = Vec::with_capacity(logged.len() + revised.len() + added.len());
    let stored = |ordinal: usize, at: At, content: Content| {
        let ordinal = i64::try_from(ordinal).unwrap_or(i64::MAX);
        let nanos = at.as_nanos();
        let sum = Sha256::new().chain_update(id.0.as_bytes()).chain_update(ordinal.to_le_bytes());
        Stored {
            id: EventId(seven(millis + nanos / 1_000_000, &first_ten(&sum.finalize()))),
            ordinal,
            at,
            utc: moment(key.began_us + i64::try_from(nanos / 1_000).unwrap_or(0)),
            content,
        }
    };
    for logged in logged {
        let (kind, body) = encode(&logged.event)?;
        events.push((stored(events.len(), logged.at, Content::Event(logged.event)), kind, body));
    }
    let end = events.last().map_or(At::ZERO, |(last, ..)| last.at);
    let revise = |(place, to): (usize, RepEdit)| Change::Revise {
        target: Target::Event(events[place].0.id),
        to,
    };
    let add = |(at, rep)| Change::Add { at, rep, settles: None };
    let changes: Vec<Change> =
        revised.into_iter().map(revise).chain(added.into_iter().map(add)).collect();
    for change in changes {
        let edit = Edit { change, by: None, why: Some("as the notes say".into()) };
        let body = serde_json::to_string(&edit).map_err(|e| StoreError::Refused(e.to_string()))?;
        events.push((stored(events.len(), end, Content::Edit(edit)), "edit", body));
    }
    let fresh = Fresh {
        folded: fold(Session::new(plan), events.iter().map(|(stored, ..)| stored)),
        events: events.len(),
    };
    let new = NewSession {
        id,
        animal: key.animal(),
        behaviour: key.behaviour.to_string(),
        plan_file: options.file.clone(),
        plan_text,
        start_step,
        told: Default::default(),
        person: key.person.as_deref().map(str::to_owned),
        place: key.place.as_deref().map(str::to_owned),
        began: key.began.clone(),
        source: Source::Import,
        source_name: Some(options.file.clone()),
        made_by: options.made_by.clone(),
        sitting: None,
    };
    Ok(Prepared { new, line: lines[0].line, reps: lines.len() as u64, events, fresh })
}

/// Writes one session down, unless it is there already.
pub(super) fn write(
    conn: &Connection,
    session: &Prepared,
    imported: &mut Imported,
    errors: &mut LineErrors,
) -> Result<(), StoreError> {
    let id = session.new.id;
    let mut known = conn.prepare_cached("SELECT no FROM session WHERE id = ?1")?;
    if let Some(no) = known.query_row([id], |row| row.get(0)).optional()? {
        if same(conn, no, session)? {
            imported.known += 1;
        } else {
            errors.add(LineError {
                line: session.line,
                column: "",
                found: format!("other tries than session {id} in the database has"),
                expected: "the same tries, or a session of another time; correct it in the review"
                    .into(),
            });
        }
        return Ok(());
    }
    make_known(conn, &session.new)?;
    let no = insert(conn, &session.new)?;
    let mut put = conn.prepare_cached(
        "INSERT INTO event (session, ordinal, id, at_ns, utc_us, kind, body)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    for (stored, kind, body) in &session.events {
        let at = i64::try_from(stored.at.as_nanos()).unwrap_or(i64::MAX);
        put.execute(params![no, stored.ordinal, stored.id, at, micros(stored.utc), kind, body])?;
    }
    projection::write(conn, no, &session.fresh)?;
    imported.sessions += 1;
    imported.reps += session.reps;
    Ok(())
}

/// Makes the session's animal known under a key that nobody has: the one it has elsewhere may be another animal's
/// here.
fn make_known(conn: &Connection, new: &NewSession) -> Result<(), StoreError> {
    let mut taken = conn.prepare_cached("SELECT 1 FROM animal WHERE id = ?1")?;
    let mut id = AnimalId(new.id.0);
    while taken.exists([id])? {
        let sum = Sha256::new().chain_update("another animal").chain_update(id.0.as_bytes());
        id = AnimalId(seven(0, &first_ten(&sum.finalize())));
    }
    animal_no(conn, &new.animal, id, micros(new.began.timestamp()))?;
    Ok(())
}

/// Whether a session that is there already holds the very same: as it was taken in, or as it was exported.
fn same(conn: &Connection, no: i64, session: &Prepared) -> Result<bool, StoreError> {
    Ok(same_events(conn, no, &session.events)? || same_reps(conn, no, session)?)
}

fn same_events(conn: &Connection, no: i64, events: &[Prepare]) -> Result<bool, StoreError> {
    let mut statement = conn.prepare_cached(
        "SELECT at_ns, kind, body FROM event WHERE session = ?1 ORDER BY ordinal",
    )?;
    let mut rows = statement.query([no])?;
    for (stored, kind, body) in events {
        let Some(row) = rows.next()? else { return Ok(false) };
        let at = u64::try_from(row.get::<_, i64>(0)?).unwrap_or(0);
        let known: (String, String) = (row.get(1)?, row.get(2)?);
        if at != stored.at.as_nanos() || known.0 != *kind || known.1 != *body {
            return Ok(false);
        }
    }
    // What was corrected since then stands.
    while let Some(row) = rows.next()? {
        if row.get_ref(1)?.as_str() != Ok("edit") {
            return Ok(false);
        }
    }
    Ok(true)
}

fn same_reps(conn: &Connection, no: i64, session: &Prepared) -> Result<bool, StoreError> {
    let mut statement = conn.prepare_cached(&reps_of_one())?;
    let known = statement.query_map([no], |found| row::rep(found, session.new.id))?;
    let known: Vec<RepRow> = known.collect::<Result<_, _>>()?;
    // An export of an earlier version did not say which values were named.
    let reps = session.fresh.folded.reps.iter().map(|folded| folded.rep.however_named());
    Ok(known.iter().map(|row| row.rep.however_named()).eq(reps))
}

/// A weight or note of a line.
pub(super) fn entry(key: &Key, entry: Entry) -> NewEntry {
    let body = serde_json::to_string(&entry).unwrap_or_default();
    let millis = u64::try_from(key.began_us / 1_000).unwrap_or(0);
    NewEntry {
        id: EventId(seven(millis, &key.digest(&["entry", &body]))),
        animal: Some(key.animal()),
        when: key.began.clone(),
        person: key.person.as_deref().map(str::to_owned),
        place: key.place.as_deref().map(str::to_owned),
        entry,
    }
}

fn seven(millis: u64, rest: &[u8; 10]) -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(millis, rest).into_uuid()
}
