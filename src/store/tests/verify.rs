use crate::store::testing::{key, later, live, place, stored, usual};
use crate::store::{Change, Edit, EventId, Store, Target};

fn tampered(sql: &str) -> Vec<String> {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for n in 1..4 {
        let session = stored(&store, n, &live(&usual(), Some(60.0)).1);
        store.finish(session).unwrap();
    }
    let sound = store.verify("0.1.0").unwrap();
    assert_eq!((sound.faults.as_slice(), sound.sessions), ([].as_slice(), 3));
    store.conn.execute_batch(sql).unwrap();
    let reader = Store::open_read_only(&place.file).unwrap();
    reader.verify("0.1.0").unwrap().faults
}

const ALLOW: &str = "INSERT INTO forgetting VALUES ('test');";

#[test]
fn views_that_do_not_follow_from_the_log_are_found() {
    for sql in [
        "UPDATE rep SET outcome = 'jackpot' WHERE session = 2 AND number = 1",
        "DELETE FROM rep WHERE session = 2 AND number = 5",
        "UPDATE session_summary SET rewarded = rewarded + 1 WHERE session = 2",
        "DELETE FROM mark WHERE session = 2 AND kind = 'mood'",
    ] {
        let faults = tampered(sql);
        assert!(faults.len() == 1 && faults[0].contains("does not follow"), "{sql}: {faults:?}");
    }
}

#[test]
fn a_log_that_was_tampered_with_is_found() {
    let gap = tampered(&format!("{ALLOW} DELETE FROM event WHERE session = 2 AND ordinal = 3"));
    assert!(gap.iter().any(|fault| fault.contains("lacks 1 events")), "{gap:?}");
    let plan = tampered(&format!("{ALLOW} UPDATE plan_version SET text = text || '# and more'"));
    assert!(plan.iter().any(|fault| fault.contains("plan version 1")), "{plan:?}");
    let body = tampered(&format!(
        "{ALLOW} UPDATE event SET body = '{{}}' WHERE session = 2 AND ordinal = 3"
    ));
    assert!(body.iter().any(|fault| fault.contains("event 3")), "{body:?}");
    let link = tampered("PRAGMA foreign_keys = OFF; DELETE FROM animal");
    assert!(link.iter().any(|fault| fault.contains("session")), "{link:?}");
}

#[test]
fn other_nudges_are_a_fault_only_for_the_version_that_gave_them() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    stored(&store, 1, &live(&usual(), Some(60.0)).1);
    store
        .conn
        .execute_batch(&format!(
            "{ALLOW} UPDATE event SET at_ns = at_ns + 1 WHERE kind = 'hold_ran_out'; DELETE FROM forgetting"
        ))
        .unwrap();
    assert!(!store.verify("0.1.0").unwrap().is_sound());
    let later_version = store.verify("0.2.0").unwrap();
    assert!(later_version.is_sound(), "{:?}", later_version.faults);
    assert_eq!(later_version.remarks.len(), 1);
}

#[test]
fn an_edit_that_changes_nothing_is_remarked_on() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = stored(&store, 1, &live(&usual(), Some(60.0)).1);
    let change = Change::Remove { target: Target::Event(EventId(key(4))) };
    let edit = Edit { change, by: None, why: None };
    store.edit(session, &edit, EventId(key(9000)), later(100)).unwrap();
    let verdict = store.verify("0.1.0").unwrap();
    assert!(verdict.is_sound());
    assert!(verdict.remarks[0].contains("changes nothing"), "{:?}", verdict.remarks);
}
