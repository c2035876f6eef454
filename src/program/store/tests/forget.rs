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

/// Everything that is shown of every session, names aside.
fn shown(store: &Store) -> Vec<(Vec<crate::store::RepRow>, u32, u32)> {
    let sessions = store.sessions(&Filter::default()).unwrap();
    let of = |row: &crate::store::SessionRow| {
        (store.reps(&Filter::session(row.id)).unwrap(), row.rewarded, row.missed)
    };
    sessions.iter().map(of).collect()
}

#[test]
fn a_short_name_leaves_every_session_readable() {
    for name in ["S", "Min", "Low", "Bird", "step", "a", "form", "planned", "92", "forgotten", "1"]
    {
        let place = place();
        let (store, _) = filled(&place.file);
        let mut other = new_session(4000);
        other.plan_text.push_str(
            "planned_minutes = 3.0\n[rewards.low]\nwhat = \"a low seed, S\"\n[body]\nweight_g = 92.0\nkind = \"other_bird\"\n\
             [words]\nlow = \"min seed\"\nown.s = \"brr\"\n",
        );
        other.person = Some(name.into());
        store.begin_session(&other).unwrap();
        let own = crate::interpret::Said::Own { name: "s".into() };
        let began = Event::Derived(crate::session::Derived::Began { step: 2 });
        for (n, event) in [(4001, began), (4002, Event::Input(Input::said(own, "brr")))] {
            let logged = Logged { at: crate::at::At::ZERO, event };
            store.append(other.id, &logged, EventId(key(n)), later(1)).unwrap();
        }
        let before = shown(&store);
        store.forget(&Forget::Person(name.into())).unwrap();
        assert_eq!(shown(&store), before, "{name}");
        assert!(store.rebuild().unwrap().is_empty(), "{name}");
        let verdict = store.verify("0.1.0").unwrap();
        assert!(verdict.is_sound(), "{name}: {:?}", verdict.faults);
        let sessions = store.sessions(&Filter::session(other.id)).unwrap();
        assert_eq!(sessions[0].person, None, "{name}");
    }
}

#[test]
fn plans_that_become_the_same_are_one() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for (n, person) in [(1, "Ada"), (2, "(forgotten)"), (3, "ADA"), (4, "Bo")] {
        let mut new = new_session(n * 1000);
        new.plan_text.push_str(&format!("# by {person}\n"));
        new.plan_file = format!("{person}.toml");
        store.begin_session(&new).unwrap();
    }
    store.forget(&Forget::Person("Ada".into())).unwrap();
    let versions = |store: &Store| -> i64 {
        store.conn.query_row("SELECT count(*) FROM plan_version", [], |row| row.get(0)).unwrap()
    };
    assert_eq!((versions(&store), shown(&store).len()), (2, 4));
    store.forget(&Forget::Person("Bo".into())).unwrap();
    assert_eq!((versions(&store), shown(&store).len()), (1, 4));
    assert!(store.verify("0.1.0").unwrap().is_sound());
}

#[test]
fn a_name_goes_in_every_spelling_of_it_and_from_every_text() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let mut new = new_session(1000);
    new.behaviour = "comes to ZOË".into();
    new.plan_text = new.plan_text.replace("rests a foot on the nail file", "comes to Zoe\u{308}");
    new.plan_file = "plans/zoe\u{308}.toml".into();
    new.source_name = Some("zoë 3.wav".into());
    new.person = Some("Zoe\u{308}".into());
    new.place = None;
    store.begin_session(&new).unwrap();
    let probe = Entry::Probe {
        behaviour: "comes to zoë".into(),
        cue: crate::store::ProbeCue::Other("zoë!".into()),
        came: true,
        instead: Some("looks at ZOË".into()),
        latency_s: None,
        context: None,
    };
    store.write_entry(&NewEntry { person: Some("ZOË".into()), ..entry(3001, probe) }).unwrap();
    store.forget(&Forget::Person("zoë".into())).unwrap();
    for spelling in ["zoë", "ZOË", "Zoe\u{308}", "Zoë", "ZOE\u{308}"] {
        assert!(!on_disk(&place.file, spelling), "{spelling}");
    }
    let row = &store.sessions(&Filter::default()).unwrap()[0];
    assert_eq!((row.behaviour.as_str(), &row.person), ("comes to (forgotten)", &None));
    assert_eq!(store.plan_of(new.id).unwrap().file, "plans/(forgotten).toml");
    // Journal and sessions still speak of the same behaviour.
    let entries = store.journal(&JournalFilter::default()).unwrap();
    assert!(
        matches!(&entries[0].entry, Entry::Probe { behaviour, .. } if *behaviour == row.behaviour)
    );
}

