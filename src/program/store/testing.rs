//! What the store's tests share: a temporary database and sessions of fixed times and keys.

use std::path::PathBuf;

use jiff::{Timestamp, ZonedDateTime};
use proptest::test_runner::{Config as ProptestConfig, FileFailurePersistence};
use tempfile::TempDir;
use uuid::Uuid;

use super::{AnimalRef, EventId, NewSession, SessionId, Source, Store};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::Plan;
use crate::session::{Input, Logged, Output, Session};

pub(super) const PLAN: &str =
    concat!(include_str!("../../../tests/plans/foot.toml"), "[limits]\nlimited_hold_s = 6.0\n");

/// A folder that goes away with the test, and the place of a database in it.
pub(super) struct Place {
    pub(super) folder: TempDir,
    pub(super) file: PathBuf,
}

pub(super) fn place() -> Place {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("home/hushtally.db");
    Place { folder, file }
}

/// The time-ordered key of millisecond `n` after the first of January 2026.
pub(super) fn key(n: u64) -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(1_767_225_600_000 + n, &[7; 10]).into_uuid()
}

pub(super) fn began() -> ZonedDateTime {
    "2026-01-02T03:04:05.123456+01:00[Europe/Berlin]".parse().unwrap()
}

pub(super) fn later(seconds: i64) -> Timestamp {
    Timestamp::from_microsecond(began().timestamp().as_microsecond() + seconds * 1_000_000).unwrap()
}

pub(super) fn new_session(n: u64) -> NewSession {
    NewSession {
        id: SessionId(key(n)),
        animal: AnimalRef::Named { name: "Pepino".into(), species: "cockatiel".into() },
        behaviour: "rests a foot on the nail file".into(),
        plan_file: "pepino.toml".into(),
        plan_text: PLAN.into(),
        start_step: 2,
        told: Default::default(),
        person: Some("Ada".into()),
        place: Some("kitchen".into()),
        began: began(),
        source: Source::Live,
        source_name: None,
        made_by: "0.1.0".into(),
        sitting: None,
    }
}

pub(super) fn plan(start_step: u8) -> Plan {
    let mut plan = Plan::parse("pepino.toml", PLAN).unwrap();
    plan.start_step = start_step;
    plan
}

pub(super) fn yes(step: Option<u8>) -> Said {
    Said::Rep(Details { step, ..Details::default() })
}

/// Runs tags through an engine and gives the engine with what it asked to be written down.
pub(super) fn live(tags: &[(f64, Said)], ends_at: Option<f64>) -> (Session, Vec<Logged>) {
    let mut session = Session::new(plan(2));
    let mut out = Vec::new();
    for (at, said) in tags {
        out.extend(session.handle(At::from_secs_f64(*at), Input::said(said.clone(), "words")));
    }
    if let Some(end) = ends_at {
        out.extend(session.close(At::from_secs_f64(end)));
    }
    let logged = out.into_iter().filter_map(|output| match output {
        Output::Append(logged) => Some(logged),
        _ => None,
    });
    (session, logged.collect())
}

/// Stores a session with these events; event `i` gets key `n * 1000 + i`.
pub(super) fn stored(store: &Store, n: u64, logged: &[Logged]) -> SessionId {
    let id = store.begin_session(&new_session(n * 1000)).unwrap();
    for (i, logged) in (1..).zip(logged) {
        store
            .append(id, logged, EventId(key(n * 1000 + i)), later(i64::try_from(i).unwrap()))
            .unwrap();
    }
    id
}

/// This many random cases, failures kept beside the test's source.
pub(super) fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
        ..ProptestConfig::default()
    }
}

/// A usual session: two reps, a miss, a mood, a cue that ran out, a correction.
pub(super) fn usual() -> Vec<(f64, Said)> {
    vec![
        (2.0, yes(None)),
        (5.0, yes(Some(3))),
        (8.0, Said::Miss(Details::default())),
        (10.0, Said::State { mood: crate::plan::Mood::Keen }),
        (12.0, Said::Cue),
        (20.0, yes(Some(1))),
        (22.0, Said::TakeBack),
        (25.0, yes(None)),
    ]
}
