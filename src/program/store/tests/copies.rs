use std::fs;
use std::path::{Path, PathBuf};

use crate::store::open::beside;
use crate::store::testing::{began, key, live, place, stored, usual, yes};
use crate::store::{EventId, Filter, Store, StoreError};

#[test]
fn a_backup_made_in_mid_session_holds_what_was_acknowledged() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&usual(), None);
    let session = stored(&store, 1, &logged);
    let to = place.folder.path().join("copy.db");
    let copied = store.backup(&to).unwrap();
    assert_eq!((copied.sessions, copied.events), (1, logged.len() as u64));
    assert_eq!(copied.bytes, fs::metadata(&to).unwrap().len());
    for ending in ["-wal", "-shm", ".part"] {
        assert!(!beside(&to, ending).exists(), "{ending}");
    }
    let copy = Store::open_read_only(&to).unwrap();
    assert_eq!(copy.events(session).unwrap(), store.events(session).unwrap());
    let error = store.backup(&to).unwrap_err();
    assert!(error.to_string().contains("another name"), "{error}");
}

#[test]
fn a_restored_database_is_the_backup_and_the_old_one_is_kept() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&usual(), Some(60.0));
    let first = stored(&store, 1, &logged);
    store.finish(first).unwrap();
    let backup = place.folder.path().join("copy.db");
    store.backup(&backup).unwrap();
    let second = stored(&store, 2, &logged);
    // In use: refused, nothing changed.
    let now = began().timestamp();
    let error = Store::restore(&place.file, &backup, now).unwrap_err();
    assert!(error.to_string().contains("restore"), "{error}");
    store.finish(second).unwrap();
    let error = Store::restore(&place.file, &backup, now).unwrap_err();
    assert!(error.to_string().contains("has the database open"), "{error}");
    assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 2);
    drop(store);
    let restored = Store::restore(&place.file, &backup, now).unwrap();
    assert_eq!(restored.copied.sessions, 1);
    let kept = restored.kept.unwrap();
    let old = Store::open_read_only(&kept).unwrap();
    assert_eq!(old.sessions(&Filter::default()).unwrap().len(), 2);
    let new = Store::open(&place.file).unwrap();
    assert_eq!(new.sessions(&Filter::default()).unwrap().len(), 1);
    assert!(new.verify("0.1.0").unwrap().is_sound());
}

#[test]
fn a_damaged_database_can_be_replaced_and_a_damaged_backup_cannot() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for n in 1..30 {
        let session = stored(&store, n, &live(&usual(), Some(60.0)).1);
        store.finish(session).unwrap();
    }
    let backup = place.folder.path().join("copy.db");
    store.backup(&backup).unwrap();
    drop(store);
    let damage = |path: &std::path::Path, from: usize| {
        let mut bytes = fs::read(path).unwrap();
        bytes[from..from + 8192].fill(0xa5);
        fs::write(path, bytes).unwrap();
    };
    damage(&place.file, 0);
    let damaged = fs::read(&place.file).unwrap();
    let restored = Store::restore(&place.file, &backup, began().timestamp()).unwrap();
    assert_eq!(fs::read(restored.kept.unwrap()).unwrap(), damaged);
    assert_eq!(Store::open(&place.file).unwrap().sessions(&Filter::default()).unwrap().len(), 29);
    damage(&backup, 8192);
    let before = fs::read(&place.file).unwrap();
    let error = Store::restore(&place.file, &backup, began().timestamp()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error:?}");
    assert_eq!(fs::read(&place.file).unwrap(), before);
}

#[test]
fn two_that_are_restored_within_one_second_are_both_kept() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let first = stored(&store, 1, &live(&usual(), Some(60.0)).1);
    store.finish(first).unwrap();
    let backup = place.folder.path().join("copy.db");
    store.backup(&backup).unwrap();
    let second = stored(&store, 2, &live(&usual(), Some(60.0)).1);
    store.finish(second).unwrap();
    drop(store);
    let now = began().timestamp();
    let kept = [(); 2].map(|()| Store::restore(&place.file, &backup, now).unwrap().kept.unwrap());
    let sessions = kept.map(|path| {
        Store::open_read_only(&path).unwrap().sessions(&Filter::default()).unwrap().len()
    });
    assert_eq!(sessions, [2, 1]);
}

#[test]
fn those_that_restore_at_the_same_time_do_so_one_after_another() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&usual(), Some(60.0));
    store.finish(stored(&store, 1, &logged)).unwrap();
    let backup = place.folder.path().join("copy.db");
    store.backup(&backup).unwrap();
    drop(store);
    let now = began().timestamp();
    let mut kept: Vec<PathBuf> = std::thread::scope(|scope| {
        let restored =
            [(); 4].map(|()| scope.spawn(|| Store::restore(&place.file, &backup, now).unwrap()));
        restored.into_iter().map(|one| one.join().unwrap().kept.unwrap()).collect()
    });
    kept.sort();
    kept.dedup();
    assert_eq!(kept.len(), 4);
    for file in kept.iter().chain([&place.file]) {
        let sessions = Store::open_read_only(file).unwrap().sessions(&Filter::default()).unwrap();
        assert_eq!(sessions.len(), 1, "{}", file.display());
    }
    assert!(!beside(&place.file, ".restoring").exists());
}

