//! Models that are damaged or foreign, and a recogniser that ends: the program and a session outlive all of it.

use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use anyhow::{Context, Result};
use tempfile::TempDir;

use crate::end_to_end::{complaint, hushtally};
use crate::needs;
use crate::speech::{Tape, Voice};

const PLAN: &str = include_str!("../plans/looks.toml");
/// Hands on what it is asked to the real recogniser, and dies by a signal over some of the segments: those whose
/// numbers, counted from 1, stand in DIES_OVER; all of them where "all" stands there.
const FRAIL: &str = r#"#!/usr/bin/env python3
import os, pathlib, signal, subprocess, sys
real = subprocess.Popen([os.environ["REAL"]], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
count = pathlib.Path(os.environ["COUNT"])
for line in sys.stdin.buffer:
    if line.startswith(b'{"Finish"'):
        number = int(count.read_text()) + 1
        count.write_text(str(number))
        if os.environ["DIES_OVER"] == "all" or str(number) in os.environ["DIES_OVER"].split():
            os.kill(os.getpid(), signal.SIGSEGV)
    real.stdin.write(line)
    real.stdin.flush()
    if not line.startswith((b'{"Feed"', b'{"Stop"')):
        sys.stdout.buffer.write(real.stdout.readline())
        sys.stdout.buffer.flush()
"#;

struct Desk {
    folder: TempDir,
    model: PathBuf,
}

impl Desk {
    /// With a plan and a sound; `None` where something is missing.
    fn new() -> Result<Option<Self>> {
        let Some(data) = needs::data_folder().filter(|_| Voice::USUAL.is_here()) else {
            return Ok(None);
        };
        let desk = Desk { folder: tempfile::tempdir()?, model: data.join("models/en-us-small") };
        fs::write(desk.path("plan.toml"), PLAN)?;
        let mut tape = Tape::new();
        for _ in 0..4 {
            tape.say(1.5, Voice::USUAL, "yes")?;
        }
        tape.quiet(1.5).write(&desk.path("said.wav"))?;
        Ok(Some(desk))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The model once more under this name, with one of its files changed, or taken out.
    fn changed(
        &self,
        name: &str,
        file: &str,
        to: impl Fn(Vec<u8>) -> Option<Vec<u8>>,
    ) -> Result<PathBuf> {
        let folder = self.path(name);
        if folder.exists() {
            fs::remove_dir_all(&folder)?;
        }
        copy_as_links(&self.model, &folder)?;
        fs::remove_file(folder.join(file))?;
        if let Some(bytes) = to(fs::read(self.model.join(file))?) {
            fs::write(folder.join(file), bytes)?;
        }
        if name != "en-us-small" && file != "uuid" {
            // Else it would say that it is the known one, and be found out by its sums.
            fs::remove_file(folder.join("uuid"))?;
        }
        Ok(folder)
    }

    fn replay(&self, program: &Path, model: &Path) -> Command {
        let mut command = hushtally(&[]);
        if program != Path::new("") {
            command = Command::new(program);
        }
        command.args(["replay", "--json", "--model"]).arg(model);
        command.arg(self.path("said.wav")).arg(self.path("plan.toml"));
        command.env("HUSHTALLY_HOME", self.path("home"));
        command
    }
}

fn copy_as_links(from: &Path, to: &Path) -> Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        let goal = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy_as_links(&entry.path(), &goal)?;
        } else {
            symlink(entry.path(), goal)?;
        }
    }
    Ok(())
}

fn kinds(output: &Output) -> Vec<String> {
    let lines = String::from_utf8_lossy(&output.stdout).into_owned();
    let kind = |line: &str| {
        let line: serde_json::Value = serde_json::from_str(line).ok()?;
        Some(line["kind"].as_str()?.to_owned())
    };
    lines.lines().filter_map(kind).collect()
}

fn count(output: &Output, kind: &str) -> usize {
    kinds(output).iter().filter(|found| *found == kind).count()
}

