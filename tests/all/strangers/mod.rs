//! What a reader that goes away, another user of the computer, a file that is none or a name full of control characters
//! can do, with every verb.

mod clocks;
mod files;
mod neighbours;
mod outputs;
mod server;
mod signals;
mod signs;

use std::cell::Cell;
use std::fs;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use tempfile::TempDir;

use crate::needs;

/// Longer than anything here should take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// A home of its own with a plan, a record and files to give to the verbs. All that stands in them is invented.
struct Stage {
    folder: TempDir,
    /// What every name in them ends with.
    tail: &'static str,
    made: Cell<u32>,
    /// Takes a port, so that no review can.
    taken: TcpListener,
}

impl Stage {
    fn new(tail: &'static str) -> Result<Self> {
        let folder = tempfile::tempdir()?;
        for name in ["home", "tmp", "work"] {
            fs::create_dir(folder.path().join(name))?;
        }
        let stage =
            Stage { folder, tail, made: Cell::new(0), taken: TcpListener::bind("127.0.0.1:0")? };
        let quoted = |name: &str| {
            let escaped = format!("{name}{tail}");
            let escaped = escaped.chars().map(|c| format!("\\U{:08X}", u32::from(c)));
            format!("\"{}\"", escaped.collect::<String>())
        };
        let plan = format!(
            "animal = {}\nspecies = {}\nbehaviour = {}\n[[step]]\nname = {}\n[[step]]\nname = {}\n",
            quoted("Pepino"),
            quoted("cockatiel"),
            quoted("rests a foot"),
            quoted("looks"),
            quoted("touches")
        );
        fs::write(stage.work("plan.toml"), plan)?;
        let mut notes =
            "animal,species,behaviour,began,at_s,outcome,person,place,note,weight\n".to_owned();
        let animal = format!("\"Pepino{tail}\",\"cockatiel{tail}\"");
        let names = format!("{animal},\"rests a foot{tail}\"");
        let who = format!("\"Quillfeather{tail}\",\"Nook{tail}\"");
        for day in 2..6 {
            for rep in 0..6 {
                let (at, outcome) = (3 + rep * 4, if rep == 3 { "missed" } else { "low" });
                notes += &format!("{names},2026-01-0{day} 15:04:05,{at},{outcome},{who},,\n");
            }
        }
        notes += &format!("{animal},,2026-01-04 10:00:00,,,,,\"a blunt nail{tail}\",92 g\n");
        fs::write(stage.work("notes.csv"), notes)?;
        let note = serde_json::json!({ "at_s": 4, "kind": "note", "text": format!("calm{tail}") });
        let tags = format!(
            "{{\"at_s\":1,\"kind\":\"rep\"}}\n{note}\n{{\"at_s\":6,\"kind\":\"miss\"}}\n{{\"at_s\":9,\"kind\":\"finished\"}}\n"
        );
        fs::write(stage.work("tags.jsonl"), tags)?;
        let took = stage.run(&["import", "notes.csv"])?;
        if !took.status.success() {
            bail!("{}", String::from_utf8_lossy(&took.stderr));
        }
        Ok(stage)
    }

    fn work(&self, name: &str) -> PathBuf {
        self.folder.path().join("work").join(name)
    }

    fn record(&self) -> PathBuf {
        self.folder.path().join("home/data/record.db")
    }

    fn animal(&self) -> String {
        format!("Pepino{}", self.tail)
    }

    /// A name that was not there before.
    fn fresh(&self, ending: &str) -> String {
        self.made.set(self.made.get() + 1);
        format!("made-{}.{ending}", self.made.get())
    }

