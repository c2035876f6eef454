//! A disk that is really full or read-only: a limit on the size of files, and, where a user may mount one, a small file
//! system. The session goes on when there is room again.

use std::collections::BTreeSet;
use std::process::{Command, Stdio};

use crate::Wanted;
use crate::ledger::FaultCounts;
use crate::needs;
use crate::writer::{Said, command, fresh, listen};

pub(crate) fn run(_wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    for _ in 0..3 {
        let (_folder, db) = fresh();
        // In blocks of 512 or 1024 bytes, by shell; without the signal, so that the write fails instead.
        let limit = random.u32(1_200..3_000);
        let shell = format!("trap '' XFSZ; ulimit -f {limit}; exec \"$0\" \"$@\"");
        let before = ["sh".to_owned(), "-c".to_owned(), shell];
        let said = listen(command(&before, &db, 0, 400).spawn().expect("a shell"));
        full(&db, &said, "file size limit", counts);
    }
    let mountable = Command::new("unshare")
        .args(["-Urm", "sh", "-c", "mount -t tmpfs -o size=64k none /mnt"])
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    if !needs::thing("mounts", mountable) {
        counts.skipped.push("a small file system: mounting one is not allowed here".into());
        return;
    }
    read_only(counts);
    let (folder, _) = fresh();
    let small = folder.path().join("small");
    let kept = folder.path().join("kept");
    for path in [&small, &kept] {
        std::fs::create_dir(path).expect("a folder");
    }
    let db = small.join("hushtally.db");
    // Full because of a file of somebody else; once that is gone, the same tags are written again.
    let shell = format!(
        "mount -t tmpfs -o size=1m none {small} && head -c 700k /dev/zero > {small}/other && \
         \"$0\" \"$@\"; rm {small}/other; shift 3; \"$0\" child {db} 0 60; cp {small}/hushtally.db* {kept}",
        small = small.display(),
        kept = kept.display(),
        db = db.display(),
    );
    let before = ["unshare", "-Urm", "sh", "-c", &shell].map(str::to_owned);
    let said = listen(command(&before, &db, 0, 400).spawn().expect("a shell"));
    full(&kept.join("hushtally.db"), &said, "small file system", counts);
}

/// A file system mounted read-only: views work, writing is refused with words, nothing is lost.
fn read_only(counts: &mut FaultCounts) {
    for left_open in [false, true] {
        let (_folder, db) = fresh();
        let home = db.parent().expect("a folder").to_path_buf();
        let count = if left_open { 30 } else { 60 };
        if left_open {
            // Killed, so that the log is still there.
            let words = ["sh", "-c", "\"$0\" \"$@\" & sleep 2; kill -9 $!"].map(str::to_owned);
            let endless = listen(command(&words, &db, 0, 1_000_000).spawn().expect("a shell"));
            counts.acknowledged += endless.acked.len() as u64;
        } else {
            listen(command(&[], &db, 0, count).spawn().expect("a child"));
        }
        let shell = format!(
            "mount --bind {home} {home} && mount -o remount,ro,bind {home} && \
             \"$0\" child view {db}; \"$0\" \"$@\"",
            home = home.display(),
            db = db.display(),
        );
        let before = ["unshare", "-Urm", "sh", "-c", &shell].map(str::to_owned);
        let said = listen(command(&before, &db, 0, 1).spawn().expect("a shell"));
        let refused =
            said.errors.len() == 3 && said.errors.iter().all(|e| e.starts_with("ReadOnly"));
        if !refused || said.acked.len() != 1 || said.acked[0] == 0 {
            counts.wrong.push(format!("read-only, log left: {left_open}: {said:?}"));
        }
        counts.read_only_disks += 1;
    }
}

fn full(db: &std::path::Path, said: &Said, how: &str, counts: &mut FaultCounts) {
    let acked: BTreeSet<u64> = said.acked.iter().copied().collect();
    counts.full_disks += 1;
    counts.acknowledged += acked.len() as u64;
    if said.errors.is_empty() || acked.is_empty() {
        counts.wrong.push(format!("{how}: never full, or full from the start: {:?}", said.errors));
    }
    for error in
        said.errors.iter().filter(|e| !e.starts_with("DiskFull") && !e.starts_with("Disk "))
    {
        counts.wrong.push(format!("{how}: not told as a full disk: {error}"));
    }
    counts.look(db, &acked, true, how);
}
