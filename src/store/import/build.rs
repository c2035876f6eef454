//! Lines of one session to a session with its events. Keys follow from what the lines say, so that the same
//! file gives the same keys.

use std::collections::BTreeMap;
use std::sync::Arc;

use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::key::{Key, first_ten};
use super::line::RepLine;
use super::{ImportError, ImportOptions, Imported, LineError, LineErrors};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::session::{Derived, Event, Input, Logged, WhyEnded};
use crate::store::append::{Content, Stored, encode};
use crate::store::fold::fold;
use crate::store::journal::{Entry, NewEntry};
use crate::store::projection::{self, Fresh};
use crate::store::session::{insert, micros, moment};
use crate::store::{EventId, NewSession, SessionId, Source, StoreError};

type Behaviour = (Arc<str>, Arc<str>, Arc<str>);

/// The plan of each behaviour, as text and as read.
pub(super) type Plans = BTreeMap<Behaviour, (String, Plan)>;

/// A plan for each behaviour, with as many steps as its lines speak of.
pub(super) fn plans(sessions: &BTreeMap<Key, Vec<RepLine>>) -> Result<Plans, StoreError> {
    let mut steps: BTreeMap<Behaviour, u8> = BTreeMap::new();
    for (key, lines) in sessions {
        let highest = lines.iter().filter_map(|line| line.step.max(line.working)).max();
        let steps = steps.entry(behaviour_of(key)).or_insert(1);
        *steps = highest.unwrap_or(1).max(*steps);
    }
    let text = |(key, steps): (Behaviour, u8)| {
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
        }
        let read =
            Plan::parse("earlier notes", &plan).map_err(|e| StoreError::Refused(e.to_string()))?;
        Ok((key, (plan, read)))
    };
    steps.into_iter().map(text).collect()
}

fn behaviour_of(key: &Key) -> Behaviour {
    (key.animal.clone(), key.species.clone(), key.behaviour.clone())
}

/// A session worked out from its lines, ready to be written.
pub(super) struct Prepared {
    new: NewSession,
    line: u64,
    reps: u64,
    events: Vec<(Stored, &'static str, String)>,
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
    let start_step = lines[0].working.or(lines[0].step).unwrap_or(1);
    let mut errors = LineErrors::default();
    let logged = events(&lines, start_step, &mut errors);
    if errors.count > 0 {
        return Err(ImportError::Lines(errors));
    }
    let millis = u64::try_from(key.began_us / 1_000).unwrap_or(0);
    let id = SessionId(seven(millis, &key.digest(&["session"])));
    let mut events = Vec::with_capacity(logged.len());
    for (ordinal, logged) in (0_i64..).zip(logged) {
        let (kind, body) = encode(&logged.event)?;
        let nanos = logged.at.as_nanos();
        let sum = Sha256::new().chain_update(id.0.as_bytes()).chain_update(ordinal.to_le_bytes());
        let stored = Stored {
            id: EventId(seven(millis + nanos / 1_000_000, &first_ten(&sum.finalize()))),
            ordinal,
            at: logged.at,
            utc: moment(key.began_us + i64::try_from(nanos / 1_000).unwrap_or(0)),
            content: Content::Event(logged.event),
        };
        events.push((stored, kind, body));
    }
    let known = plans.get(&behaviour_of(key));
    let (plan_text, mut plan) =
        known.cloned().unwrap_or_else(|| (String::new(), Plan::of_default_words()));
    plan.start_step = start_step;
    let fresh = Fresh {
        folded: fold(plan, events.iter().map(|(stored, ..)| stored)),
        events: events.len(),
    };
    let new = NewSession {
        id,
        animal: key.animal(),
        behaviour: key.behaviour.to_string(),
        plan_file: options.file.clone(),
        plan_text,
        start_step,
        person: key.person.as_deref().map(str::to_owned),
        place: key.place.as_deref().map(str::to_owned),
        began: key.began.clone(),
        source: Source::Import,
        source_name: Some(options.file.clone()),
        made_by: options.made_by.clone(),
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
        if same(conn, no, &session.events)? {
            imported.known += 1;
        } else {
            errors.add(LineError {
                line: session.line,
                column: "",
                found: format!("other reps than session {id} in the database has"),
                expected: "the same reps, or a session of another time; correct it in the review"
                    .into(),
            });
        }
        return Ok(());
    }
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

/// The tags that the trainer would have said. Lines that do not fit are told in `errors`.
fn events(lines: &[RepLine], start_step: u8, errors: &mut LineErrors) -> Vec<Logged> {
    let mut events = Vec::with_capacity(lines.len() + 2);
    let said = |said, words: &str| Event::Input(Input::said(said, words));
    let mut log = |at, event| events.push(Logged { at, event });
    // Time runs from the begin of the session, not from its first rep.
    log(At::ZERO, said(Said::Command { command: Command::Begin }, "begin"));
    log(At::ZERO, Event::Derived(Derived::Began { step: start_step }));
    let (mut last, mut working) = (At::ZERO, start_step);
    for line in lines {
        let to = line.working.unwrap_or(working);
        while working != to {
            let (command, step) = if working < to {
                (Command::StepUp, working + 1)
            } else {
                (Command::StepBack, working - 1)
            };
            log(last, said(Said::Command { command }, "step"));
            working = step;
        }
        let mut opened = [
            ("latency_s", line.latency, Said::Cue, "cue"),
            ("duration_s", line.duration, Said::HoldStart, "start"),
        ];
        // In the order of time: the longer span began first.
        opened.sort_by_key(|(_, span, _, _)| std::cmp::Reverse(*span));
        for (column, span, opener, words) in opened {
            let Some(span) = span else { continue };
            let at = line.at.back(span.elapsed());
            if span.elapsed() > line.at.since(last) {
                errors.add(LineError {
                    line: line.line,
                    column,
                    found: format!("{} s", span.as_secs_f64()),
                    expected: "no more than the time since the rep before".into(),
                });
                continue;
            }
            log(at, said(opener, words));
        }
        log(
            line.at,
            match line.paid {
                Some(value) => {
                    let details = Details { step: line.step, side: line.side, value: Some(value) };
                    said(Said::Rep(details), "yes")
                }
                None => said(Said::Miss, "miss"),
            },
        );
        last = line.at;
    }
    log(last, Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded }));
    events
}

fn same(
    conn: &Connection,
    no: i64,
    events: &[(Stored, &'static str, String)],
) -> Result<bool, StoreError> {
    let mut statement = conn.prepare_cached(
        "SELECT at_ns, kind, body FROM event WHERE session = ?1 AND kind <> 'edit' ORDER BY ordinal",
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
    Ok(rows.next()?.is_none())
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
