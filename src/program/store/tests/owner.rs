//! One owner a session, kept by the record itself.

use std::sync::{Arc, Barrier};
use std::thread;

use crate::at::At;
use crate::session::{Derived, Event, Logged, WhyEnded};
use crate::store::open::beside;
use crate::store::testing::{Place, key, later, live, new_session, place, stored, usual, yes};
use crate::store::{
    Change, Edit, EventId, Filter, NewSession, SessionId, Store, StoreError, Target,
};

/// A session that is going on in the first of two programs.
fn going_on(place: &Place) -> (Store, SessionId, Store) {
    let first = Store::open(&place.file).unwrap();
    let session = stored(&first, 1, &live(&usual(), None).1);
    (first, session, Store::open(&place.file).unwrap())
}

fn a_try(at: f64) -> Logged {
    live(&[(1.0, yes(None)), (at, yes(None))], None).1.pop().unwrap()
}

fn the_end(at: f64) -> Logged {
    let event = Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded });
    Logged { at: At::from_secs_f64(at), event }
}

fn id(n: u64) -> EventId {
    EventId(key(n))
}

#[test]
fn a_second_program_writes_nothing_into_a_session_that_somebody_is_in() {
    let place = place();
    let (first, session, second) = going_on(&place);
    for logged in [a_try(30.0), the_end(30.0)] {
        let refused = second.append(session, &logged, id(9000), later(50));
        assert!(matches!(refused, Err(StoreError::InUse(_))), "{refused:?}");
    }
    first.append(session, &a_try(31.0), id(9001), later(51)).unwrap();
    // It may be corrected and noted upon from anywhere.
    second.add_note(session, "came from the door", id(9002), later(52)).unwrap();
    let change = Change::Remove { target: Target::Event(id(9001)) };
    second.edit(session, &Edit { change, by: None, why: None }, id(9003), later(53)).unwrap();
    first.append(session, &a_try(33.0), id(9004), later(54)).unwrap();
    let verdict = first.verify("0.1.0").unwrap();
    assert!(verdict.is_sound(), "{verdict:?}");
}

#[test]
fn nothing_of_a_session_can_stand_behind_its_end() {
    let place = place();
    let (first, session, second) = going_on(&place);
    first.append(session, &the_end(30.0), id(9000), later(50)).unwrap();
    let before = first.events(session).unwrap();
    let refused = first.append(session, &a_try(31.0), id(9001), later(51));
    assert!(matches!(refused, Err(StoreError::Ended(of)) if of == session), "{refused:?}");
    let both = [(a_try(31.0), id(9001)), (the_end(32.0), id(9002))];
    assert!(first.append_all(session, &both, later(51)).is_err());
    // Not by way of another program either, nor past the program.
    drop(first);
    let refused = second.take_up(session);
    assert!(matches!(refused, Err(StoreError::Ended(_))), "{refused:?}");
    assert!(second.append(session, &a_try(31.0), id(9001), later(51)).is_err());
    let past = second.conn.execute(
        "INSERT INTO event SELECT session, 99, randomblob(16), at_ns, utc_us, kind, body FROM event
         WHERE kind = 'tagged' LIMIT 1",
        [],
    );
    assert!(past.unwrap_err().to_string().contains("has ended"));
    assert_eq!(second.events(session).unwrap(), before);
    // What is there already may be written once more, and the end corrected upon.
    second.append(session, &the_end(30.0), id(9000), later(50)).unwrap();
    second.add_note(session, "tired", id(9003), later(60)).unwrap();
    assert!(second.verify("0.1.0").unwrap().remarks.is_empty());
}

#[test]
fn whoever_was_passed_over_is_refused_although_its_lock_was_deleted() {
    let place = place();
    let (first, session, second) = going_on(&place);
    std::fs::remove_dir_all(beside(&place.file, "-live")).unwrap();
    second.take_up(session).unwrap();
    second.append(session, &a_try(30.0), id(9000), later(50)).unwrap();
    let refused = first.append(session, &a_try(31.0), id(9001), later(51));
    assert!(matches!(refused, Err(StoreError::TakenOver(of)) if of == session), "{refused:?}");
    second.append(session, &a_try(32.0), id(9002), later(52)).unwrap();
}

#[test]
fn a_session_begins_with_its_first_events_or_not_at_all() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let new = new_session(1000);
    let (_, logged) = live(&usual(), None);
    let twice: Vec<_> = logged.iter().take(2).map(|logged| (logged.clone(), id(1))).collect();
    assert!(store.begin_with(&new, &twice, later(1)).is_err());
    assert_eq!(store.open_sessions().unwrap(), vec![]);
    let events: Vec<_> = (1..).map(id).zip(logged).map(|(id, logged)| (logged, id)).collect();
    // As often as it is tried.
    for _ in 0..2 {
        store.begin_with(&new, &events, later(1)).unwrap();
        assert_eq!(store.events(new.id).unwrap().len(), events.len());
    }
    let other = Store::open(&place.file).unwrap();
    let refused = other.begin_with(&new, &events, later(1));
    assert!(matches!(refused, Err(StoreError::InUse(_))), "{refused:?}");
}

