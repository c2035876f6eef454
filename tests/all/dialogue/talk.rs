//! A person who talks with `hushtally listen`.

use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command as Program, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use hushtally::plan::{Command, Role, Words};
use serde_json::Value;
use tempfile::TempDir;

use crate::needs;
use crate::room::{RATE, Room, write_wav};
use crate::speech::{Tape, Voice, hiss};

/// Much longer than anything should take, since a test machine may be busy.
const PATIENCE: Duration = Duration::from_secs(90);

/// An invented scenario: neither animal exists.
const PLANS: [(&str, &str); 2] = [
    (
        "brindle.toml",
        r#"
animal = "Brindle"
species = "small donkey"
behaviour = "lifts a hoof"
[[step]]
name = "shifts weight"
"#,
    ),
    (
        "pepino.toml",
        r#"
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
planned_minutes = 30.0
planned_reps = 20
rate_floor_per_min = 0.1
"#,
    ),
];

/// Without an answer for this long, a person says it again.
const AGAIN: Duration = Duration::from_secs(15);
/// But not more often than this.
const TRIES: usize = 3;

/// Plans, settings and a record of its own.
pub(crate) struct House {
    pub(crate) folder: TempDir,
}

impl House {
    pub(crate) fn new() -> Result<Self> {
        let folder = tempfile::tempdir()?;
        let plans = folder.path().join("plans");
        fs::create_dir(&plans)?;
        for (name, text) in PLANS {
            fs::write(plans.join(name), text)?;
        }
        Ok(House { folder })
    }

    /// One without any plan.
    pub(crate) fn empty() -> Result<Self> {
        Ok(House { folder: tempfile::tempdir()? })
    }

    pub(crate) fn record(&self) -> PathBuf {
        self.folder.path().join("record.db")
    }
}

/// A command by the default words, so that changed words change no test. Of several phrases the last.
pub(crate) fn called(command: Command) -> String {
    let words = Words::english();
    let last = |role| words.of(&role).last().cloned().unwrap_or_default();
    format!("{} {}", last(Role::Attention), last(Role::Command(command)))
}

/// A fan in the room.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Noise {
    pub(crate) below_speech_db: f64,
}

/// A running program, and what it said.
pub(crate) struct Talk<'a> {
    room: &'a Room,
    house: &'a House,
    child: Child,
    told: Receiver<Value>,
    pub(crate) lines: Vec<Value>,
    /// Lines before this one were waited for already.
    seen: usize,
    noise: Option<Child>,
    /// What was said in all, and what had to be said again.
    pub(crate) spoken: usize,
    pub(crate) again: Vec<String>,
    /// What had to be typed instead.
    pub(crate) typed: Vec<String>,
    /// Whether the person lets the voice finish before speaking.
    pub(crate) polite: bool,
    /// When the latest text will have been read to its end, about.
    silent_at: Instant,
}

impl<'a> Talk<'a> {
    pub(crate) fn start(room: &'a Room, house: &'a House, noise: Option<Noise>) -> Result<Self> {
        let plans = house.folder.path().join("plans");
        let arguments: [&OsStr; 6] = [
            "listen".as_ref(),
            "--json".as_ref(),
            "--plans".as_ref(),
            plans.as_ref(),
            "--db".as_ref(),
            &house.record().into_os_string(),
        ];
        Talk::start_verb(room, house, noise, &arguments)
    }

    /// The same with another verb.
    pub(crate) fn start_verb(
        room: &'a Room,
        house: &'a House,
        noise: Option<Noise>,
        arguments: &[&OsStr],
    ) -> Result<Self> {
        let mut program = room.command(env!("CARGO_BIN_EXE_hushtally"));
        program.args(arguments).env("XDG_CONFIG_HOME", house.folder.path());
        Talk::with(room, house, noise, program)
    }

