use crate::plan::{RewardValue, Side};
use crate::store::testing::{began, key, later, new_session, place, stored, usual};
use crate::store::{
    AnimalId, AnimalRef, Entry, EventId, Filter, JournalFilter, NewEntry, ProbeCue, Store,
    StoreError,
};

pub(super) fn entry(n: u64, entry: Entry) -> NewEntry {
    NewEntry {
        id: EventId(key(n)),
        animal: Some(AnimalRef::Named { name: "Pepino".into(), species: "cockatiel".into() }),
        when: began(),
        person: Some("Ada".into()),
        place: Some("kitchen".into()),
        entry,
    }
}

/// Another animal, beside one of the same name.
fn add_donkey(store: &Store, n: u64) {
    let tx = store.write().unwrap();
    let animal = "INSERT INTO animal (id, name, species) VALUES (?1, 'Pepino', 'donkey')";
    tx.execute(animal, [AnimalId(key(n))]).unwrap();
    let name = "INSERT INTO animal_name (animal, name, since_us) VALUES (?1, 'Pepino', ?2)";
    tx.execute(name, [tx.last_insert_rowid(), later(20).as_microsecond()]).unwrap();
    tx.commit().unwrap();
}

fn every_entry() -> Vec<Entry> {
    vec![
        Entry::Note { text: "likes \"millet\"\nand rain".into() },
        Entry::Weight { grams: 92.3, said: Some("3.26 oz".into()) },
        Entry::Food { what: "millet".into(), grams: Some(1.5), kcal: None },
        Entry::Coat { text: "moulting".into() },
        Entry::Sides { worse: Some(Side::Left), text: "left foot lifts late".into() },
        Entry::Sore { text: "none seen".into() },
        Entry::Ill { text: "fluffed up".into() },
        Entry::Well { text: "eats again".into() },
        Entry::Captured { behaviour: "bow".into(), value: RewardValue::High, context: None },
        Entry::Probe {
            behaviour: "step up".into(),
            cue: ProbeCue::Other("step down".into()),
            came: false,
            instead: Some("turned".into()),
            latency_s: Some(1.25),
            context: None,
        },
        Entry::Planned {
            behaviour: "step up".into(),
            change: "a better reward".into(),
            step: 2,
            baseline: 5,
            lot: 20,
            drawn: 7,
        },
    ]
}

#[test]
fn every_entry_is_read_back_and_the_same_write_twice_is_one() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for _ in 0..2 {
        for (n, what) in (1..).zip(every_entry()) {
            store.write_entry(&entry(n, what)).unwrap();
        }
    }
    let back =
        Store::open_read_only(&place.file).unwrap().journal(&JournalFilter::default()).unwrap();
    assert_eq!(back.iter().map(|row| row.entry.clone()).collect::<Vec<_>>(), every_entry());
    assert_eq!(back[0].utc, later(0));
    assert_eq!((back[0].zone.as_str(), back[0].offset_s), ("Europe/Berlin", 3600));
    assert_eq!(back[0].animal.as_deref(), Some("Pepino"));
    let other = Entry::Note { text: "another".into() };
    assert!(matches!(store.write_entry(&entry(1, other)), Err(StoreError::Taken(_))));
}

#[test]
fn an_entry_is_taken_back_by_another() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    store.write_entry(&entry(1, Entry::Weight { grams: 920.0, said: None })).unwrap();
    store.write_entry(&entry(2, Entry::Weight { grams: 92.0, said: None })).unwrap();
    let target = EventId(key(1));
    store.write_entry(&entry(3, Entry::TakenBack { target, why: Some("typing".into()) })).unwrap();
    let weights = JournalFilter { kind: Some("weight"), ..JournalFilter::default() };
    let found = store.journal(&weights).unwrap();
    assert_eq!(found.iter().map(|row| row.id).collect::<Vec<_>>(), vec![EventId(key(2))]);
    let all = JournalFilter { all: true, ..JournalFilter::default() };
    assert_eq!(store.journal(&all).unwrap().len(), 3);
    let error = store.conn.execute("DELETE FROM journal", []).unwrap_err().to_string();
    assert!(error.contains("never"), "{error}");
}

#[test]
fn numbers_that_cannot_be_true_are_refused() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for grams in [0.0, -3.0, f64::NAN, f64::INFINITY] {
        let error = store.write_entry(&entry(1, Entry::Weight { grams, said: None })).unwrap_err();
        assert!(error.to_string().contains("above zero"), "{error}");
    }
    assert_eq!(store.journal(&JournalFilter::default()).unwrap(), vec![]);
}

#[test]
fn a_renamed_animal_is_found_by_every_name() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = stored(&store, 1, &super::super::testing::live(&usual(), Some(60.0)).1);
    let pepino = store.find_animal("pepino", None).unwrap();
    assert_eq!((pepino.id, pepino.sessions), (AnimalId(session.0), 1));
    store.rename_animal(pepino.id, "Pip", later(10)).unwrap();
    // A plan that still has the old name reaches the same animal.
    store.begin_session(&new_session(9000)).unwrap();
    let again = store.find_animal("Pepino", Some("cockatiel")).unwrap();
    assert_eq!((again.id, again.name.as_str(), again.sessions), (pepino.id, "Pip", 2));
    assert_eq!(again.names, vec!["Pepino", "Pip"]);
    assert_eq!(store.sessions(&Filter::animal(pepino.id)).unwrap()[0].animal, "Pip");
    // The name is free for another, who then goes before who had it once.
    add_donkey(&store, 7);
    assert_eq!(store.find_animal("pepino", None).unwrap().id, AnimalId(key(7)));
    add_donkey(&store, 8);
    let error = store.find_animal("pepino", Some("donkey")).unwrap_err();
    assert!(matches!(error, StoreError::SeveralAnimals { count: 2, .. }), "{error:?}");
    assert!(matches!(store.find_animal("Nobody", None), Err(StoreError::NoAnimal(_))));
    assert_eq!(store.animals().unwrap().len(), 3);
}