    /// `hushtally`, where there is no sound.
    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_hushtally"));
        self.settle(&mut command);
        command
    }

    fn settle(&self, command: &mut Command) {
        let at = |name: &str| self.folder.path().join(name);
        command
            .env("HOME", at("home"))
            .env("TMPDIR", at("tmp"))
            .env("HUSHTALLY_HOME", at("home/data"))
            .env("HUSHTALLY_DB", self.record())
            .env("XDG_CONFIG_HOME", at("home/config"))
            .env("XDG_RUNTIME_DIR", at("tmp"))
            .env("ALSA_CONFIG_PATH", "/dev/null")
            .env("PULSE_SERVER", "unix:/nowhere")
            .env_remove("XDG_DATA_HOME")
            .env_remove("RUST_LOG")
            .current_dir(at("work"))
            .stdin(Stdio::null());
        if let Some(data) = needs::data_folder() {
            command.env("HUSHTALLY_MODEL", data.join("models/en-us-small"));
        }
    }

    fn run(&self, arguments: &[&str]) -> Result<Output> {
        ended(self.command().args(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)
    }

    /// A way to call every verb; those that would go on for ever where there is sound end here at once.
    fn every_verb(&self) -> Vec<Vec<String>> {
        self.every_verb_about(&self.animal())
    }

    /// The same, with the animal called so.
    fn every_verb_about(&self, animal: &str) -> Vec<Vec<String>> {
        let port = self.taken.local_addr().map_or_else(|_| "1".into(), |at| at.port().to_string());
        let (backup, report) = (self.fresh("db"), self.fresh("html"));
        let (exported, demo, plan) = (self.fresh("csv"), self.fresh("db"), self.fresh("toml"));
        let lines: [&[&str]; 54] = [
            &["listen", "plan.toml", "--quiet"],
            &["listen", "plan.toml", "--quiet", "--json"],
            &["soundcheck", "--json"],
            &["replay", "tags.jsonl", "plan.toml"],
            &["replay", "tags.jsonl", "plan.toml", "--json"],
            &["replay", "none.wav", "plan.toml"],
            &["recap", "--quiet"],
            &["recap", "--json"],
            &["review", "align", "none.mp4", "latest"],
            &["review", "settle", "--quiet"],
            &["review", "--no-open", "--port", &port],
            &["report", "latest", "-o", &report],
            &["words", "check", "plan.toml"],
            &["words", "learn", "plan.toml", "--forget"],
            &["words", "score", "."],
            &["nudges", "--quiet", "--species", "cockatiel"],
            &["nudges", "--quiet", "--json"],
            &["plan", "next", animal],
            &["plan", "next", animal, "--why"],
            &["plan", "next", animal, "--json"],
            &["plan", "new", &plan, "--animal", animal, "--species", "owl", "--behaviour", animal],
            &["plan", "split", "plan.toml", "1", "--show"],
            &["plan", "merge", "plan.toml", "1", "--show", "--json"],
            &["plan", "change", "plan.toml", "step one is too big, split it"],
            &["plan", "change", "plan.toml", animal],
            &["animals"],
            &["animals", "--json"],
            &["sessions"],
            &["sessions", "--calendar"],
            &["sessions", "--json"],
            &["session", "last"],
            &["session", "last", "--json"],
            &["progress", animal],
            &["progress", animal, "--why"],
            &["progress", animal, "--json"],
            &["body", animal],
            &["body", animal, "note", animal],
            &["body", animal, "--json"],
            &["capture", animal, animal],
            &["capture", animal],
            &["probe", animal, "own", "came"],
            &["handover", animal],
            &["handover", &format!("nobody {animal}")],
            &["export", "reps"],
            &["export", "journal", "--format", "jsonl"],
            &["export", "sessions", "--out", &exported],
            &["export", "reps", "--columns"],
            &["import", "notes.csv"],
            &["demo-history", &demo],
            &["devices"],
            &["backup", &backup],
            &["restore", &backup],
            &["verify"],
            &["forget", "person", animal, "--yes"],
        ];
        let more: [&[&str]; 4] =
            [&["completions", "bash"], &["man"], &[animal], &["replay", animal, animal]];
        let owned = |line: &&[&str]| line.iter().map(|word| (*word).to_owned()).collect();
        lines.iter().chain(&more).map(owned).collect()
    }
}

/// Waits for the end of a program whose output is read meanwhile.
fn ended(child: Child) -> Result<Output> {
    let id = child.id();
    let (tell, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || tell.send(child.wait_with_output()));
    match told.recv_timeout(PATIENCE) {
        Ok(output) => Ok(output?),
        Err(_) => {
            Command::new("kill").args(["-9", &id.to_string()]).status()?;
            bail!("it does not end")
        }
    }
}

/// Waits until something is so.
fn until(what: &str, mut so: impl FnMut() -> bool) -> Result<()> {
    let begun = Instant::now();
    while !so() {
        if begun.elapsed() > PATIENCE {
            bail!("in vain: {what}");
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The rights of a file.
fn mode(path: &Path) -> Result<u32> {
    use std::os::unix::fs::PermissionsExt;
    let meta = fs::metadata(path).with_context(|| path.display().to_string())?;
    Ok(meta.permissions().mode() & 0o777)
}

#[test]
fn no_verb_is_left_out() -> Result<()> {
    let stage = Stage::new("")?;
    let help = text(&stage.run(&["--help"])?.stdout);
    let verbs = help.split("Commands:").nth(1).context("no verbs")?;
    let verbs: Vec<&str> = verbs
        .lines()
        .skip(1)
        .take_while(|line| line.starts_with("  "))
        .filter(|line| !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|verb| *verb != "help")
        .collect();
    assert!(verbs.len() > 20, "{verbs:?}");
    let called = stage.every_verb();
    for verb in verbs {
        assert!(called.iter().any(|line| line[0] == verb), "{verb} is not among them");
    }
    Ok(())
}
