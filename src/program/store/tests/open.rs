use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use crate::store::testing::{live, new_session, place, stored, usual, yes};
use crate::store::{Filter, Store, StoreError};

fn mode(path: &Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[test]
fn files_and_folders_are_for_the_owner_alone() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    store.begin_session(&new_session(1)).unwrap();
    assert_eq!(mode(place.file.parent().unwrap()), 0o700);
    for ending in ["", "-wal", "-shm"] {
        assert_eq!(mode(&super::super::open::beside(&place.file, ending)), 0o600, "{ending}");
    }
    drop(store);
    fs::set_permissions(&place.file, fs::Permissions::from_mode(0o644)).unwrap();
    Store::open(&place.file).unwrap();
    assert_eq!(mode(&place.file), 0o600);
}

#[test]
fn the_settings_that_durability_rests_on_are_in_force() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let value = |pragma: &str| {
        store
            .conn
            .pragma_query_value(None, pragma, |row| row.get::<_, rusqlite::types::Value>(0))
            .unwrap()
    };
    assert_eq!(value("journal_mode"), rusqlite::types::Value::Text("wal".into()));
    assert_eq!(value("synchronous"), rusqlite::types::Value::Integer(2));
    assert_eq!(value("foreign_keys"), rusqlite::types::Value::Integer(1));
    assert_eq!(value("secure_delete"), rusqlite::types::Value::Integer(1));
}

#[test]
fn a_newer_format_is_refused_and_left_alone() {
    let place = place();
    drop(Store::open(&place.file).unwrap());
    let conn = rusqlite::Connection::open(&place.file).unwrap();
    conn.pragma_update(None, "user_version", 999).unwrap();
    conn.pragma_update(None, "journal_mode", "DELETE").unwrap();
    drop(conn);
    let before = fs::read(&place.file).unwrap();
    for error in
        [Store::open(&place.file).unwrap_err(), Store::open_read_only(&place.file).unwrap_err()]
    {
        assert!(matches!(error, StoreError::Newer { found: 999, .. }), "{error:?}");
        assert!(error.to_string().contains("newer Hushtally"), "{error}");
    }
    assert_eq!(fs::read(&place.file).unwrap(), before);
}

#[test]
fn other_files_are_refused_and_left_alone() {
    let place = place();
    fs::create_dir_all(place.file.parent().unwrap()).unwrap();
    let text = b"dear diary, ".repeat(500);
    fs::write(&place.file, &text).unwrap();
    assert!(matches!(Store::open(&place.file), Err(StoreError::NotOurs { .. })));
    assert_eq!(fs::read(&place.file).unwrap(), text);

    let other = place.folder.path().join("other.db");
    rusqlite::Connection::open(&other).unwrap().execute_batch("CREATE TABLE t (x)").unwrap();
    let before = fs::read(&other).unwrap();
    assert!(matches!(Store::open(&other), Err(StoreError::NotOurs { .. })));
    assert_eq!(fs::read(&other).unwrap(), before);
}

#[test]
fn a_damaged_file_is_refused_with_words() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    for n in 1..40 {
        stored(&store, n, &live(&usual(), Some(60.0)).1);
    }
    drop(store);
    let mut bytes = fs::read(&place.file).unwrap();
    let pages = bytes.len() / 4096;
    for page in 2..pages {
        bytes[page * 4096..page * 4096 + 64].fill(0xa5);
    }
    fs::write(&place.file, bytes).unwrap();
    let error = Store::open(&place.file).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error:?}");
    assert!(error.to_string().contains("restore"), "{error}");
}

#[test]
fn a_missing_database_is_not_made_for_a_view() {
    let place = place();
    let error = Store::open_read_only(&place.file).unwrap_err();
    assert!(matches!(error, StoreError::CannotOpen { .. }), "{error:?}");
    assert!(!place.file.exists());
}

