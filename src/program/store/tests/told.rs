//! What a session was told of the sessions before it, in the record.

use crate::session::{PastSession, PastStep, Prior};
use crate::store::testing::{began, key, later, live, new_session, place, stored, usual};
use crate::store::{EventId, Forget, NewSession, SessionId, Store, Told};

/// A session of the next day that was told of the first one.
fn told_of_the_first(store: &Store) -> SessionId {
    let first = stored(store, 1, &live(&usual(), Some(60.0)).1);
    let step = PastStep { step: 2, seconds: 58.25, tries: 5, met: 3, ..PastStep::default() };
    let past = PastSession { active_s: 58.125, steps: vec![step], ..PastSession::default() };
    let prior = Prior { sessions: vec![past], kcal_today: 0.1 + 0.2, ..Prior::default() };
    let told = Told { prior, of: vec![Some(first)] };
    let began = began().checked_add(jiff::Span::new().days(1)).unwrap();
    let new = NewSession { began, told, ..new_session(9000) };
    let logged = live(&usual(), Some(60.0)).1;
    let logged: Vec<_> =
        (9001..).zip(logged).map(|(n, logged)| (logged, EventId(key(n)))).collect();
    store.begin_with(&new, &logged, later(86_400)).unwrap();
    store.finish(new.id).unwrap();
    assert_eq!(store.told(new.id).unwrap(), new.told.prior);
    new.id
}

#[test]
fn what_a_session_was_told_is_never_changed() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    told_of_the_first(&store);
    for sql in [
        "UPDATE told SET body = '{}'",
        "DELETE FROM told_of",
        "UPDATE past SET body = '{}'",
        "DELETE FROM past",
    ] {
        let error = store.conn.execute(sql, []).unwrap_err().to_string();
        assert!(error.contains("what a session was told"), "{sql}: {error}");
    }
    // Changed all the same, by another hand: that is found.
    store
        .conn
        .execute_batch("DROP TRIGGER past_is_fixed; UPDATE past SET body = '{\"active_s\":1.0,\"declined_s\":null,\"steps\":[],\"sides\":[0,0],\"rewards\":0,\"jackpots\":0}'")
        .unwrap();
    let verdict = store.verify("0.1.0").unwrap();
    assert!(
        verdict.faults.iter().any(|fault| fault.contains("is not what was kept")),
        "{verdict:?}"
    );
}

#[test]
fn other_nudges_after_what_was_told_was_forgotten_are_not_a_difference() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = told_of_the_first(&store);
    // As if a nudge of the second session had followed from what it was told of the first.
    let moved = "INSERT INTO forgetting VALUES ('test');
        UPDATE event SET at_ns = at_ns + 1 WHERE kind = 'hold_ran_out' AND session = 2; DELETE FROM forgetting";
    store.conn.execute_batch(moved).unwrap();
    assert!(!store.verify("0.1.0").unwrap().is_sound());
    let day = began().date();
    store.forget(&Forget::Days { from: day, to: day }).unwrap();
    let told = store.told(session).unwrap();
    assert!(told.sessions.is_empty());
    assert_eq!(told.kcal_today, 0.1 + 0.2);
    let verdict = store.verify("0.1.0").unwrap();
    assert!(verdict.is_sound(), "{verdict:?}");
    assert!(verdict.remarks[0].contains("have been forgotten since"), "{:?}", verdict.remarks);
    let left: i64 =
        store.conn.query_row("SELECT count(*) FROM past", [], |row| row.get(0)).unwrap();
    assert_eq!(left, 0);
}