#[test]
fn a_damaged_model_ends_in_words_whatever_is_damaged() -> Result<()> {
    let Some(desk) = Desk::new()? else { return Ok(()) };
    let half = |mut bytes: Vec<u8>| {
        bytes.truncate(bytes.len() / 2);
        Some(bytes)
    };
    let text = |_| Some(b"hello\n".repeat(100));
    type Change<'a> = &'a dyn Fn(Vec<u8>) -> Option<Vec<u8>>;
    let cases: [(&str, Change); 8] = [
        ("am/final.mdl", &half),
        ("graph/HCLr.fst", &half),
        ("graph/Gr.fst", &half),
        ("graph/disambig_tid.int", &text),
        ("ivector/final.ie", &half),
        ("ivector/final.dubm", &|_| None),
        ("conf/mfcc.conf", &text),
        ("conf/model.conf", &|_| Some(Vec::new())),
    ];
    for (file, change) in cases {
        let model = desk.changed("mine", file, change)?;
        let output = desk.replay(Path::new(""), &model).output()?;
        let complaint = complaint(&output);
        assert_eq!(output.status.code(), Some(3), "{file}: {:?} {complaint}", output.status);
        assert!(complaint.contains("hushtally: "), "{file}: {complaint}");
        assert!(complaint.contains("models/fetch"), "{file}: {complaint}");
        assert!(!complaint.contains("panicked"), "{file}: {complaint}");
    }
    Ok(())
}

#[test]
fn the_known_model_is_found_out_by_its_sums_also_when_it_would_run() -> Result<()> {
    let Some(desk) = Desk::new()? else { return Ok(()) };
    // A few weights of the network: it loads, and hears a little worse.
    let weights = |mut bytes: Vec<u8>| {
        let middle = bytes.len() / 2;
        bytes[middle..middle + 8].fill(0);
        Some(bytes)
    };
    let damaged = desk.changed("en-us-small", "am/final.mdl", weights)?;
    let output = desk.replay(Path::new(""), &damaged).output()?;
    assert_eq!(output.status.code(), Some(3), "{}", complaint(&output));
    assert!(complaint(&output).contains("am/final.mdl is not what it was made with"));
    // Whole, it is heard with, and the sums are made once.
    fs::remove_file(damaged.join("am/final.mdl"))?;
    symlink(desk.model.join("am/final.mdl"), damaged.join("am/final.mdl"))?;
    let seen = desk.path("home/models-seen");
    assert!(!seen.exists());
    for _ in 0..2 {
        let output = desk.replay(Path::new(""), &damaged).output()?;
        assert!(output.status.success(), "{}", complaint(&output));
        assert_eq!(count(&output, "rep"), 4);
        assert_eq!(fs::read_to_string(&seen)?.lines().count(), 1);
        assert_eq!(fs::metadata(&seen)?.permissions().mode() & 0o777, 0o600);
    }
    Ok(())
}

#[test]
fn what_was_taught_noise_is_loaded_beside_the_published_model_and_may_be_damaged_or_missing()
-> Result<()> {
    let Some(desk) = Desk::new()? else { return Ok(()) };
    let published = desk.path("en-us-small");
    copy_as_links(&desk.model, &published)?;
    let whole_with = |damaged: bool| -> Result<usize> {
        let output = desk.replay(Path::new(""), &published).output()?;
        assert!(output.status.success(), "{}", complaint(&output));
        assert_eq!(count(&output, "rep"), 4);
        let seen = fs::read_to_string(desk.path("home/models-seen"))?.lines().count();
        assert_eq!(complaint(&output).contains("in noise less is heard"), damaged);
        Ok(seen)
    };
    assert_eq!(whole_with(false)?, 1, "alone");
    // By its name it says that it is the known one, and its weights are others.
    copy_as_links(&desk.model, &desk.path("en-us-taught"))?;
    assert_eq!(whole_with(true)?, 1, "damaged");
    let taught = desk.model.with_file_name("en-us-taught");
    if !needs::thing("taught-model", taught.is_dir()) {
        return Ok(());
    }
    fs::remove_dir_all(desk.path("en-us-taught"))?;
    copy_as_links(&taught, &desk.path("en-us-taught"))?;
    assert_eq!(whole_with(false)?, 2, "both are known to be whole");
    Ok(())
}

