//! Power loss: a child's writes are recorded in order, then the disk is put together as it may look if the
//! power went at some moment. What had been synced is there; of the rest any part, down to single sectors,
//! in any order; a file that was made is there only if its folder was synced.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use crate::ledger::FaultCounts;
use crate::writer::{Said, command, fresh};
use crate::{Wanted, trace};

const SECTOR: usize = 512;
/// Events in one recording: enough for several checkpoints.
const EVENTS: u64 = 900;
/// Moments looked at in one recording.
const PER_RECORDING: u32 = 250;

/// What the child did.
#[derive(Debug, Clone)]
enum Deed {
    Made(String),
    Wrote(String, usize, Vec<u8>),
    Cut(String, usize),
    Synced(String),
    Removed(String),
    Said(String),
}

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    if !trace::there(counts) {
        return;
    }
    let mut done = 0;
    while done < wanted.power_cuts {
        let (folder, db) = fresh();
        let log = folder.path().join("trace");
        let calls = "trace=openat,pwrite64,write,fsync,fdatasync,ftruncate,unlink";
        let words = [
            "strace",
            "-f",
            "-qq",
            "-y",
            "-xx",
            "-s",
            "100000",
            "-e",
            calls,
            "-o",
            &log.to_string_lossy(),
        ]
        .map(str::to_owned);
        let output = command(&words, &db, 0, EVENTS).output().expect("a child under strace");
        let all = Said::of(&String::from_utf8_lossy(&output.stdout));
        if all.acked.len() as u64 != EVENTS {
            counts.wrong.push(format!("power: recording failed: {:?}", all.errors));
            return;
        }
        let home = db.parent().expect("a folder").to_string_lossy().into_owned();
        let text = fs::read_to_string(&log).unwrap_or_default();
        let deeds: Vec<Deed> = text.lines().filter_map(|line| deed(line, &home)).collect();
        let wrote = deeds.iter().filter(|deed| matches!(deed, Deed::Wrote(..))).count();
        let told = deeds.iter().filter(|deed| matches!(deed, Deed::Said(_))).count();
        if (told as u64) < EVENTS || wrote < told {
            counts.wrong.push(format!("power: the trace holds {told} words and {wrote} writes"));
            return;
        }
        let mut moments: Vec<usize> = (0..PER_RECORDING.min(wanted.power_cuts - done))
            .map(|_| random.usize(1..=deeds.len()))
            .collect();
        moments.sort_unstable();
        cut_at(&deeds, &moments, random, counts);
        done += moments.len() as u32;
    }
}

/// A disk of which only what was synced is sure.
#[derive(Debug, Default)]
struct Disk {
    sure: BTreeMap<String, Vec<u8>>,
    /// What was done to each file since it was synced.
    open: BTreeMap<String, Vec<Deed>>,
    /// Files whose names are not sure yet.
    nameless: BTreeSet<String>,
}

impl Disk {
    fn follow(&mut self, deed: &Deed) {
        match deed {
            Deed::Made(file) => {
                self.remove(file);
                if !self.sure.contains_key(file) {
                    self.sure.insert(file.clone(), Vec::new());
                    self.nameless.insert(file.clone());
                }
            }
            Deed::Wrote(file, ..) | Deed::Cut(file, _) | Deed::Removed(file) => {
                self.open.entry(file.clone()).or_default().push(deed.clone());
            }
            // The folder itself: names that came are there to stay, names that went are gone.
            Deed::Synced(file) if file.is_empty() => {
                self.nameless.clear();
                for file in self.open.keys().cloned().collect::<Vec<_>>() {
                    self.remove(&file);
                }
            }
            Deed::Synced(file) => {
                let deeds = self.open.remove(file).unwrap_or_default();
                let content = self.sure.entry(file.clone()).or_default();
                deeds.iter().for_each(|deed| apply(content, deed, &mut |_| true));
            }
            Deed::Said(_) => {}
        }
    }

    /// Lets a removed file be gone.
    fn remove(&mut self, file: &str) {
        let deeds = self.open.get_mut(file);
        let last = deeds
            .as_ref()
            .and_then(|deeds| deeds.iter().rposition(|deed| matches!(deed, Deed::Removed(_))));
        if let (Some(deeds), Some(last)) = (deeds, last) {
            deeds.drain(..=last);
            self.sure.remove(file);
        }
    }

