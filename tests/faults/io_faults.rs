//! The disk reports errors: one call, several in a row, or all from some moment on.

use std::collections::BTreeSet;

use crate::ledger::FaultCounts;
use crate::writer::{command, fresh, listen};
use crate::{Wanted, trace};

const ERRORS: [&str; 5] = ["ENOSPC", "EIO", "EDQUOT", "EROFS", "EFBIG"];
/// Faults before a new database is begun.
const PER_DATABASE: u32 = 20;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    if !trace::there(counts) {
        return;
    }
    let mut done = 0;
    while done < wanted.io_faults {
        let (_folder, db) = fresh();
        let mut acked = BTreeSet::new();
        for _ in 0..PER_DATABASE.min(wanted.io_faults - done) {
            let (call, most) = random.choice(trace::CALLS).copied().unwrap_or(("pwrite64", 100));
            let error = random.choice(ERRORS).unwrap_or("EIO");
            let from = random.u32(1..=most);
            let when = match random.u8(..3) {
                0 => format!("{from}"),
                1 => format!("{from}..{}", from + random.u32(1..10)),
                _ => format!("{from}+"),
            };
            let inject = format!("inject={call}:error={error}:when={when}");
            let before = trace::strace(&db, &["-e", &format!("trace={call}"), "-e", &inject]);
            let next = acked.last().map_or(0, |last| last + 1);
            let said =
                listen(command(&before, &db, next, 60).spawn().expect("a child under strace"));
            done += 1;
            counts.io_faults += 1;
            counts.acknowledged += said.acked.len() as u64;
            acked.extend(&said.acked);
            for error in said.errors.iter().filter(|error| !has_advice(error)) {
                counts.wrong.push(format!("{inject}: no advice in {error:?}"));
            }
            counts.look(&db, &acked, random.u8(..8) == 0, &inject);
        }
    }
}

/// Every refusal says what to do.
fn has_advice(error: &str) -> bool {
    let kinds =
        ["DiskFull", "ReadOnly", "Disk", "Busy", "CannotOpen", "Files", "Damaged", "Upgrade"];
    let advice = ["check", "free some space", "choose", "close it", "restore", "cannot"];
    kinds.iter().any(|kind| error.starts_with(kind))
        && advice.iter().any(|word| error.contains(word))
}