#[test]
fn what_is_an_animals_name_too_is_only_forgotten_where_it_is_not() {
    let place = place();
    let (store, _) = filled(&place.file);
    let copy = beside(&place.file, ".before-format-3");
    fs::write(&copy, b"a copy").unwrap();
    let mut new = new_session(4000);
    new.person = Some("Brindle".into());
    store.begin_session(&new).unwrap();
    for (name, why) in
        [("Brindle", "--keep-animals"), ("donkey", "--keep-animals"), ("…", "letter")]
    {
        let refused = store.forget(&Forget::Person(name.into())).unwrap_err().to_string();
        assert!(refused.contains(why), "{refused}");
    }
    assert!(copy.exists(), "what is refused changes nothing");
    let row = &store.sessions(&Filter::session(new.id)).unwrap()[0];
    assert_eq!(row.person.as_deref(), Some("Brindle"));
    store.forget(&Forget::PersonNotAnimal("Brindle".into())).unwrap();
    assert!(!copy.exists());
    let row = &store.sessions(&Filter::session(new.id)).unwrap()[0];
    assert_eq!(row.person, None);
    assert!(store.find_animal("Brindle", Some("donkey")).is_ok());
    let note =
        store.journal(&JournalFilter { kind: Some("note"), ..JournalFilter::default() }).unwrap();
    assert_eq!(note[0].entry, Entry::Note { text: "Zebediah says: \"(forgotten)\" limps".into() });
    // An earlier name of an animal is not what it is called.
    let id = store.find_animal("Brindle", None).unwrap().id;
    store.rename_animal(id, "Ada's own", later(9)).unwrap();
    store.rename_animal(id, "Patch", later(10)).unwrap();
    store.forget(&Forget::Person("Ada".into())).unwrap();
    assert_eq!(store.find_animal("Patch", None).unwrap().names, ["Patch", "Brindle"]);
}

#[test]
fn what_an_interruption_left_undone_is_done_and_a_going_session_is_left_alone() {
    let place = place();
    let (store, _) = filled(&place.file);
    let id = store.find_animal("Pepino", None).unwrap().id;
    let other = Store::open_read_only(&place.file).unwrap();
    other.conn.execute_batch("BEGIN").unwrap();
    other.conn.query_row("SELECT count(*) FROM event", [], |_| Ok(())).unwrap();
    store.conn.busy_timeout(std::time::Duration::from_millis(50)).unwrap();
    let copy = beside(&place.file, ".before-format-3");
    fs::write(&copy, b"a copy with Pepino in it").unwrap();
    let error = store.forget(&Forget::Animal(id)).unwrap_err();
    assert!(error.to_string().contains("close it"), "{error}");
    assert!(copy.exists(), "copies go last");
    drop(other);
    // The animal is not there to be named any more, and still its bytes go.
    assert!(store.find_animal("Pepino", None).is_err());
    assert!(store.finish_forgetting().unwrap() && !store.finish_forgetting().unwrap());
    assert!(!copy.exists() && !on_disk(&place.file, "held the towel"));
    // A session that another program is in.
    let second = Store::open(&place.file).unwrap();
    second.begin_session(&new_session(5000)).unwrap();
    let error = store.forget(&Forget::Person("Ada".into())).unwrap_err();
    assert!(matches!(error, crate::store::StoreError::InUse(_)), "{error}");
}