/// A copy of the program with a recogniser beside it that dies over these segments.
fn frail(desk: &Desk, dies_over: &str) -> Result<Command> {
    let bin = desk.path("bin");
    fs::create_dir_all(&bin)?;
    fs::copy(env!("CARGO_BIN_EXE_hushtally"), bin.join("hushtally"))?;
    fs::write(bin.join("hushtally-recogniser"), FRAIL)?;
    fs::set_permissions(bin.join("hushtally-recogniser"), fs::Permissions::from_mode(0o755))?;
    fs::write(desk.path("count"), "0")?;
    let mut command = desk.replay(&bin.join("hushtally"), &desk.model);
    command
        .env("REAL", env!("CARGO_BIN_EXE_hushtally-recogniser"))
        .env("COUNT", desk.path("count"))
        .env("DIES_OVER", dies_over);
    Ok(command)
}

#[test]
fn a_recogniser_that_ends_over_a_segment_costs_that_segment_and_it_is_reported() -> Result<()> {
    if !needs::program("python3") {
        return Ok(());
    }
    let Some(desk) = Desk::new()? else { return Ok(()) };
    let whole = frail(&desk, "none")?.output()?;
    assert_eq!((count(&whole, "rep"), count(&whole, "gap")), (4, 0), "{}", complaint(&whole));
    let output = frail(&desk, "3")?.output()?;
    assert!(output.status.success(), "{}", complaint(&output));
    assert_eq!((count(&output, "rep"), count(&output, "gap")), (3, 1), "{}", complaint(&output));
    assert!(complaint(&output).contains("was started again"), "{}", complaint(&output));
    Ok(())
}

#[test]
fn a_recogniser_that_ends_over_everything_is_given_up_with_words() -> Result<()> {
    if !needs::program("python3") {
        return Ok(());
    }
    let Some(desk) = Desk::new()? else { return Ok(()) };
    let output = frail(&desk, "all")?.output()?;
    assert_eq!(output.status.code(), Some(3), "{}", complaint(&output));
    assert!(complaint(&output).contains("nothing more was heard"), "{}", complaint(&output));
    assert!(count(&output, "gap") >= 3, "{:?}", kinds(&output));
    Ok(())
}

#[test]
fn what_does_not_hear_needs_no_hearing_library() -> Result<()> {
    let Some(desk) = Desk::new()? else { return Ok(()) };
    let program = PathBuf::from(env!("CARGO_BIN_EXE_hushtally"));
    // The loader goes by these names, so a program that has none of a library does without it.
    let needed = Command::new("readelf").arg("-d").arg(&program).output().context("readelf")?;
    let needed = String::from_utf8_lossy(&needed.stdout).into_owned();
    assert!(needed.contains("libc.so") && !needed.contains("vosk"), "{needed}");
    // A library that the loader finds first and cannot load; and the same verbs beside no recogniser at all.
    let lib = desk.path("lib");
    fs::create_dir(&lib)?;
    fs::write(lib.join("libvosk.so"), "not a library")?;
    let alone = desk.path("alone");
    fs::create_dir(&alone)?;
    fs::copy(&program, alone.join("hushtally"))?;
    let record = desk.path("record.db");
    drop(hushtally::store::Store::open(&record)?);
    for program in [&program, &alone.join("hushtally")] {
        for verb in
            [&["--version"][..], &["sessions", "--db"], &["animals", "--db"], &["verify", "--db"]]
        {
            let mut command = Command::new(program);
            command.args(verb).env("LD_LIBRARY_PATH", &lib);
            if verb.len() > 1 {
                command.arg(&record);
            }
            let output = command.output()?;
            assert!(output.status.success(), "{verb:?}: {}", complaint(&output));
        }
        let output = desk.replay(program, &desk.model).env("LD_LIBRARY_PATH", &lib).output()?;
        assert_eq!(output.status.code(), Some(3), "{}", complaint(&output));
        let says = if program.starts_with(&alone) { "there is no" } else { "libvosk.so" };
        assert!(complaint(&output).contains(says), "{}", complaint(&output));
    }
    Ok(())
}