    /// One way in which the disk may look after the power went.
    fn after_a_cut(&self, random: &mut fastrand::Rng) -> BTreeMap<String, Vec<u8>> {
        let mut files = BTreeMap::new();
        for (file, sure) in &self.sure {
            if self.nameless.contains(file) && random.bool() {
                continue;
            }
            let mut content = sure.clone();
            // None, some or all of what was not synced.
            let chance = [0.0, 0.5, 0.9, 1.0][random.usize(..4)];
            let mut there = true;
            for deed in self.open.get(file).into_iter().flatten() {
                if matches!(deed, Deed::Removed(_)) {
                    there &= !random.bool();
                }
                apply(&mut content, deed, &mut |_| random.f64() < chance);
            }
            if there {
                files.insert(file.clone(), content);
            }
        }
        files
    }
}

/// Applies a deed, sector by sector as far as `kept` says.
fn apply(content: &mut Vec<u8>, deed: &Deed, kept: &mut dyn FnMut(usize) -> bool) {
    match deed {
        Deed::Wrote(_, offset, bytes) => {
            let mut from = 0;
            while from < bytes.len() {
                let to = ((offset + from) / SECTOR * SECTOR + SECTOR - offset).min(bytes.len());
                if kept(offset + from) {
                    if content.len() < offset + to {
                        content.resize(offset + to, 0);
                    }
                    content[offset + from..offset + to].copy_from_slice(&bytes[from..to]);
                }
                from = to;
            }
        }
        Deed::Cut(_, length) if kept(*length) => content.resize(*length, 0),
        _ => {}
    }
}

fn cut_at(deeds: &[Deed], moments: &[usize], random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let mut disk = Disk::default();
    let mut acked = BTreeSet::new();
    let mut followed = 0;
    for (i, &moment) in moments.iter().enumerate() {
        for deed in &deeds[followed..moment] {
            disk.follow(deed);
            if let Deed::Said(text) = deed {
                acked.extend(Said::of(text).acked);
            }
        }
        followed = moment;
        let (_folder, db) = fresh();
        let home = db.parent().expect("a folder");
        fs::create_dir_all(home).expect("a folder");
        for (file, content) in disk.after_a_cut(random) {
            fs::write(home.join(file), content).expect("a file");
        }
        counts.power_cuts += 1;
        let how = format!("power cut after {moment} of {} calls", deeds.len());
        counts.look(&db, &acked, i.is_multiple_of(10), &how);
    }
    counts.acknowledged += acked.len() as u64;
}

/// One line of the trace; `None` for what does not touch the database or the outside.
fn deed(line: &str, home: &str) -> Option<Deed> {
    // With -f a line may begin with the number of the thread.
    let line = line.trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ');
    let (call, rest) = line.split_once('(')?;
    let result = rest.rsplit_once(" = ")?.1;
    if result.starts_with('-') {
        return None;
    }
    let of_ours = |path: &str| -> Option<String> {
        let name = path.strip_prefix(home)?.trim_start_matches('/');
        // The shared index is rebuilt after any crash; files of a folder below are not part of the record.
        (!name.ends_with("-shm") && !name.contains('/')).then(|| name.to_owned())
    };
    let file = || {
        let path = rest.split_once('<')?.1.split_once('>')?.0;
        of_ours(&String::from_utf8(unhex(path)?).ok()?)
    };
    match call {
        "openat" if rest.contains("O_CREAT") => {
            let path = String::from_utf8(unhex(rest.split('"').nth(1)?)?).ok()?;
            Some(Deed::Made(of_ours(&path)?))
        }
        "pwrite64" => {
            let bytes = unhex(rest.split('"').nth(1)?)?;
            let offset = rest.rsplit_once(" = ")?.0.trim_end_matches(')').rsplit_once(", ")?.1;
            Some(Deed::Wrote(file()?, offset.trim_end_matches(')').parse().ok()?, bytes))
        }
        "write" if rest.starts_with("1<") => {
            Some(Deed::Said(String::from_utf8(unhex(rest.split('"').nth(1)?)?).ok()?))
        }
        "fsync" | "fdatasync" => Some(Deed::Synced(file()?)),
        "ftruncate" => {
            let length = rest.split_once(", ")?.1.split_once(')')?.0;
            Some(Deed::Cut(file()?, length.parse().ok()?))
        }
        "unlink" => {
            let path = String::from_utf8(unhex(rest.split('"').nth(1)?)?).ok()?;
            Some(Deed::Removed(of_ours(&path)?))
        }
        _ => None,
    }
}

/// `\x68\x69` to bytes.
fn unhex(text: &str) -> Option<Vec<u8>> {
    text.split("\\x").skip(1).map(|two| u8::from_str_radix(two.get(..2)?, 16).ok()).collect()
}
