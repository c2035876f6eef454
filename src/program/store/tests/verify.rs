use crate::interpret::Said;
use crate::session::{Event, Input, Logged};
use crate::store::testing::{key, later, live, place, stored, usual, yes};
use crate::store::{Change, Edit, EventId, Store, Target, Verdict};

fn tampered(sql: &str) -> Verdict {
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
    reader.verify("0.1.0").unwrap()
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
        let Verdict { faults, differences: found, .. } = tampered(sql);
        assert!(found.len() == 1 && found[0].contains("does not follow"), "{sql}: {found:?}");
        assert!(faults.is_empty(), "nothing that was said is missing: {faults:?}");
    }
}

#[test]
fn a_log_that_was_tampered_with_is_found() {
    let tampered = |sql: &str| tampered(sql).faults;
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
    let same_version = store.verify("0.1.0").unwrap();
    assert!(!same_version.is_sound() && same_version.faults.is_empty(), "{same_version:?}");
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

#[test]
fn what_a_kill_left_of_what_followed_from_a_tag_is_not_a_fault() {
    let (_, logged) = live(&usual(), Some(60.0));
    let derived = |logged: &Logged| matches!(logged.event, Event::Derived(_));
    let mut cut_off = 0;
    // Earlier programs wrote each event by itself: killed after any of them.
    for end in 1..=logged.len() {
        let place = place();
        let store = Store::open(&place.file).unwrap();
        stored(&store, 1, &logged[..end]);
        let verdict = store.verify("0.1.0").unwrap();
        assert!(verdict.is_sound(), "{end}: {verdict:?}");
        cut_off += verdict.remarks.len();
    }
    // Gone on with afterwards, it lacks one in its middle.
    for without in (1..logged.len() - 1).filter(|n| derived(&logged[*n])) {
        let place = place();
        let store = Store::open(&place.file).unwrap();
        let rest: Vec<Logged> = [&logged[..without], &logged[without + 1..]].concat();
        stored(&store, 1, &rest);
        let verdict = store.verify("0.1.0").unwrap();
        assert!(verdict.is_sound(), "without {:?}: {verdict:?}", logged[without]);
        cut_off += verdict.remarks.len();
    }
    assert!(cut_off > 0, "nothing was cut off");
}

#[test]
fn a_try_that_is_missing_is_damage() {
    let (_, logged) = live(&[(2.0, yes(None)), (5.0, yes(None)), (6.0, Said::TakeBack)], Some(9.0));
    let place = place();
    let store = Store::open(&place.file).unwrap();
    // Both tries are gone, so that there is nothing to take back.
    let rest: Vec<Logged> = logged
        .iter()
        .filter(|one| !matches!(&one.event, Event::Input(Input::Tagged { said: Said::Rep(_), .. })))
        .cloned()
        .collect();
    stored(&store, 1, &rest);
    let verdict = store.verify("0.1.0").unwrap();
    assert!(verdict.faults.iter().any(|fault| fault.contains("may be missing")), "{verdict:?}");
}

#[test]
fn a_session_that_is_written_meanwhile_is_not_a_fault() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let file = place.file.clone();
    let writer = std::thread::spawn(move || {
        let store = Store::open(&file).unwrap();
        for n in 1..12 {
            let session = stored(&store, n, &live(&usual(), Some(60.0)).1);
            store.finish(session).unwrap();
        }
    });
    while !writer.is_finished() {
        let verdict = store.verify("0.1.0").unwrap();
        assert!(verdict.is_sound(), "{verdict:?}");
    }
    writer.join().unwrap();
}

#[test]
fn in_however_many_parts_the_sessions_are_looked_at_the_same_is_found() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for n in 1..8 {
        let session = stored(&store, n, &live(&usual(), Some(60.0)).1);
        store.finish(session).unwrap();
    }
    let corruption = "UPDATE rep SET outcome = 'jackpot' WHERE session IN (1, 4, 7) AND number = 1";
    store.conn.execute_batch(corruption).unwrap();
    let whole = store.check_sessions("0.1.0", 0, 1).unwrap();
    assert_eq!((whole.sessions, whole.differences.len()), (7, 3));
    for parts in 2..10 {
        let found = (0..parts).map(|part| store.check_sessions("0.1.0", part, parts).unwrap());
        let found: Vec<Verdict> = found.collect();
        assert_eq!(found.iter().map(|part| part.sessions).sum::<u64>(), 7, "{parts}");
        let differences = found.into_iter().flat_map(|part| part.differences);
        assert_eq!(differences.collect::<Vec<_>>(), whole.differences, "{parts}");
    }
}
