//! The write-ahead log ends early, or its end is overwritten with noise. Every frame has a checksum over all
//! before it, so SQLite keeps each transaction that lies wholly before the damage, and nothing after it: that
//! is what is looked for.

use std::collections::BTreeSet;
use std::fs;

use hushtally::store::Store;

use crate::Wanted;
use crate::ledger::{FaultCounts, PER_SESSION, event, new_session, utc};
use crate::writer::fresh;

/// Few enough that no checkpoint moves them into the database.
const EVENTS: u64 = 60;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let (_folder, db) = fresh();
    let log = db.with_file_name("hushtally.db-wal");
    let store = Store::open(&db).expect("a new database");
    // Where the log ended when each event was acknowledged.
    let mut ends = Vec::new();
    for n in 0..EVENTS {
        if n.is_multiple_of(PER_SESSION) {
            store.begin_session(&new_session(n / PER_SESSION)).expect("a session");
        }
        let (session, id, logged) = event(n);
        store.append(session, &logged, id, utc(n)).expect("an event");
        ends.push(fs::metadata(&log).expect("a log").len());
    }
    let (whole, frames) = (fs::read(&db).expect("the file"), fs::read(&log).expect("the log"));
    drop(store);
    for _ in 0..wanted.torn_logs {
        let (_folder, db) = fresh();
        fs::create_dir_all(db.parent().expect("a folder")).expect("a folder");
        let at = random.usize(1..frames.len());
        let mut torn = frames.clone();
        let how = match random.u8(..3) {
            0 => {
                torn.truncate(at);
                "cut off"
            }
            1 => {
                torn[at..].fill_with(|| random.u8(..));
                "noise"
            }
            _ => {
                torn[at] ^= 1 << random.u8(..8);
                "one bit"
            }
        };
        fs::write(&db, &whole).expect("the file");
        fs::write(db.with_file_name("hushtally.db-wal"), torn).expect("the log");
        let before = ends.iter().take_while(|end| **end <= at as u64).count() as u64;
        let kept: BTreeSet<u64> = (0..before).collect();
        counts.acknowledged += before;
        counts.torn_logs += 1;
        counts.look(&db, &kept, true, &format!("log {how} at {at} of {}", frames.len()));
    }
}
