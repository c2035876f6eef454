//! `strace`: faults and kills at chosen system calls, and a record of what was written when.

use std::path::Path;
use std::process::{Command, Stdio};

use crate::ledger::FaultCounts;
use crate::needs;

/// System calls on the database's files, with about how often a child makes them.
pub(crate) const CALLS: &[(&str, u32)] = &[
    ("pwrite64", 400),
    // Builds of SQLite differ in which of the two they use.
    ("fsync,fdatasync", 80),
    ("ftruncate", 3),
    ("openat", 8),
    ("unlink", 2),
    ("close", 6),
    ("pread64", 40),
];

/// Whether children can be traced here; said once when not.
pub(crate) fn there(counts: &mut FaultCounts) -> bool {
    let works = Command::new("strace")
        .args(["-qq", "-o", "/dev/null", "-e", "trace=none", "true"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    let works = needs::thing("tracing", works);
    let said = "points inside system calls: strace is missing or may not trace here";
    if !works && !counts.skipped.iter().any(|known| known == said) {
        counts.skipped.push(said.into());
    }
    works
}

/// The words before a child's own that trace its calls on the database's files only.
pub(crate) fn strace(db: &Path, more: &[&str]) -> Vec<String> {
    let mut words: Vec<String> =
        ["strace", "-f", "-qq", "-o", "/dev/null"].map(str::to_owned).to_vec();
    for ending in ["", "-wal", "-shm", "-journal"] {
        words.extend(["-P".to_owned(), format!("{}{ending}", db.display())]);
    }
    words.extend(more.iter().map(|&word| word.to_owned()));
    words
}
