//! Several programs on one record: each goes on with what it finds cut off, leaves it, or begins a session of its own,
//! and some are killed. Now and then the locks that tell who is in session are deleted.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Child;
use std::time::Duration;

use crate::Wanted;
use crate::ledger::FaultCounts;
use crate::shown::look;
use crate::trainer::listen;
use crate::writer::{fresh, program};

/// Rounds before a new record is begun.
const PER_RECORD: u32 = 8;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let (mut rounds, mut number) = (0, 0);
    while rounds < wanted.two_program_rounds {
        let (_folder, db) = fresh();
        let mut acked = BTreeSet::new();
        for _ in 0..PER_RECORD.min(wanted.two_program_rounds - rounds) {
            rounds += 1;
            counts.two_program_rounds += 1;
            acked.extend(round(&db, rounds, &mut number, random, counts));
            let how = format!("round {rounds} of several programs");
            match look(&db, &acked) {
                Ok(shown) => {
                    counts.lost_tags += shown.lost.len() as u64;
                    counts.hidden_tries += shown.hidden.len() as u64;
                    for (what, tries) in [("lost", shown.lost), ("hidden", shown.hidden)] {
                        if !tries.is_empty() {
                            counts.wrong.push(format!("{how}: {what}: {tries:?}"));
                        }
                    }
                    counts.wrong.extend(shown.wrong.iter().map(|why| format!("{how}: {why}")));
                }
                Err(error) => counts.wrong.push(format!("{how}: {error}")),
            }
        }
        counts.acknowledged += acked.len() as u64;
    }
}

/// Some programs at once; the tries that they acknowledged.
fn round(
    db: &Path,
    round: u32,
    number: &mut u64,
    random: &mut fastrand::Rng,
    counts: &mut FaultCounts,
) -> Vec<u64> {
    let mut running: Vec<Child> = Vec::new();
    for _ in 0..random.u8(2..=4) {
        *number += 1;
        let args = ["train".into(), db.to_string_lossy().into_owned(), number.to_string()];
        let args = [&args[..], &[random.u64(..).to_string()]].concat();
        running.push(program(&[], &args).spawn().expect("a child"));
        std::thread::sleep(Duration::from_micros(random.u64(..40_000)));
        if random.u8(..6) == 0 {
            // Somebody tidies up.
            let _ = std::fs::remove_dir_all(db.with_file_name("hushtally.db-live"));
        }
    }
    for child in &mut running {
        if random.u8(..3) == 0 {
            std::thread::sleep(Duration::from_micros(random.u64(..20_000)));
            let _ = child.kill();
        }
    }
    let mut acked = Vec::new();
    for told in running.into_iter().map(listen) {
        counts.wrong.extend(told.errors.iter().map(|why| format!("round {round}: {why}")));
        acked.extend(told.acked);
    }
    acked
}