#[test]
fn a_database_is_restored_where_there_was_none() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    stored(&store, 1, &live(&usual(), Some(60.0)).1);
    let backup = place.folder.path().join("copy.db");
    store.backup(&backup).unwrap();
    let elsewhere = place.folder.path().join("new/home/hushtally.db");
    let restored = Store::restore(&elsewhere, &backup, began().timestamp()).unwrap();
    assert_eq!(restored.kept, None);
    assert_eq!(Store::open(&elsewhere).unwrap().sessions(&Filter::default()).unwrap().len(), 1);
}

#[test]
fn before_an_upgrade_a_copy_is_kept() {
    let place = place();
    let new = place.folder.path().join("new.db");
    let session = stored(&Store::open(&new).unwrap(), 1, &live(&usual(), Some(60.0)).1);
    // The same record in the first format, as the first migration left it.
    fs::create_dir_all(place.file.parent().unwrap()).unwrap();
    let old = rusqlite::Connection::open(&place.file).unwrap();
    old.execute_batch(include_str!("../migrations/0001-log.sql")).unwrap();
    old.pragma_update(None, "user_version", 1).unwrap();
    old.execute("ATTACH ?1 AS new", [new.to_string_lossy()]).unwrap();
    for table in ["animal", "animal_name", "plan_version", "session", "event"] {
        // What later formats added stands behind what the first one had.
        let mut of =
            old.prepare(&format!("SELECT name FROM pragma_table_info('{table}', 'main')")).unwrap();
        let columns: Vec<String> =
            of.query_map([], |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap();
        let columns = columns.join(", ");
        let copy = format!("INSERT INTO main.{table} SELECT {columns} FROM new.{table}");
        old.execute(&copy, []).unwrap();
    }
    drop(old);
    // The remains of an upgrade that died half-way do not get in the way.
    fs::write(beside(&place.file, ".copying"), b"half a copy").unwrap();
    let error = Store::open_read_only(&place.file).unwrap_err();
    assert!(error.to_string().contains("older format"), "{error}");
    let store = Store::open(&place.file).unwrap();
    assert_eq!(store.reps(&Filter::session(session)).unwrap().len(), 5);
    assert!(store.verify("0.1.0").unwrap().is_sound());
    let copy = beside(&place.file, ".before-format-12");
    let copy = rusqlite::Connection::open(copy).unwrap();
    let version: i64 = copy.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
    assert_eq!(version, 1);
    assert!(!beside(&place.file, ".copying").exists());
}

#[test]
fn a_session_in_progress_is_not_offered_to_another_program() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = stored(&store, 1, &live(&usual(), None).1);
    let other = Store::open(&place.file).unwrap();
    assert!(other.open_sessions().unwrap()[0].held);
    assert!(matches!(other.take_up(session), Err(StoreError::InUse(id)) if id == session));
    // The first program ends, however it ends: its locks go with it.
    drop(store);
    assert!(!other.open_sessions().unwrap()[0].held);
    other.take_up(session).unwrap();
    other.take_up(session).unwrap();
    let (_, logged) = live(&[(70.0, yes(None))], None);
    other.append(session, &logged[1], EventId(key(800)), began().timestamp()).unwrap();
    assert!(Store::open(&place.file).unwrap().open_sessions().unwrap()[0].held);
    drop(other);
    assert!(!beside(&place.file, "-live").exists());
}

/// Everything in a folder and below it.
fn everything_in(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path.clone());
            }
            found.push(path);
        }
    }
    found.sort();
    found
}

#[test]
fn a_restore_that_fails_leaves_nothing_behind() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    stored(&store, 1, &live(&usual(), Some(60.0)).1);
    let backup = place.folder.path().join("backup.db");
    store.backup(&backup).unwrap();
    drop(store);
    let store = Store::open(&place.file).unwrap();
    store.sessions(&Filter::default()).unwrap();
    let (empty, text) = (place.folder.path().join("empty.db"), place.folder.path().join("text.db"));
    fs::write(&empty, b"").unwrap();
    fs::write(&text, "a shopping list ".repeat(500)).unwrap();
    let before = everything_in(place.folder.path());

    // No backup, into a folder that is not there either.
    let elsewhere = place.folder.path().join("new/home/hushtally.db");
    for from in [&empty, &text, &place.folder.path().to_owned()] {
        for to in [&place.file, &elsewhere] {
            let error = Store::restore(to, from, began().timestamp()).unwrap_err();
            assert!(
                matches!(error, StoreError::Empty { .. } | StoreError::NotOurs { .. }),
                "{error:?}"
            );
        }
    }
    // Another program has the record open: found out when half of the work is done.
    let other = Store::open(&place.file).unwrap();
    other.sessions(&Filter::default()).unwrap();
    let error = Store::restore(&place.file, &backup, began().timestamp()).unwrap_err();
    assert!(error.to_string().contains("has the database open"), "{error}");
    assert_eq!(everything_in(place.folder.path()), before);
    drop((other, store));
    let stamp = began().timestamp().strftime("%Y%m%dT%H%M%SZ").to_string();
    assert!(Store::restore(&place.file, &backup, began().timestamp()).is_ok());
    let kept = beside(&place.file, &format!(".before-restore-{stamp}"));
    // A second one in the same second keeps what the first one kept.
    let first = fs::read(&kept).unwrap();
    let again = Store::restore(&place.file, &backup, began().timestamp()).unwrap();
    assert_ne!(again.kept.unwrap(), kept);
    assert_eq!(fs::read(&kept).unwrap(), first);
}
