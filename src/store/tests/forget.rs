use std::fs;

use super::journal::entry;
use crate::session::{Event, Input, Logged};
use crate::store::open::beside;
use crate::store::testing::{began, key, later, live, new_session, place, stored, usual};
use crate::store::{
    AnimalRef, Change, Edit, Entry, EventId, Filter, Forget, JournalFilter, NewEntry, SessionId,
    Store, Target,
};

/// Whether these bytes stand anywhere in the database's files.
fn on_disk(file: &std::path::Path, needle: &str) -> bool {
    ["", "-wal", "-shm"].iter().any(|ending| {
        let bytes = fs::read(beside(file, ending)).unwrap_or_default();
        bytes.windows(needle.len()).any(|window| window.eq_ignore_ascii_case(needle.as_bytes()))
    })
}

/// Two animals, a person in every place where a name can stand.
fn filled(file: &std::path::Path) -> (Store, SessionId) {
    let store = Store::open(file).unwrap();
    let (_, mut logged) = live(&usual(), Some(60.0));
    let note = Input::Noted { text: "Zebediah held the towel".into() };
    let end = logged.pop().unwrap();
    logged.push(Logged { at: end.at, event: Event::Input(note) });
    logged.push(end);
    let mut new = new_session(1000);
    new.person = Some("Zebediah".into());
    new.place = Some("Zebediah's barn".into());
    new.plan_text.push_str("# written by Zebediah\n");
    store.begin_session(&new).unwrap();
    for (n, logged) in (1001..).zip(&logged) {
        store.append(new.id, logged, EventId(key(n)), later(1)).unwrap();
    }
    let change = Change::Remove { target: Target::At(crate::at::At::from_secs_f64(2.0)) };
    let edit = Edit { change, by: Some("Zebediah".into()), why: Some("ask zebediah".into()) };
    store.edit(new.id, &edit, EventId(key(1999)), later(2)).unwrap();
    let mut brindle = new_session(2000);
    brindle.animal = AnimalRef::Named { name: "Brindle".into(), species: "donkey".into() };
    brindle.plan_text = brindle.plan_text.replace("Pepino", "Brindle");
    brindle.plan_file = "brindle.toml".into();
    brindle.began = "2026-03-05T10:00:00+01:00[Europe/Berlin]".parse().unwrap();
    store.begin_session(&brindle).unwrap();
    logged.retain(|logged| !matches!(logged.event, Event::Input(Input::Noted { .. })));
    for (n, logged) in (2001..).zip(&logged) {
        store.append(brindle.id, logged, EventId(key(n)), later(1)).unwrap();
    }
    store.write_entry(&entry(3001, Entry::Weight { grams: 91.25, said: None })).unwrap();
    let note = Entry::Note { text: "Zebediah says: \"Brindle\" limps".into() };
    let animal = Some(brindle.animal.clone());
    let written = NewEntry { animal, person: Some("zebediah".into()), ..entry(3002, note) };
    store.write_entry(&written).unwrap();
    store.refresh().unwrap();
    (store, new.id)
}

#[test]
fn an_animal_is_gone_from_the_very_bytes() {
    let place = place();
    let (store, _) = filled(&place.file);
    fs::write(beside(&place.file, ".before-format-3"), b"a copy with Pepino in it").unwrap();
    assert!(on_disk(&place.file, "Pepino") && on_disk(&place.file, "91.25"));
    let id = store.find_animal("Pepino", None).unwrap().id;
    let forgotten = store.forget(&Forget::Animal(id)).unwrap();
    assert_eq!((forgotten.sessions, forgotten.entries, forgotten.copies.len()), (1, 1, 1));
    for gone in ["Pepino", "91.25", "held the towel"] {
        assert!(!on_disk(&place.file, gone), "{gone}");
    }
    assert!(!beside(&place.file, ".before-format-3").exists());
    // The other one is untouched, and the log is closed again.
    assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 1);
    assert!(on_disk(&place.file, "Brindle"));
    assert!(store.verify("0.1.0").unwrap().is_sound());
    assert!(store.conn.execute("DELETE FROM event", []).is_err());
    assert!(store.forget(&Forget::Animal(id)).is_err());
}

#[test]
fn a_person_is_gone_from_the_very_bytes_and_the_record_stays() {
    let place = place();
    let (store, session) = filled(&place.file);
    let before = store.reps(&Filter::default()).unwrap();
    assert!(on_disk(&place.file, "Zebediah"));
    let forgotten = store.forget(&Forget::Person("zebediah".into())).unwrap();
    assert!(forgotten.texts >= 6, "{forgotten:?}");
    assert!(!on_disk(&place.file, "Zebediah"));
    assert_eq!(store.reps(&Filter::default()).unwrap(), before);
    let row = &store.sessions(&Filter::session(session)).unwrap()[0];
    assert_eq!((row.person.as_deref(), row.place.as_deref()), (None, Some("(forgotten)'s barn")));
    let notes =
        store.journal(&JournalFilter { kind: Some("note"), ..JournalFilter::default() }).unwrap();
    let said = "(forgotten) says: \"Brindle\" limps";
    assert_eq!(notes[0].entry, Entry::Note { text: said.into() });
    let verdict = store.verify("0.1.0").unwrap();
    assert!(verdict.is_sound(), "{:?}", verdict.faults);
}

#[test]
fn days_are_gone_from_the_very_bytes() {
    let place = place();
    let (store, _) = filled(&place.file);
    let day = began().date();
    let forgotten = store.forget(&Forget::Days { from: day, to: day }).unwrap();
    assert_eq!((forgotten.sessions, forgotten.entries), (1, 2));
    assert!(!on_disk(&place.file, "held the towel") && !on_disk(&place.file, "91.25"));
    assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 1);
    assert!(store.verify("0.1.0").unwrap().is_sound());
}

#[test]
fn another_program_in_the_way_is_told_and_a_second_run_ends_it() {
    let place = place();
    let (store, _) = filled(&place.file);
    let other = Store::open_read_only(&place.file).unwrap();
    other.conn.execute_batch("BEGIN").unwrap();
    other.conn.query_row("SELECT count(*) FROM event", [], |_| Ok(())).unwrap();
    store.conn.busy_timeout(std::time::Duration::from_millis(50)).unwrap();
    let day = began().date();
    let error = store.forget(&Forget::Days { from: day, to: day }).unwrap_err();
    assert!(error.to_string().contains("close it"), "{error}");
    drop(other);
    assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 1);
    let _ = stored(&store, 7, &[]);
    store.forget(&Forget::Days { from: day, to: day }).unwrap();
    assert!(!on_disk(&place.file, "held the towel"));
}