    /// `hushtally listen` by this path, and nothing else said: everything is in a home folder of the house's own.
    pub(crate) fn at_home(room: &'a Room, house: &'a House, program: &Path) -> Result<Self> {
        let mut program = room.command(program);
        program.args(["listen", "--json"]).env("HOME", house.folder.path());
        for name in ["HUSHTALLY_HOME", "HUSHTALLY_DB", "HUSHTALLY_PLANS", "HUSHTALLY_PERSON"] {
            program.env_remove(name);
        }
        for name in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"] {
            program.env_remove(name);
        }
        let data = needs::data_folder().context("no speech model")?;
        program.env("HUSHTALLY_MODEL", data.join("models/en-us-small"));
        Talk::with(room, house, None, program)
    }

    fn with(
        room: &'a Room,
        house: &'a House,
        noise: Option<Noise>,
        mut program: Program,
    ) -> Result<Self> {
        let noise = noise.map(|noise| begin_noise(room, house, noise)).transpose()?;
        let mut child = program
            .arg("--type")
            .env_remove("HUSHTALLY_MIC")
            .env_remove("HUSHTALLY_EAR")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()?;
        let (tell, told) = mpsc::channel();
        let out = child.stdout.take().context("no output")?;
        let err = child.stderr.take().context("no errors")?;
        let remarks = tell.clone();
        thread::spawn(move || {
            for line in BufReader::new(err).lines().map_while(Result::ok) {
                remarks.send(Value::from(line)).ok();
            }
        });
        thread::spawn(move || {
            for line in BufReader::new(out).lines().map_while(Result::ok) {
                tell.send(serde_json::from_str(&line).unwrap_or(Value::from(line))).ok();
            }
        });
        let silent_at = Instant::now();
        let lines = Vec::new();
        Ok(Talk {
            room,
            house,
            child,
            told,
            lines,
            seen: 0,
            noise,
            spoken: 0,
            again: Vec::new(),
            typed: Vec::new(),
            polite: true,
            silent_at,
        })
    }

    /// Speaks, in a still moment.
    pub(crate) fn speak(&self, words: &str) -> Result<()> {
        if self.polite {
            thread::sleep(self.silent_at.saturating_duration_since(Instant::now()));
        }
        let mut tape = Tape::new();
        tape.say(0.6, Voice::USUAL, words)?.quiet(0.6);
        let file = self.house.folder.path().join("said.wav");
        tape.write(&file)?;
        self.room.speak(&file)
    }

    /// Says something, and waits for an answer that contains `answer`.
    pub(crate) fn says(&mut self, words: &str, answer: &str) -> Result<()> {
        self.asks(words, |line| {
            line["text"].as_str().is_some_and(|said| said.contains(answer))
                && line["kind"] == "said"
        })
    }

    /// Says something, and waits for an event of this kind.
    pub(crate) fn does(&mut self, words: &str, kind: &str) -> Result<()> {
        self.asks(words, |line| line["kind"] == kind)
    }

    fn asks(&mut self, words: &str, fits: impl Fn(&Value) -> bool) -> Result<()> {
        self.spoken += 1;
        for _ in 1..TRIES {
            self.speak(words)?;
            if self.until(AGAIN, &fits).is_ok() {
                return Ok(());
            }
            self.again.push(words.to_owned());
        }
        if self.noise.is_some() {
            // Where a word does not get through the noise, there is still the keyboard.
            self.typed.push(words.to_owned());
            self.types(words)?;
        } else {
            self.speak(words)?;
        }
        self.until(PATIENCE, &fits).with_context(|| format!("after \"{words}\""))
    }

    pub(crate) fn types(&mut self, line: &str) -> Result<()> {
        let stdin = self.child.stdin.as_mut().context("no input")?;
        Ok(writeln!(stdin, "{line}")?)
    }

    /// Waits for something said that contains `text`.
    pub(crate) fn hears(&mut self, text: &str) -> Result<()> {
        self.until(PATIENCE, |line| {
            line["kind"] == "said" && line["text"].as_str().is_some_and(|said| said.contains(text))
        })
        .with_context(|| format!("waiting for \"{text}\""))
    }

    /// Waits for the next text that is said, and gives it.
    pub(crate) fn next_said(&mut self) -> Result<String> {
        self.until(PATIENCE, |line| line["kind"] == "said")?;
        Ok(self.last_said().context("nothing said")?.to_owned())
    }

    /// Waits for a line on the screen that contains `text`.
    pub(crate) fn sees(&mut self, text: &str) -> Result<()> {
        self.until(PATIENCE, |line| line.as_str().is_some_and(|shown| shown.contains(text)))
            .with_context(|| format!("waiting to see \"{text}\""))
    }

    /// Waits for a line of this kind, and gives it.
    pub(crate) fn object(&mut self, kind: &str) -> Result<Value> {
        self.until(PATIENCE, |line| line["kind"] == kind)?;
        Ok(self.lines[self.seen - 1].clone())
    }

    /// Waits for the end, and gives its exit code.
    pub(crate) fn exit_code(mut self) -> Result<Option<i32>> {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(status) = self.child.try_wait()? {
                return Ok(status.code());
            }
            thread::sleep(Duration::from_millis(50));
        }
        bail!("it does not end")
    }

    fn until(&mut self, patience: Duration, fits: impl Fn(&Value) -> bool) -> Result<()> {
        let begun = Instant::now();
        loop {
            while self.seen < self.lines.len() {
                self.seen += 1;
                let line = &self.lines[self.seen - 1];
                if let Some(text) = line["text"].as_str() {
                    // Some 160 words a minute, and the pauses between sentences.
                    let words = text.split_whitespace().count();
                    let lasts = Duration::from_millis(900 + 430 * words as u64);
                    self.silent_at = self.silent_at.max(Instant::now()) + lasts;
                }
                if fits(line) {
                    return Ok(());
                }
            }
            match self.told.recv_timeout(patience.saturating_sub(begun.elapsed())) {
                Ok(line) => self.lines.push(line),
                Err(_) => {
                    let all: Vec<String> = self.lines.iter().map(Value::to_string).collect();
                    bail!("it did not come; all that came:\n{}", all.join("\n"))
                }
            }
        }
    }

    /// The latest text said.
    pub(crate) fn last_said(&self) -> Option<&str> {
        self.lines[..self.seen].iter().rev().find_map(|line| line["text"].as_str())
    }

    /// Finishes the session and closes down by typed lines; `recap` is in what is said of the session.
    pub(crate) fn types_the_end(mut self, recap: &str) -> Result<()> {
        self.types("finish")?;
        self.hears(recap)?;
        self.types("close down")?;
        self.hears("Goodbye.")?;
        self.ends_well()
    }

    pub(crate) fn ends_well(mut self) -> Result<()> {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(status) = self.child.try_wait()? {
                assert!(status.success(), "{status}: {:?}", self.lines);
                return Ok(());
            }
            thread::sleep(Duration::from_millis(50));
        }
        bail!("it does not end")
    }
}

