//! `kill -9`: by the clock, and at the entry of a random system call on the database's files.

use std::collections::BTreeSet;
use std::time::Duration;

use crate::ledger::FaultCounts;
use crate::writer::{Said, command, fresh, listen};
use crate::{Wanted, trace};

/// Kills before a new database is begun.
const PER_DATABASE: u32 = 20;
/// Where the events of a second program begin: never reached by the first, and a new session.
const SECOND: u64 = 10_000;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let strace = trace::there(counts);
    let mut done = 0;
    while done < wanted.kill_points {
        let (_folder, db) = fresh();
        let mut acked = BTreeSet::new();
        let mut beyond = BTreeSet::new();
        let mut next = 0;
        for _ in 0..PER_DATABASE.min(wanted.kill_points - done) {
            // A second program now and then, at sessions of its own; it is not killed.
            let other = (random.u8(..4) == 0).then(|| {
                let first = beyond.last().map_or(SECOND, |last: &u64| last + 1);
                command(&[], &db, first, 10).spawn().expect("a child")
            });
            let in_call = strace && random.bool();
            let mut said =
                if in_call { in_a_call(&db, next, random) } else { by_clock(&db, next, random) };
            if let Some(other) = other.map(listen) {
                if other.acked.len() != 10 {
                    counts.wrong.push(format!("kill {done}: the second program was held up"));
                }
                beyond.extend(&other.acked);
                said.errors.extend(other.errors);
                counts.acknowledged += other.acked.len() as u64;
            }
            counts.kills_in_calls += u32::from(in_call);
            done += 1;
            counts.kill_points += 1;
            counts.acknowledged += said.acked.len() as u64;
            acked.extend(&said.acked);
            counts.wrong.extend(said.errors.iter().map(|error| format!("kill {done}: {error}")));
            let thorough = random.u8(..8) == 0;
            counts.look(
                &db,
                &acked.union(&beyond).copied().collect(),
                thorough,
                &format!("kill {done}"),
            );
            // The next child writes what was in flight once more, under the same key.
            next = acked.last().map_or(0, |last| last + 1);
        }
    }
}

fn by_clock(db: &std::path::Path, first: u64, random: &mut fastrand::Rng) -> Said {
    let mut child = command(&[], db, first, 400).spawn().expect("a child");
    std::thread::sleep(Duration::from_micros(random.u64(1_000..80_000)));
    let _ = child.kill();
    listen(child)
}

fn in_a_call(db: &std::path::Path, first: u64, random: &mut fastrand::Rng) -> Said {
    let (call, most) = random.choice(trace::CALLS).copied().unwrap_or(("pwrite64", 100));
    let inject = format!("inject={call}:signal=KILL:when={}", random.u32(1..=most));
    let before = trace::strace(db, &["-e", &format!("trace={call}"), "-e", &inject]);
    listen(command(&before, db, first, 60).spawn().expect("a child under strace"))
}
