//! What the record knows of an animal, as the history wants it: from rows to values, and nothing more.

mod body_log;

use std::collections::{BTreeMap, BTreeSet, HashMap};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::Offset;

pub use body_log::{body_log, concerns, health, noted_signs};

use crate::history::body::{Bounds, Noted};
use crate::history::cue::{Given, Probe};
use crate::history::length::LATEST;
use crate::history::planned::Planned;
use crate::history::{AnimalHistory, Ladder, Session, Try};
use crate::plan::Plan;
use crate::session::Rep;
use crate::store::{
    AnimalId, AnimalRow, Entry, Filter, JournalFilter, MarkKind, ProbeCue, SessionId, SessionRow,
    Source, Store, StoreError,
};

/// Cues are counted in this many of the latest sessions; older ones have none.
const RECENT: u32 = 400;

/// Everything that the record knows of one animal, as the history wants it.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Sessions.
    pub history: AnimalHistory,
    /// The same as the record has them, in order of time.
    pub rows: Vec<SessionRow>,
    /// The latest plan of each behaviour: its file as the user named it, and the plan.
    pub plans: BTreeMap<String, (String, Plan)>,
    /// The body log.
    pub body: Vec<Noted>,
    /// Probes of cues, by behaviour.
    pub probes: BTreeMap<String, Vec<Probe>>,
    /// Changes of plan that are tested, with the moment at which the lot was drawn.
    pub planned: Vec<(Timestamp, Planned)>,
    /// Captured behaviour, with the local date.
    pub captured: Vec<(Date, String)>,
}

impl Known {
    /// Reads one animal.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn read(store: &Store, animal: &AnimalRow) -> Result<Self, StoreError> {
        let filter = Filter { begun: true, ..Filter::animal(animal.id) };
        let rows = store.sessions(&filter)?;
        let sessions = sessions(store, &filter, &rows)?;
        Known::of(store, animal, &rows, sessions)
    }

    /// The same of the latest sessions only: those that say something about the next session of `behaviour`. However
    /// long the record is, no more is read.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn lately(store: &Store, animal: &AnimalRow, behaviour: &str) -> Result<Self, StoreError> {
        let latest = u32::try_from(LATEST).ok();
        let any = Filter { latest, begun: true, ..Filter::animal(animal.id) };
        let own = Filter { behaviour: Some(behaviour.to_owned()), ..any.clone() };
        let (mut rows, mut known) = (Vec::new(), Vec::new());
        for filter in [any, own] {
            let found = store.sessions(&filter)?;
            known.extend(sessions(store, &filter, &found)?);
            rows.extend(found);
        }
        let order = |row: &SessionRow| (row.began, row.id);
        rows.sort_by_key(order);
        rows.dedup_by_key(|row| row.id);
        known.sort_by(|a, b| (a.began, &a.id).cmp(&(b.began, &b.id)));
        known.dedup_by(|a, b| a.id == b.id);
        Known::of(store, animal, &rows, known)
    }

    fn of(
        store: &Store,
        animal: &AnimalRow,
        rows: &[SessionRow],
        sessions: Vec<Session>,
    ) -> Result<Self, StoreError> {
        let (ladders, plans) = ladders(store, rows)?;
        let mut known = Known {
            history: AnimalHistory::new(&animal.name, &animal.species, ladders, sessions),
            rows: rows.to_vec(),
            plans,
            body: body_log(store, animal.id)?,
            probes: BTreeMap::new(),
            planned: Vec::new(),
            captured: Vec::new(),
        };
        known.read_journal(store, animal.id)?;
        Ok(known)
    }

    /// What the plans say of the animal's body, that of the latest session first.
    pub fn bounds(&self) -> Bounds {
        let latest = self.history.behaviours();
        let plans = latest.iter().filter_map(|name| self.plans.get(*name));
        plans
            .map(|(_, plan)| plan)
            .find(|plan| plan.body.is_some())
            .map_or_else(Bounds::default, Bounds::of)
    }

    fn read_journal(&mut self, store: &Store, animal: AnimalId) -> Result<(), StoreError> {
        let filter = JournalFilter { animal: Some(animal), ..JournalFilter::default() };
        for row in store.journal(&filter)? {
            match row.entry {
                Entry::Planned { behaviour, change, step, baseline, lot, drawn } => {
                    let planned = Planned { behaviour, change, step, baseline, lot, drawn };
                    self.planned.push((row.utc, planned));
                }
                Entry::Captured { behaviour, .. } => self.captured.push((row.day, behaviour)),
                Entry::Probe { behaviour, cue, came, instead, .. } => {
                    let given = match cue {
                        ProbeCue::Own => Given::Own,
                        ProbeCue::None => Given::None,
                        ProbeCue::Other(_) => Given::Other,
                    };
                    let (place, person) = (row.place, row.person);
                    let probe = Probe { given, came, other: instead.is_some(), place, person };
                    self.probes.entry(behaviour).or_default().push(probe);
                }
                _ => {}
            }
        }
        Ok(())
    }
}