impl Drop for Talk<'_> {
    fn drop(&mut self) {
        for child in std::iter::once(&mut self.child).chain(&mut self.noise) {
            child.kill().ok();
            child.wait().ok();
        }
    }
}

/// Plays the noise of a fan into the microphone, as far below the level of speech as asked for: white noise through a
/// low-pass of one pole at 300 Hz.
fn begin_noise(room: &Room, house: &House, noise: Noise) -> Result<Child> {
    let speech = Voice::USUAL.say(&called(Command::Begin))?;
    let power = |samples: &[f64]| samples.iter().map(|s| s * s).sum::<f64>() / samples.len() as f64;
    let speech: Vec<f64> = speech.into_iter().map(f64::from).collect();
    let pole = (-std::f64::consts::TAU * 300.0 / f64::from(RATE)).exp();
    let through_pole = |state: &mut f64, white: f64| {
        *state = pole * *state + (1.0 - pole) * white;
        Some(*state)
    };
    let fan: Vec<f64> = hiss(7).scan(0.0, through_pole).take(RATE as usize * 600).collect();
    let gain = (power(&speech) / power(&fan)).sqrt() * 10f64.powf(-noise.below_speech_db / 20.0);
    let samples: Vec<i16> = fan.into_iter().map(|sample| (sample * gain) as i16).collect();
    let file = house.folder.path().join("noise.wav");
    write_wav(&file, &samples)?;
    Ok(room.command("paplay").arg("--device=mic").arg(&file).stdin(Stdio::null()).spawn()?)
}
