//! The verbs that keep a record safe, and the one that forgets, as a user runs them.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use hushtally::store::Store;
use hushtally::store::import::ImportOptions;
use tempfile::TempDir;

const NOTES: &str = "\
animal,species,behaviour,began,at_s,outcome,person,note
Pepino,cockatiel,rests a foot,2026-01-02 15:04:05,3.5,low,Quillfeather,
Pepino,cockatiel,rests a foot,2026-01-02 15:04:05,9,high,Quillfeather,
Brindle,donkey,lifts a hoof,2026-01-03 10:00:00,4,low,Quillfeather,
Pepino,cockatiel,,2026-01-04 10:00:00,,,,Quillfeather saw a blunt nail
";

/// A record of two animals in a folder of its own.
fn record() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("record.db");
    let options = ImportOptions {
        zone: jiff::tz::TimeZone::UTC,
        file: "notes.csv".into(),
        made_by: "test".into(),
    };
    let imported = Store::open(&path).unwrap().import_csv(&mut NOTES.as_bytes(), &options).unwrap();
    assert_eq!(imported.sessions, 2);
    (folder, path)
}

/// Runs a verb on a record; its exit code and all it said.
fn run(record: &Path, arguments: &[&str]) -> (i32, String) {
    let output = Command::cargo_bin("hushtally")
        .unwrap()
        .args(arguments)
        .env("HUSHTALLY_DB", record)
        .output()
        .unwrap();
    let said = [output.stdout, output.stderr].concat();
    (output.status.code().unwrap(), String::from_utf8_lossy(&said).into_owned())
}

fn sessions(record: &Path) -> usize {
    Store::open(record).unwrap().sessions(&Default::default()).unwrap().len()
}

/// Whether the text stands anywhere in the raw files of the folder.
fn anywhere(folder: &Path, text: &str) -> bool {
    fs::read_dir(folder).unwrap().flatten().any(|entry| {
        let bytes = fs::read(entry.path()).unwrap();
        bytes.windows(text.len()).any(|part| part.eq_ignore_ascii_case(text.as_bytes()))
    })
}

#[test]
fn a_backup_is_put_back_and_what_was_there_is_kept() {
    let (folder, record) = record();
    let backup = folder.path().join("copy.db");
    let to = backup.to_str().unwrap();
    let (code, said) = run(&record, &["backup", to]);
    assert_eq!((code, said.contains("2 sessions")), (0, true), "{said}");
    let (code, said) = run(&record, &["backup", to]);
    assert_eq!((code, said.contains("there already")), (5, true), "{said}");

    assert_eq!(run(&record, &["forget", "animal", "Pepino", "--yes"]).0, 0);
    assert_eq!(sessions(&record), 1);
    let (code, said) = run(&record, &["restore", to]);
    assert_eq!((code, said.contains("is kept")), (0, true), "{said}");
    assert_eq!(sessions(&record), 2);
    let (code, said) = run(&record, &["verify"]);
    assert_eq!((code, said.contains("is sound: 2 sessions")), (0, true), "{said}");
}

#[test]
fn a_damaged_record_is_told_and_a_missing_one_is_not_made() {
    let (folder, record) = record();
    let missing = folder.path().join("none.db");
    for verb in [&["verify"][..], &["backup", "x.db"], &["forget", "person", "Ada", "--yes"]] {
        let (code, said) = run(&missing, verb);
        assert_eq!((code, said.contains("is not there")), (5, true), "{verb:?}: {said}");
        assert!(!missing.exists());
    }
    // One page of the middle is overwritten with another one's bytes.
    Store::open(&record).unwrap().backup(&folder.path().join("whole.db")).unwrap();
    let mut bytes = fs::read(folder.path().join("whole.db")).unwrap();
    let middle = bytes.len() / 2 / 4096 * 4096;
    bytes[middle..middle + 4096].fill(0x5a);
    let spoilt = folder.path().join("spoilt.db");
    fs::write(&spoilt, bytes).unwrap();
    let (code, said) = run(&spoilt, &["verify"]);
    assert_eq!(code, 5, "{said}");
    let (code, said) = run(&record, &["restore", spoilt.to_str().unwrap()]);
    assert_eq!(code, 5, "{said}");
    assert_eq!(sessions(&record), 2, "a damaged backup changes nothing");
}

#[test]
fn forgetting_asks_first_and_leaves_not_a_byte() {
    let (folder, record) = record();
    assert!(anywhere(folder.path(), "Quillfeather"));
    let (code, said) = run(&record, &["forget", "person", "Quillfeather"]);
    assert_eq!((code, said.contains("--yes")), (2, true), "{said}");
    assert!(anywhere(folder.path(), "Quillfeather"), "nobody agreed");

    let (code, said) = run(&record, &["forget", "person", "Quillfeather", "--yes"]);
    assert_eq!((code, said.contains("for good")), (0, true), "{said}");
    assert!(!anywhere(folder.path(), "Quillfeather"));
    assert_eq!(sessions(&record), 2, "the animals' record stays");

    assert!(anywhere(folder.path(), "Brindle"));
    assert_eq!(run(&record, &["forget", "animal", "Brindle", "--yes"]).0, 0);
    assert!(!anywhere(folder.path(), "Brindle"));

    let (code, said) = run(&record, &["forget", "days", "2026-01-04", "2026-01-02", "--yes"]);
    assert_eq!(code, 2, "{said}");
    assert_eq!(run(&record, &["forget", "days", "2026-01-02", "--yes"]).0, 0);
    assert_eq!(sessions(&record), 0);
    assert!(anywhere(folder.path(), "blunt nail"), "another day's note stays");
}
