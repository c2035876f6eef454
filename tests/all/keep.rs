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
        columns: Vec::new(),
        dry_run: false,
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
    let corrupted = folder.path().join("corrupted.db");
    fs::write(&corrupted, bytes).unwrap();
    let (code, said) = run(&corrupted, &["verify"]);
    assert_eq!(code, 5, "{said}");
    let (code, said) = run(&record, &["restore", corrupted.to_str().unwrap()]);
    assert_eq!(code, 5, "{said}");
    assert_eq!(sessions(&record), 2, "a damaged backup changes nothing");
}

/// A plan half made by voice holds what was said: it is named like any plan that has the word in it.
#[test]
fn forgetting_names_the_plans_made_and_half_made_that_have_the_word_in_them() {
    let (folder, record) = record();
    let plans = folder.path().join("plans");
    fs::create_dir(&plans).unwrap();
    for file in ["half-made.json", "made.toml", "of-others.toml", "no-plan.txt"] {
        let text = if file == "of-others.toml" { "Brindle" } else { "as Quillfeather has it" };
        fs::write(plans.join(file), text).unwrap();
    }
    let output = Command::cargo_bin("hushtally")
        .unwrap()
        .args(["forget", "person", "Quillfeather", "--yes"])
        .env("HUSHTALLY_DB", &record)
        .env("HUSHTALLY_PLANS", &plans)
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let named = |file: &str| said.contains(file);
    assert!(named("half-made.json") && named("made.toml"), "{said}");
    assert!(!named("of-others.toml") && !named("no-plan.txt"), "{said}");
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

/// A record that was changed behind the program's back.
fn changed(sql: &str) -> (TempDir, PathBuf) {
    let (folder, record) = record();
    let conn = rusqlite::Connection::open(&record).unwrap();
    conn.execute_batch(sql).unwrap();
    (folder, record)
}

#[test]
fn what_only_differs_sends_nobody_to_a_backup_and_is_rebuilt() {
    let (_folder, record) = changed("UPDATE session_summary SET rewarded = 77 WHERE session = 2");
    let (code, said) = run(&record, &["verify"]);
    assert_eq!((code, said.contains("differs: what is shown of session")), (5, true), "{said}");
    assert!(said.contains("Restore no backup") && !said.contains("damaged"), "{said}");
    let (code, said) = run(&record, &["verify", "--rebuild"]);
    assert_eq!((code, said.contains("is sound")), (0, true), "{said}");
}

#[test]
fn tries_behind_an_end_are_told_and_shown() {
    // As programs up to 602ce15 did: one ended a session that another one went on with.
    let (_folder, record) = changed(
        "DROP TRIGGER event_before_end;
         INSERT INTO event SELECT session, ordinal + 1, randomblob(16), at_ns + 1000000000, utc_us,
             'tagged', '{\"event\":\"tagged\",\"said\":{\"kind\":\"rep\"},\"words\":\"yes\"}' FROM event
         WHERE kind = 'finished' AND session = 1;",
    );
    let (_, said) = run(&record, &["sessions", "--json"]);
    let rewarded: Vec<&str> = said.matches("\"rewarded\":3").collect();
    assert_eq!(rewarded.len(), 1, "{said}");
    let (code, said) = run(&record, &["verify"]);
    assert_eq!((code, said.contains("1 tries and 0 other tags stand behind")), (5, true), "{said}");
    assert!(said.contains("Restore no backup"), "{said}");
}

#[test]
fn what_is_missing_is_damage_and_the_file_is_to_be_kept() {
    let (_folder, record) = changed(
        "INSERT INTO forgetting VALUES ('test');
         DELETE FROM event WHERE session = 1 AND ordinal = 1;
         DELETE FROM forgetting;",
    );
    let (code, said) = run(&record, &["verify"]);
    assert_eq!((code, said.contains("damaged: session")), (5, true), "{said}");
    assert!(said.contains("Keep this file") && said.contains("keeps this one beside it"), "{said}");
}

#[cfg(unix)]
mod written {
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    /// Every verb that writes a file, with the file as its last word.
    const WRITERS: [&[&str]; 5] = [
        &["report", "Pepino", "--overwrite", "-o"],
        &["export", "reps", "--overwrite", "--out"],
        &["export", "journal", "--overwrite", "--out"],
        &["plan", "new", "--animal", "A", "--species", "b", "--behaviour", "c"],
        &["backup"],
    ];

    fn with<'a>(verb: &[&'a str], file: &'a Path) -> Vec<&'a str> {
        verb.iter().copied().chain([file.to_str().unwrap()]).collect()
    }

    #[test]
    fn nothing_is_written_over_the_record_by_any_name_for_it() {
        let (folder, record) = record();
        let at = |name: &str| folder.path().join(name);
        let copy = at("record.db.before-format-9");
        fs::write(&copy, "an earlier copy").unwrap();
        fs::hard_link(&record, at("hard")).unwrap();
        symlink(&record, at("soft")).unwrap();
        symlink(folder.path(), at("way")).unwrap();
        let names =
            ["record.db", "record.db-wal", "record.db-shm", "hard", "soft", "way/record.db"];
        for verb in WRITERS {
            for name in names.iter().copied().chain(["record.db.before-format-9"]) {
                let (code, said) = run(&record, &with(verb, &at(name)));
                assert_ne!(code, 0, "{verb:?} {name}: {said}");
                assert_eq!(sessions(&record), 2, "{verb:?} {name}: {said}");
                assert_eq!(fs::read(&copy).unwrap(), b"an earlier copy", "{verb:?} {name}");
            }
        }
        let (code, said) = run(&record, &["verify"]);
        assert_eq!(code, 0, "{said}");
    }

    #[test]
    fn another_file_is_only_written_over_when_asked_and_what_is_written_is_private() {
        let (folder, record) = record();
        for verb in &WRITERS[..3] {
            let verb: Vec<&str> =
                verb.iter().copied().filter(|word| *word != "--overwrite").collect();
            let file = folder.path().join("somebody's");
            fs::write(&file, "somebody's own").unwrap();
            fs::set_permissions(&file, fs::Permissions::from_mode(0o644)).unwrap();
            let (code, said) = run(&record, &with(&verb, &file));
            assert_eq!((code, said.contains("--overwrite")), (2, true), "{verb:?}: {said}");
            assert_eq!(fs::read(&file).unwrap(), b"somebody's own");
            let mut asked = verb.clone();
            asked.insert(2, "--overwrite");
            let (code, said) = run(&record, &with(&asked, &file));
            assert_eq!(code, 0, "{verb:?}: {said}");
            assert_ne!(fs::read(&file).unwrap(), b"somebody's own");
            assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
            fs::remove_file(&file).unwrap();
        }
        for verb in WRITERS {
            let file = folder.path().join("new");
            let (code, said) = run(&record, &with(verb, &file));
            assert_eq!(code, 0, "{verb:?}: {said}");
            assert_eq!(
                fs::metadata(&file).unwrap().permissions().mode() & 0o777,
                0o600,
                "{verb:?}"
            );
            fs::remove_file(&file).unwrap();
        }
    }

    #[test]
    fn a_backup_and_a_changed_plan_leave_the_files_of_others_beside_them() {
        let (folder, record) = record();
        let at = |name: &str| folder.path().join(name);
        for name in ["b.db.part", "plan.toml.new"] {
            fs::write(at(name), "somebody's own").unwrap();
        }
        let backup = at("b.db");
        assert_eq!(run(&record, &["backup", backup.to_str().unwrap()]).0, 0);
        let plan = at("plan.toml");
        assert_eq!(run(&record, &with(WRITERS[3], &plan)).0, 0);
        let (code, said) = run(&record, &["plan", "split", plan.to_str().unwrap(), "1"]);
        assert_eq!(code, 0, "{said}");
        for name in ["b.db.part", "plan.toml.new"] {
            assert_eq!(fs::read(at(name)).unwrap(), b"somebody's own", "{name}");
        }
    }

    #[test]
    fn the_ending_says_how_an_export_is_written() {
        let (folder, record) = record();
        let at = |name: &str| folder.path().join(name);
        for (name, begins) in
            [("t.parquet", "PAR1"), ("t.jsonl", "{"), ("t.csv", "session,"), ("t", "session,")]
        {
            let (code, said) = run(&record, &with(&["export", "reps", "--out"], &at(name)));
            assert_eq!(code, 0, "{name}: {said}");
            assert!(fs::read(at(name)).unwrap().starts_with(begins.as_bytes()), "{name}");
        }
        let (code, said) =
            run(&record, &with(&["export", "reps", "--format", "csv", "--out"], &at("u.parquet")));
        assert_eq!((code, said.contains("ending")), (2, true), "{said}");
        assert!(!at("u.parquet").exists());
        let (code, _) =
            run(&record, &with(&["export", "reps", "--format", "parquet", "--out"], &at("u.data")));
        assert_eq!(code, 0);
        assert!(fs::read(at("u.data")).unwrap().starts_with(b"PAR1"));
    }
}
