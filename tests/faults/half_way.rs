//! Killed in the middle of an upgrade or a restore, at the entry of a random system call on any of the files
//! concerned.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use hushtally::store::Store;

use crate::Wanted;
use crate::ledger::{FaultCounts, PER_SESSION, event, new_session, utc};
use crate::trace;
use crate::writer::{fresh, listen, program};

const EVENTS: u64 = 2 * PER_SESSION;
const CALLS: [(&str, u32); 6] = [
    ("pwrite64", 90),
    ("fsync,fdatasync", 14),
    ("openat", 12),
    ("rename,renameat2,link,linkat", 3),
    ("unlink,unlinkat", 6),
    ("ftruncate", 4),
];

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    if !trace::there(counts) {
        return;
    }
    let (_folder, whole) = fresh();
    fill(&whole, EVENTS);
    let backup = whole.with_file_name("backup.db");
    Store::open(&whole).and_then(|store| store.backup(&backup)).expect("a backup");
    let (_folder, newer) = fresh();
    fill(&newer, EVENTS + PER_SESSION);
    let before_views = whole.with_file_name("format-1.db");
    first_format(&whole, &before_views);
    let format = format_of(&whole);
    for i in 0..wanted.kill_points / 4 {
        counts.kill_points += 1;
        counts.kills_in_calls += 1;
        if i.is_multiple_of(2) {
            upgrade(&before_views, format, random, counts);
        } else {
            restore(&newer, &backup, random, counts);
        }
    }
}

fn fill(db: &Path, events: u64) {
    let store = Store::open(db).expect("a new database");
    for n in 0..events {
        if n.is_multiple_of(PER_SESSION) {
            store.begin_session(&new_session(n / PER_SESSION)).expect("a session");
        }
        let (session, id, logged) = event(n);
        store.append(session, &logged, id, utc(n)).expect("an event");
    }
}

/// The same record as the first format had it.
fn first_format(from: &Path, to: &Path) {
    let old = rusqlite::Connection::open(to).expect("a file");
    old.execute_batch(include_str!("../../src/program/store/migrations/0001-log.sql"))
        .expect("a schema");
    old.pragma_update(None, "user_version", 1).expect("a version");
    old.execute("ATTACH ?1 AS new", [from.to_string_lossy()]).expect("the other file");
    for table in ["animal", "animal_name", "plan_version", "session", "event"] {
        // Later formats have columns more.
        let sql = "SELECT group_concat(name) FROM pragma_table_info(?1, 'main')";
        let columns: String = old.query_row(sql, [table], |row| row.get(0)).expect("its columns");
        let sql = format!("INSERT INTO main.{table} ({columns}) SELECT {columns} FROM new.{table}");
        old.execute(&sql, []).expect("the old columns are there");
    }
}

/// The number of the record's format.
fn format_of(db: &Path) -> u32 {
    let conn = rusqlite::Connection::open(db).expect("a file");
    conn.pragma_query_value(None, "user_version", |row| row.get(0)).expect("a version")
}

fn hindered(files: &[&Path], random: &mut fastrand::Rng) -> (Vec<String>, String) {
    let (calls, most) = random.choice(CALLS).unwrap_or(("pwrite64", 90));
    let inject = format!("inject={calls}:signal=KILL:when={}", random.u32(1..=most));
    let mut words = ["strace", "-f", "-qq", "-o", "/dev/null"].map(str::to_owned).to_vec();
    for file in files {
        words.extend(["-P".to_owned(), file.to_string_lossy().into_owned()]);
    }
    words.extend(["-e".into(), format!("trace={calls}"), "-e".into(), inject.clone()]);
    (words, inject)
}

fn upgrade(old: &Path, format: u32, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let (_folder, db) = fresh();
    let home = db.parent().expect("a folder");
    fs::create_dir_all(home).expect("a folder");
    fs::copy(old, &db).expect("a copy");
    let beside = |ending: &str| home.join(format!("hushtally.db{ending}"));
    let kept = format!(".before-format-{format}");
    let files = ["-wal", "-journal", ".copying", ".copying-journal", &kept].map(beside);
    let mut all: Vec<&Path> = files.iter().map(std::path::PathBuf::as_path).collect();
    all.push(&db);
    let (words, inject) = hindered(&all, random);
    let first = EVENTS.to_string();
    let args = [db.to_string_lossy().into_owned(), first, "3".into()];
    let said = listen(program(&words, &args).spawn().expect("a child under strace"));
    let mut acked: BTreeSet<u64> = (0..EVENTS).collect();
    acked.extend(said.acked);
    counts.acknowledged += acked.len() as u64;
    counts.look(&db, &acked, true, &format!("upgrade, {inject}"));
    // A copy has its name only when it is whole.
    if files[4].exists()
        && let Ok(copy) = rusqlite::Connection::open(&files[4])
    {
        let count = copy.query_row("SELECT count(*) FROM event", [], |row| row.get::<_, i64>(0));
        if count.as_ref().ok() != Some(&(EVENTS as i64)) {
            counts.wrong.push(format!("upgrade, {inject}: the copy is not whole: {count:?}"));
        }
    }
}

fn restore(newer: &Path, backup: &Path, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let (_folder, db) = fresh();
    let home = db.parent().expect("a folder");
    fs::create_dir_all(home).expect("a folder");
    fs::copy(newer, &db).expect("a copy");
    let files = ["", "-wal", "-journal", ".restoring", ".restoring-journal"]
        .map(|ending| home.join(format!("hushtally.db{ending}")));
    let all: Vec<&Path> = files.iter().map(std::path::PathBuf::as_path).collect();
    let (words, inject) = hindered(&all, random);
    let args = ["restore".into(), db.to_string_lossy().into(), backup.to_string_lossy().into()];
    let said = listen(program(&words, &args).spawn().expect("a child under strace"));
    let how = format!("restore, {inject}");
    counts.wrong.extend(said.errors.iter().map(|error| format!("{how}: {error}")));
    // One of the two records at any moment; and the newer one is somewhere in any case.
    let older: BTreeSet<u64> = (0..EVENTS).collect();
    counts.acknowledged += EVENTS + PER_SESSION;
    counts.look(&db, &older, true, &how);
    let everything: BTreeSet<u64> = (0..EVENTS + PER_SESSION).collect();
    let kept = fs::read_dir(home).expect("a folder").flatten().map(|entry| entry.path());
    let kept: Vec<_> = kept
        .filter(|path| path.to_string_lossy().contains(".before-restore-"))
        .filter(|path| !path.to_string_lossy().ends_with("-wal"))
        .collect();
    match kept.first() {
        Some(kept) => counts.look(kept, &everything, true, &how),
        None => counts.look(&db, &everything, true, &how),
    }
}