#[test]
fn a_view_shows_events_that_the_tables_do_not_know_yet() {
    let place = place();
    let writer = Store::open(&place.file).unwrap();
    let (session, logged) = live(&[(1.0, yes(None)), (3.0, yes(Some(3)))], None);
    let id = stored(&writer, 1, &logged);
    let view = Store::open_read_only(&place.file).unwrap();
    assert_eq!(view.reps(&Filter::session(id)).unwrap().len(), 2);
    assert_eq!(view.sessions(&Filter::default()).unwrap()[0].rewarded, 2);
    assert_eq!(session.reps().len(), 2);
    // And once more after the writer went on, and after the tables know.
    let second = stored(&writer, 2, &logged);
    assert_eq!(view.reps(&Filter::default()).unwrap().len(), 4);
    writer.finish(second).unwrap();
    assert_eq!(view.reps(&Filter::default()).unwrap().len(), 4);
}

#[test]
fn two_programs_write_to_one_database() {
    let place = place();
    let (_, logged) = live(&usual(), Some(60.0));
    drop(Store::open(&place.file).unwrap());
    let writers: Vec<_> = (1..=4_u64)
        .map(|n| {
            let (file, logged) = (place.file.clone(), logged.clone());
            std::thread::spawn(move || {
                let store = Store::open(&file).unwrap();
                for i in 0..10 {
                    let id = stored(&store, n * 100 + i, &logged);
                    store.finish(id).unwrap();
                }
            })
        })
        .collect();
    for writer in writers {
        writer.join().unwrap();
    }
    let sessions = Store::open(&place.file).unwrap().sessions(&Filter::default()).unwrap();
    assert_eq!(sessions.len(), 40);
    assert!(sessions.iter().all(|row| row.rewarded + row.missed == 5), "{:?}", sessions[0]);
}

#[cfg(unix)]
#[test]
fn what_is_not_ours_keeps_its_rights_and_its_content() {
    use std::os::unix::fs::PermissionsExt;
    let place = place();
    let at = |name: &str| place.folder.path().join(name);
    fs::write(at("letter.txt"), "Dear neighbour, ".repeat(300)).unwrap();
    for (name, mark) in
        [("foreign.db", "CREATE TABLE t (a)"), ("marked.db", "PRAGMA application_id = 7")]
    {
        let foreign = rusqlite::Connection::open(at(name)).unwrap();
        foreign.execute_batch(mark).unwrap();
        // A change that is written for certain.
        foreign.execute_batch("VACUUM").unwrap();
    }
    for name in ["letter.txt", "foreign.db", "marked.db"] {
        let file = at(name);
        fs::set_permissions(&file, fs::Permissions::from_mode(0o644)).unwrap();
        let before = fs::read(&file).unwrap();
        for refused in [Store::open(&file), Store::open_existing(&file), Store::open_to_look(&file)]
        {
            let error = refused.unwrap_err();
            assert!(matches!(error, StoreError::NotOurs { .. }), "{name}: {error:?}");
        }
        let mode = fs::metadata(&file).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode, fs::read(&file).unwrap()), (0o644, before), "{name}");
    }
    // Ours loses them.
    drop(Store::open(&place.file).unwrap());
    fs::set_permissions(&place.file, fs::Permissions::from_mode(0o644)).unwrap();
    drop(Store::open(&place.file).unwrap());
    assert_eq!(fs::metadata(&place.file).unwrap().permissions().mode() & 0o777, 0o600);
}

#[test]
fn an_empty_file_is_not_a_record_to_look_at_and_stays_empty() {
    let place = place();
    let empty = place.folder.path().join("empty.db");
    fs::write(&empty, b"").unwrap();
    for refused in [Store::open_existing(&empty), Store::open_to_look(&empty)] {
        let error = refused.unwrap_err().to_string();
        assert!(error.contains("is empty, so it is not a record"), "{error}");
    }
    assert_eq!(fs::metadata(&empty).unwrap().len(), 0);
}

#[cfg(unix)]
#[test]
fn pipes_devices_and_folders_are_not_records() {
    let place = place();
    let pipe = place.folder.path().join("pipe");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    for path in [pipe.as_path(), Path::new("/dev/zero"), place.folder.path()] {
        for refused in [Store::open(path), Store::open_existing(path), Store::open_to_look(path)] {
            let error = refused.unwrap_err();
            assert!(matches!(error, StoreError::NotOurs { .. }), "{error:?}");
        }
    }
}
