//! `hushtally listen` as a child process, and what it prints.

use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, ExitStatus, Stdio};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use hushtally::plan::{Plan, Role};
use serde_json::Value;
use tempfile::TempDir;

use crate::room::Room;
use crate::speech::{Tape, Voice, words};

/// Much longer than anything should take, since a test machine may be busy.
const PATIENCE: Duration = Duration::from_secs(60);

pub(crate) const PLAN: &str = r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
[[step]]
name = "looks at the file"
[[step]]
name = "steps towards it"
[[step]]
name = "touches it"
[limits]
planned_minutes = 10.0
planned_reps = 100
rate_floor_per_min = 0.1
[words]
marker_begins = true
"#;

/// A plan and a record of its own.
pub(crate) struct Stage {
    pub(crate) folder: TempDir,
    pub(crate) plan: Plan,
}

impl Stage {
    pub(crate) fn new() -> Result<Self> {
        let folder = tempfile::tempdir()?;
        fs::write(folder.path().join("plan.toml"), PLAN)?;
        Ok(Stage { folder, plan: Plan::parse("plan.toml", PLAN)? })
    }

    /// The same, where a session begins by "begin" alone.
    pub(crate) fn begun_by_word() -> Result<Self> {
        let stage = Stage::new()?;
        fs::write(stage.plan_file(), PLAN.replace("marker_begins = true\n", ""))?;
        Ok(stage)
    }

    /// Adds these lines to the plan.
    pub(crate) fn change(&mut self, lines: &str) -> Result<()> {
        let text = format!("{PLAN}{lines}");
        fs::write(self.plan_file(), &text)?;
        self.plan = Plan::parse("plan.toml", &text)?;
        Ok(())
    }

    pub(crate) fn plan_file(&self) -> PathBuf {
        self.folder.path().join("plan.toml")
    }

    pub(crate) fn record(&self) -> PathBuf {
        self.folder.path().join("record").join("record.db")
    }

    pub(crate) fn words(&self, roles: &[Role]) -> String {
        words(&self.plan, roles)
    }

    /// Speaks each of these after `quiet_s` seconds of near-silence, and a second of it at the end.
    pub(crate) fn speak(&self, room: &Room, quiet_s: f64, said: &[&[Role]]) -> Result<Tape> {
        let mut tape = Tape::new();
        for roles in said {
            tape.say(quiet_s, Voice::USUAL, &self.words(roles))?;
        }
        tape.quiet(1.0);
        let file = self.folder.path().join("said.wav");
        tape.write(&file)?;
        room.speak(&file)?;
        Ok(tape)
    }

    pub(crate) fn listen(&self, room: &Room, arguments: &[&str]) -> Result<Listener> {
        Listener::start(room, &self.plan_file(), &self.record(), arguments)
    }
}

enum Told {
    Line(Value),
    Remark(String),
    Over,
}

/// A running `hushtally listen --json`.
pub(crate) struct Listener {
    pub(crate) child: Child,
    told: Receiver<Told>,
    /// Everything that it has printed so far.
    pub(crate) lines: Vec<Value>,
    pub(crate) remarks: Vec<String>,
}

impl Listener {
    /// Starts it and returns when it listens.
    fn start(room: &Room, plan: &Path, record: &Path, arguments: &[&str]) -> Result<Self> {
        let mut child = room
            .command(env!("CARGO_BIN_EXE_hushtally"))
            .arg("listen")
            .arg(plan)
            .arg("--db")
            .arg(record)
            .arg("--json")
            .args(arguments)
            .env_remove("HUSHTALLY_MIC")
            .env_remove("HUSHTALLY_EAR")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()?;
        let (tell, told) = mpsc::channel();
        let out = child.stdout.take().context("no output")?;
        let err = child.stderr.take().context("no errors")?;
        let remarks = tell.clone();
        thread::spawn(move || {
            for line in lines_of(err) {
                remarks.send(Told::Remark(line)).ok();
            }
        });
        thread::spawn(move || {
            for line in lines_of(out) {
                let value = serde_json::from_str(&line)
                    .map_or_else(|_| Told::Remark(format!("no JSON: {line}")), Told::Line);
                tell.send(value).ok();
            }
            tell.send(Told::Over).ok();
        });
        let mut listener = Listener { child, told, lines: Vec::new(), remarks: Vec::new() };
        listener.until("it listens", |listener| listener.remarked("listening on"))?;
        Ok(listener)
    }

    pub(crate) fn remarked(&self, words: &str) -> bool {
        self.remarks.iter().any(|remark| remark.contains(words))
    }

    /// Lines of one kind.
    pub(crate) fn of(&self, kind: &str) -> Vec<&Value> {
        self.lines.iter().filter(|line| line["kind"] == kind).collect()
    }

    /// Reads on until `done`, or fails with everything it printed.
    pub(crate) fn until(&mut self, what: &str, done: impl Fn(&Self) -> bool) -> Result<()> {
        let begun = Instant::now();
        while !done(self) {
            match self.told.recv_timeout(PATIENCE.saturating_sub(begun.elapsed())) {
                Ok(Told::Line(line)) => self.lines.push(line),
                Ok(Told::Remark(remark)) => self.remarks.push(remark),
                Ok(Told::Over) | Err(RecvTimeoutError::Disconnected) if done(self) => return Ok(()),
                Ok(Told::Over) | Err(_) => bail!("waited in vain until {what}:\n{}", self.all()),
            }
        }
        Ok(())
    }

    /// Reads what comes within this time.
    pub(crate) fn for_a_while(&mut self, span: Duration) {
        let until = Instant::now() + span;
        while let Ok(told) = self.told.recv_timeout(until.saturating_duration_since(Instant::now()))
        {
            match told {
                Told::Line(line) => self.lines.push(line),
                Told::Remark(remark) => self.remarks.push(remark),
                Told::Over => return,
            }
        }
    }

    pub(crate) fn all(&self) -> String {
        let lines = self.lines.iter().map(Value::to_string);
        lines.chain(self.remarks.iter().cloned()).collect::<Vec<_>>().join("\n")
    }

    /// Waits until it ends by itself.
    pub(crate) fn end(&mut self) -> Result<ExitStatus> {
        let begun = Instant::now();
        loop {
            self.for_a_while(Duration::from_millis(50));
            if let Some(status) = self.child.try_wait()? {
                self.for_a_while(Duration::from_millis(300));
                return Ok(status);
            }
            if begun.elapsed() > PATIENCE {
                bail!("it does not end:\n{}", self.all());
            }
        }
    }

    /// `kill -9`.
    pub(crate) fn kill(mut self) -> Result<Self> {
        self.child.kill()?;
        self.child.wait()?;
        self.for_a_while(Duration::from_millis(300));
        Ok(self)
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn lines_of(stream: impl Read) -> impl Iterator<Item = String> {
    BufReader::new(stream).lines().map_while(Result::ok)
}