type Plans = BTreeMap<String, (String, Plan)>;

/// The steps of every plan version in use, and each behaviour's latest plan.
fn ladders(store: &Store, rows: &[SessionRow]) -> Result<(Vec<Ladder>, Plans), StoreError> {
    let mut seen = BTreeSet::new();
    let (mut ladders, mut plans) = (Vec::new(), Plans::new());
    // Latest first, so that the first plan of a behaviour is its present one.
    for row in rows.iter().rev() {
        if !seen.insert(row.plan_version) {
            continue;
        }
        let version = store.plan_of(row.id)?;
        // A session whose plan cannot be read has no rows at all.
        if let Ok(plan) = Plan::parse(&version.file, &version.text) {
            ladders.push(Ladder::of(row.plan_version, &plan));
            plans.entry(row.behaviour.clone()).or_insert((version.file, plan));
        }
    }
    Ok((ladders, plans))
}

fn sessions(
    store: &Store,
    filter: &Filter,
    rows: &[SessionRow],
) -> Result<Vec<Session>, StoreError> {
    let mut tries: HashMap<SessionId, Vec<Try>> = HashMap::with_capacity(rows.len());
    let mut latest = (SessionId::default(), Vec::new());
    store.each_rep(filter, |row| {
        if latest.0 != row.session {
            let (id, done) = std::mem::replace(&mut latest, (row.session, Vec::new()));
            tries.insert(id, done);
        }
        latest.1.push(as_try(&row.rep));
    })?;
    tries.insert(latest.0, latest.1);
    // Only what is recent is asked about the trainer's hands.
    let recent = Filter { latest: Some(RECENT), ..filter.clone() };
    let mut cues: BTreeMap<SessionId, u32> = BTreeMap::new();
    for mark in store.marks(&recent, &[MarkKind::Cue])? {
        *cues.entry(mark.session).or_default() += 1;
    }
    let mut handed_over: HashMap<SessionId, Vec<(f64, String)>> = HashMap::new();
    for row in store.marks(filter, &[MarkKind::TookOver])? {
        let taken = (row.mark.active.as_secs_f64(), row.mark.name);
        handed_over.entry(row.session).or_default().push(taken);
    }
    let mut sessions = Vec::with_capacity(rows.len());
    for row in rows {
        let offset = Offset::from_seconds(row.offset_s).unwrap_or(Offset::UTC);
        sessions.push(Session {
            id: row.id.to_string(),
            behaviour: row.behaviour.clone(),
            version: row.plan_version,
            person: row.person.clone(),
            handed_over: handed_over.remove(&row.id).unwrap_or_default(),
            place: row.place.clone(),
            began: row.began,
            day: row.day,
            clock: offset.to_datetime(row.began).time(),
            last_step: row.last_step,
            active_s: row.active.as_secs_f64(),
            declined_s: row.declining.map(|at| at.as_secs_f64()),
            ended_well: row.ended_well,
            cues: cues.get(&row.id).copied().unwrap_or(0),
            unsure: row.unsure,
            simulated: row.source == Source::Simulated,
            tries: tries.remove(&row.id).unwrap_or_default(),
        });
    }
    Ok(sessions)
}

/// A rep as the history sees it.
pub fn as_try(rep: &Rep) -> Try {
    Try {
        active_s: rep.active.as_secs_f64(),
        working: rep.working,
        step: rep.step,
        paid: rep.paid(),
        side: rep.side,
        latency_s: rep.latency.map(|latency| latency.as_secs_f64()),
        duration_s: rep.duration.map(|duration| duration.as_secs_f64()),
        links: rep.links,
    }
}
