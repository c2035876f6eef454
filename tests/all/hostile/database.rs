//! A record that was damaged, cut off or changed on purpose.

use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::plan::Plan;
use hushtally::session::{Input, Output, Session};
use hushtally::store::{
    AnimalRef, EventId, Filter, NewSession, SessionId, Source, Store, StoreError,
};
use jiff::Timestamp;
use proptest::prelude::*;
use uuid::Uuid;

use super::attack;
use super::corrupt::{apply, corrupted};

const PLAN: &str = include_str!("corpus/plan/small.toml");

/// A record of one session as one file, made once.
fn good() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let (file, copy) = (folder.path().join("record.db"), folder.path().join("copy.db"));
        let store = Store::open(&file).unwrap();
        fill(&store);
        store.backup(&copy).unwrap();
        fs::read(copy).unwrap()
    })
}

fn fill(store: &Store) {
    let began: Timestamp = "2026-01-02T03:04:05Z".parse().unwrap();
    let key = |n: u16| Uuid::from_u128(0x0190_0000_0000_7000_8000_0000_0000_0000 + u128::from(n));
    let id = store
        .begin_session(&NewSession {
            id: SessionId(key(0)),
            animal: AnimalRef::Named { name: "Pepino".into(), species: "cockatiel".into() },
            behaviour: "rests a foot on the nail file".into(),
            plan_file: "small.toml".into(),
            plan_text: PLAN.into(),
            start_step: 1,
            told: Default::default(),
            person: Some("Ada".into()),
            place: None,
            began: began.to_zoned_datetime(jiff::tz::TimeZone::UTC),
            source: Source::Live,
            source_name: None,
            made_by: "test".into(),
            sitting: None,
        })
        .unwrap();
    let mut session = Session::new(Plan::parse("small.toml", PLAN).unwrap());
    let mut outputs = Vec::new();
    for n in 1..20 {
        let said =
            if n % 3 == 0 { Said::Miss(Details::default()) } else { Said::Rep(Details::default()) };
        outputs.extend(
            session.handle(At::from_secs_f64(f64::from(n) * 4.0), Input::said(said, "words")),
        );
    }
    outputs.extend(session.close(At::from_secs_f64(100.0)));
    let logged = outputs.into_iter().filter_map(|output| match output {
        Output::Append(logged) => Some(logged),
        _ => None,
    });
    for (n, logged) in (1..).zip(logged) {
        store.append(id, &logged, EventId(key(n)), began).unwrap();
    }
    store.finish(id).unwrap();
}

/// Everything that a view would ask of it.
fn look_at(path: &Path) -> Result<usize, StoreError> {
    let store = Store::open(path)?;
    let mut seen = store.verify("test")?.faults.len();
    for session in store.sessions(&Filter::default())? {
        seen += store.events(session.id)?.len();
        store.fold(session.id)?;
    }
    seen += store.reps(&Filter::default())?.len() + store.animals()?.len();
    Ok(seen)
}

#[test]
fn a_corrupted_record_is_refused_with_words_or_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.db");
    fs::write(&path, good()).unwrap();
    assert!(look_at(&path).unwrap() > 20);
    attack(file!(), &corrupted(1), 60, |(_, changes)| {
        for ending in ["", "-wal", "-shm"] {
            fs::remove_file(format!("{}{ending}", path.display())).ok();
        }
        fs::write(&path, apply(good(), &changes)).unwrap();
        if let Err(error) = look_at(&path) {
            prop_assert!(!error.to_string().is_empty());
        }
        Ok(())
    });
}

/// A whole database whose rows hold what the program would never write.
#[test]
fn values_that_we_never_write_are_told_and_do_not_end_the_program() {
    let nasty = [
        "9223372036854775807",
        "-9223372036854775808",
        "-1",
        "'x'",
        "x'00'",
        "'[1,2]'",
        "'{\"event\":\"gap\",\"lasted\":{\"secs\":18446744073709551615,\"nanos\":999999999},\"why\":\"\"}'",
        "replace(hex(zeroblob(100000)), '00', 'NaN')",
    ];
    let columns = [
        ("event", "at_ns"),
        ("event", "body"),
        ("event", "utc_us"),
        ("event", "kind"),
        ("session", "began_us"),
        ("session", "start_step"),
        ("session", "zone"),
        ("session", "offset_s"),
        ("session", "day"),
        ("session", "source"),
        ("plan_version", "text"),
    ];
    let folder = tempfile::tempdir().unwrap();
    let mut changed = 0;
    for (table, column) in columns {
        for (n, value) in nasty.iter().enumerate() {
            let path = folder.path().join(format!("{table}-{column}-{n}.db"));
            fs::write(&path, good()).unwrap();
            let raw = rusqlite::Connection::open(&path).unwrap();
            // Someone who wants to do harm takes the guards out first.
            let guards: Vec<String> = raw
                .prepare("SELECT 'DROP TRIGGER ' || name FROM sqlite_schema WHERE type = 'trigger'")
                .unwrap()
                .query_map([], |row| row.get(0))
                .unwrap()
                .collect::<Result<_, _>>()
                .unwrap();
            raw.execute_batch(&guards.join(";")).unwrap();
            raw.execute_batch("PRAGMA ignore_check_constraints = 1").unwrap();
            let Ok(rows) = raw.execute(&format!("UPDATE {table} SET {column} = {value}"), [])
            else {
                continue;
            };
            drop(raw);
            changed += rows;
            if let Err(error) = look_at(&path) {
                assert!(!error.to_string().is_empty());
            }
        }
    }
    assert!(changed > 100, "only {changed} rows could be changed");
}
