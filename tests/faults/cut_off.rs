//! Killed at each sync and at each write of a session, one after the other: what `verify` says of what is left.

use std::collections::BTreeSet;
use std::path::Path;

use crate::ledger::FaultCounts;
use crate::shown::look;
use crate::trainer::{Told, listen};
use crate::writer::{fresh, program};
use crate::{Wanted, trace};

/// Sessions are killed at this many places in turn, each place one further on, before a new record is begun.
const PER_RECORD: u32 = 40;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    if !trace::there(counts) {
        return;
    }
    let (mut kills, mut number) = (0, 0);
    for calls in ["fsync,fdatasync", "pwrite64"].into_iter().cycle() {
        let (_folder, db) = fresh();
        let mut acked = BTreeSet::new();
        let seed = random.u64(..);
        // From its first on. The first child makes the record, the others find one.
        for place in (0..=PER_RECORD).map(|n| if n == 0 { u32::MAX } else { n }) {
            if kills >= wanted.kills_at_syncs {
                return;
            }
            number += 1;
            let told = killed(&db, number, seed.wrapping_add(u64::from(place)), calls, place);
            counts.wrong.extend(told.errors.iter().map(|why| format!("kill at {calls}: {why}")));
            counts.acknowledged += told.acked.len() as u64;
            acked.extend(told.acked);
            if told.done {
                continue;
            }
            kills += 1;
            counts.kills_at_syncs += 1;
            let how = format!("killed at {calls} {place}");
            match look(&db, &acked) {
                Ok(shown) => {
                    counts.lost_tags += shown.lost.len() as u64;
                    counts.hidden_tries += shown.hidden.len() as u64;
                    counts.false_verify_faults += u64::from(!shown.wrong.is_empty());
                    counts.wrong.extend(shown.wrong.iter().map(|why| format!("{how}: {why}")));
                }
                Err(error) => counts.wrong.push(format!("{how}: {error}")),
            }
        }
    }
}

fn killed(db: &Path, number: u64, seed: u64, calls: &str, place: u32) -> Told {
    let place = place.min(65_535);
    let inject = format!("inject={calls}:signal=KILL:when={place}");
    let before = trace::strace(db, &["-e", &format!("trace={calls}"), "-e", &inject]);
    let db = db.to_string_lossy().into_owned();
    let args = ["train".into(), db, number.to_string(), seed.to_string()];
    listen(program(&before, &args).spawn().expect("a child under strace"))
}