#[test]
fn of_many_that_take_a_session_up_at_once_one_has_it() {
    let place = place();
    drop(Store::open(&place.file).unwrap());
    for round in 1..=20_u64 {
        let file = place.file.clone();
        let new = NewSession { person: None, ..new_session(round * 1000) };
        Store::open(&file).unwrap().begin_session(&new).unwrap();
        let line = Arc::new(Barrier::new(4));
        let tries: Vec<_> = (0..4)
            .map(|_| {
                let (file, line, session) = (file.clone(), Arc::clone(&line), new.id);
                thread::spawn(move || {
                    let store = Store::open(&file).unwrap();
                    line.wait();
                    let taken = store.take_up(session);
                    // Nobody lets go before all have tried.
                    line.wait();
                    taken.is_ok()
                })
            })
            .collect();
        let had = tries.into_iter().filter_map(|one| one.join().unwrap().then_some(())).count();
        assert_eq!(had, 1, "round {round}");
    }
}

/// A record of the third format, as 602ce15 wrote it.
fn earlier_record(place: &Place, rows: &str) {
    std::fs::create_dir_all(place.file.parent().unwrap()).unwrap();
    let old = rusqlite::Connection::open(&place.file).unwrap();
    for part in [
        include_str!("../migrations/0001-log.sql"),
        include_str!("../migrations/0002-projections.sql"),
        "DROP TRIGGER session_is_new; DROP TRIGGER event_is_new;",
        rows,
        "CREATE TRIGGER session_is_new AFTER INSERT ON session
         BEGIN INSERT OR IGNORE INTO stale (session) VALUES (new.no); END;
         CREATE TRIGGER event_is_new AFTER INSERT ON event
         BEGIN INSERT OR IGNORE INTO stale (session) VALUES (new.session); END;",
    ] {
        old.execute_batch(part).unwrap();
    }
    old.pragma_update(None, "user_version", 3).unwrap();
}

#[test]
fn tries_that_an_earlier_program_left_behind_an_end_are_shown_and_told() {
    let place = place();
    earlier_record(&place, include_str!("two_programs.sql"));
    let store = Store::open(&place.file).unwrap();
    let rows = store.sessions(&Filter::default()).unwrap();
    let rewarded: Vec<u32> = rows.iter().map(|row| row.rewarded).collect();
    // 602ce15 showed 3, 1 and 4.
    assert_eq!(rewarded, [7, 1, 8]);
    assert!(rows.iter().all(|row| row.ended.is_some()));
    let reps = store.reps(&Filter::default()).unwrap();
    let mut events: Vec<_> = reps.iter().filter_map(|row| row.event).collect();
    events.sort();
    events.dedup();
    assert_eq!(events.len(), 16, "each try once");
    assert!(store.open_sessions().unwrap().is_empty());
    let verdict = store.verify("hushtally 0.1.0").unwrap();
    assert_eq!((verdict.faults.len(), verdict.differences.len()), (0, 2), "{verdict:?}");
    assert!(verdict.differences.iter().all(|text| text.contains("4 tries and 1 other tags stand")));
    assert!(verdict.remarks.is_empty(), "{verdict:?}");
}

#[test]
fn a_record_of_an_earlier_program_reads_as_it_did_there_and_its_sessions_were_told_nothing() {
    let place = place();
    earlier_record(&place, include_str!("invented_602ce15.sql"));
    let store = Store::open(&place.file).unwrap();
    let shown = |store: &Store| {
        let rows = store.sessions(&Filter::default()).unwrap();
        let counts: Vec<_> =
            rows.iter().map(|r| (r.rewarded, r.missed, r.active, r.last_step)).collect();
        (counts, store.reps(&Filter::default()).unwrap())
    };
    let before = shown(&store);
    assert!(before.0.len() == 2 && before.1.len() == 17, "{:?}", before.0);
    let verdict = store.verify(crate::MADE_BY).unwrap();
    assert!(verdict.is_sound(), "{verdict:?}");
    assert!(store.rebuild().unwrap().is_empty());
    assert_eq!(shown(&store), before);
    for row in store.sessions(&Filter::default()).unwrap() {
        assert_eq!(store.told(row.id).unwrap(), crate::session::Prior::default());
    }
}
