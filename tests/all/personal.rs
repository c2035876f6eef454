//! Sounds that somebody taught, and clicks and whistles as markers, through the program.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

use crate::needs;
use crate::room::{RATE, Room, write_wav};
use crate::speech::{Tape, Voice, hiss};

/// A voice of another language, which reads English words in its own way.
const ACCENT: [Voice; 3] =
    [Voice::Espeak("fi+f2", 130), Voice::Espeak("fi+f2", 150), Voice::Espeak("fi+f2", 165)];

/// A folder of its own with a plan, a record and what is taught.
struct Desk(tempfile::TempDir);

impl Desk {
    fn new(words: &str) -> Result<Self> {
        let desk = Desk(tempfile::tempdir()?);
        let plan = format!(
            "animal = \"Pepino\"\nspecies = \"cockatiel\"\nbehaviour = \"rests a foot\"\n\
             [[step]]\nname = \"looks\"\n[words]\n{words}\n"
        );
        fs::write(desk.plan(), plan)?;
        Ok(desk)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn plan(&self) -> PathBuf {
        self.path("plan.toml")
    }

    /// Runs the program with this desk's record; whether it went well, its output, its errors.
    fn run(&self, arguments: &[&str]) -> Result<(bool, String, String)> {
        let output = Command::new(env!("CARGO_BIN_EXE_hushtally"))
            .args(arguments)
            .env("HUSHTALLY_DB", self.path("record.db"))
            .env_remove("HUSHTALLY_PERSON")
            .env_remove("HUSHTALLY_NO_LEARNT")
            .output()?;
        let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
        Ok((output.status.success(), text(output.stdout), text(output.stderr)))
    }

    fn score(&self, folder: &Path) -> Result<Value> {
        let plan = self.plan();
        let (well, out, err) = self.run(&[
            "words",
            "score",
            &folder.to_string_lossy(),
            "--plan",
            &plan.to_string_lossy(),
            "--json",
        ])?;
        ensure!(well, "{err}");
        serde_json::from_str(&out).context(out)
    }

    /// The kinds and onsets (in seconds) of what a replay hears.
    fn replay(&self, tape: &[i16]) -> Result<Vec<(String, f64)>> {
        let wav = self.path("tape.wav");
        write_wav(&wav, tape)?;
        let (well, out, err) = self.run(&[
            "replay",
            &wav.to_string_lossy(),
            &self.plan().to_string_lossy(),
            "--json",
        ])?;
        ensure!(well, "{err}");
        out.lines()
            .map(|line| {
                let event: Value = serde_json::from_str(line)?;
                let kind = event["kind"].as_str().unwrap_or_default().to_owned();
                Ok((kind, event["at_s"].as_f64().context("no time")?))
            })
            .collect()
    }
}

/// A folder for `words score` or `words learn --from`; talk stands in it with no words.
fn folder(path: PathBuf, said: &[(Voice, &str, &str)]) -> Result<PathBuf> {
    fs::create_dir_all(&path)?;
    let mut truth = "file,start_s,end_s,words\n".to_owned();
    for (index, (voice, text, word)) in said.iter().enumerate() {
        let mut tape = Tape::new();
        tape.say(1.0, *voice, text)?;
        tape.quiet(0.8);
        let name = format!("{index:02}.wav");
        tape.write(&path.join(&name))?;
        let said = &tape.said[0];
        truth += &format!("{name},{:.4},{:.4},{word}\n", said.onset_s, said.end_s);
    }
    fs::write(path.join("truth.csv"), truth)?;
    Ok(path)
}

#[test]
fn what_was_taught_is_heard_though_the_model_has_no_such_word() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let desk = Desk::new("marker = \"brrk\"\nmiss = \"lalu\"")?;
    let taught: Vec<(Voice, &str, &str)> = [120, 135, 145, 155, 170]
        .into_iter()
        .flat_map(|speed| {
            let voice = Voice::Espeak("fi+f2", speed);
            [(voice, "brrr", "brrk"), (voice, "la la", "lalu")]
        })
        .chain(
            ["the bucket leaks, we need another", "they moved the fence again last week"]
                .map(|sentence| (ACCENT[1], sentence, "")),
        )
        .collect();
    let taught = folder(desk.path("taught"), &taught)?;
    let asked: Vec<(Voice, &str, &str)> = ACCENT
        .into_iter()
        .flat_map(|voice| {
            [
                (voice, "brrr", "brrk"),
                (voice, "la la", "lalu"),
                (voice, "could you close the gate", ""),
            ]
        })
        .collect();
    let asked = folder(desk.path("asked"), &asked)?;
    let plan = desk.plan().to_string_lossy().into_owned();

    let error = desk.score(&asked).unwrap_err().to_string();
    assert!(error.contains("does not know the word \"brrk\""), "{error}");
    let from = taught.to_string_lossy().into_owned();
    let (well, out, err) = desk.run(&["words", "learn", &plan, "--from", &from])?;
    assert!(well && out.contains("brrk: 5") && out.contains("lalu: 5"), "{out}{err}");
    let figures = desk.score(&asked)?;
    assert_eq!((&figures["recall"], &figures["false_tags"]), (&1.0.into(), &0.into()), "{figures}");
    assert!(figures["onset_error_ms"]["p95"].as_f64().context("no onsets")? < 30.0, "{figures}");

    let kept: Vec<PathBuf> =
        fs::read_dir(desk.path("learnt"))?.map(|entry| Ok(entry?.path())).collect::<Result<_>>()?;
    assert_eq!(kept.len(), 1, "{kept:?}");
    let (well, out, err) = desk.run(&["words", "learn", &plan, "--forget"])?;
    assert!(well && out.contains("forgotten") && !kept[0].exists(), "{out}{err}");
    assert!(desk.score(&asked).is_err(), "nothing is known of it any more");
    Ok(())
}

#[test]
fn two_people_are_kept_apart_and_a_wrong_word_is_told() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let desk = Desk::new("marker = \"yes\"")?;
    let plan = desk.plan().to_string_lossy().into_owned();
    let said = [(ACCENT[0], "yes", "yes"), (ACCENT[1], "yes", "yes"), (ACCENT[2], "yes", "yes")];
    let from = folder(desk.path("taught"), &said)?.to_string_lossy().into_owned();
    for person in ["Ada", "Ben"] {
        let (well, _, err) =
            desk.run(&["words", "learn", &plan, "--from", &from, "--person", person])?;
        assert!(well, "{err}");
    }
    let kept = fs::read_dir(desk.path("learnt"))?.count();
    assert_eq!(kept, 2);
    for file in fs::read_dir(desk.path("learnt"))? {
        let name = file?.file_name().to_string_lossy().to_lowercase();
        assert!(!name.contains("ada") && !name.contains("ben"), "{name}");
    }
    let (well, _, err) = desk.run(&["words", "learn", &plan, "--word", "gazebo"])?;
    assert!(!well && err.contains("\"gazebo\" is neither a tag nor a command"), "{err}");
    let (well, _, err) = desk.run(&["words", "learn", &plan, "--from", "/no/such/folder"])?;
    assert!(!well && err.contains("truth.csv cannot be read"), "{err}");
    Ok(())
}

/// Soft noise with bursts of damped tones: onset in seconds, frequency, decay in ms, level.
fn bursts(seconds: f64, bursts: &[(f64, f64, f64, f64)]) -> Vec<i16> {
    let rate = f64::from(RATE);
    (0..(seconds * rate) as usize)
        .zip(hiss(1))
        .map(|(sample, noise)| {
            let mut value = 4.0 * noise;
            for (onset, hz, decay_ms, level) in bursts {
                let late = sample as f64 / rate - onset;
                if late >= 0.0 {
                    let ring = (-late * 1_000.0 / decay_ms).exp();
                    value += level * ring * (late * hz * std::f64::consts::TAU).sin();
                }
            }
            value as i16
        })
        .collect()
}

#[test]
fn a_clicker_marks_only_when_the_plan_asks_and_to_the_millisecond() -> Result<()> {
    if !needs::model() {
        return Ok(());
    }
    // Two clicks of a box, a bowl that rings, and one click of the tongue, which this plan does not ask for.
    let tape = bursts(
        7.0,
        &[
            (1.5, 3_600.0, 2.0, 9_000.0),
            (1.62, 3_400.0, 2.0, 6_000.0),
            (3.0, 2_900.0, 1.5, 12_000.0),
            (3.09, 3_100.0, 1.5, 9_000.0),
            (4.2, 2_500.0, 180.0, 9_000.0),
            (4.45, 2_500.0, 180.0, 7_000.0),
            (5.8, 1_400.0, 4.0, 9_000.0),
        ],
    );
    let desk = Desk::new("marker_sounds = [\"clicker\"]")?;
    let reps: Vec<f64> = desk
        .replay(&tape)?
        .into_iter()
        .filter(|(kind, _)| kind == "rep")
        .map(|(_, at)| at)
        .collect();
    assert_eq!(reps.len(), 2, "{reps:?}");
    assert!((reps[0] - 1.5).abs() < 0.005 && (reps[1] - 3.0).abs() < 0.005, "{reps:?}");

    let desk = Desk::new("marker = \"yes\"")?;
    let heard = desk.replay(&tape)?;
    assert!(heard.iter().all(|(kind, _)| kind != "rep"), "{heard:?}");

    let desk = Desk::new("marker_sounds = [\"drum\"]")?;
    let error = desk.replay(&tape).unwrap_err().to_string();
    assert!(error.contains("drum") && error.contains("line 7"), "{error}");
    Ok(())
}

/// Lines of a running program, waited for one by one.
struct Lines(std::sync::mpsc::Receiver<String>);

impl Lines {
    fn of(output: impl std::io::Read + Send + 'static) -> Self {
        let (tell, told) = std::sync::mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        Lines(told)
    }

    fn until(&self, part: &str) -> Result<()> {
        let mut seen = Vec::new();
        while let Ok(line) = self.0.recv_timeout(Duration::from_secs(30)) {
            if line.contains(part) {
                return Ok(());
            }
            seen.push(line);
        }
        bail!("no line with {part:?}, but {seen:?}")
    }
}

#[test]
fn a_lesson_is_held_by_voice_and_used_afterwards() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let desk = Desk::new("marker = \"brrk\"")?;
    let wav = desk.path("said.wav");
    let mut program = room
        .command(env!("CARGO_BIN_EXE_hushtally"))
        .args(["words", "learn", &desk.plan().to_string_lossy(), "--word", "brrk", "--times", "3"])
        .arg("--quiet")
        .env("HUSHTALLY_DB", desk.path("record.db"))
        .env_remove("HUSHTALLY_PERSON")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()?;
    let lines = Lines::of(program.stdout.take().context("no output")?);
    lines.until("Say: brrk.")?;
    let mut tape = Tape::new();
    for voice in ACCENT {
        tape.say(0.8, voice, "brrr")?;
    }
    tape.quiet(0.6);
    tape.write(&wav)?;
    room.speak(&wav)?;
    lines.until("Now talk about anything")?;
    let mut tape = Tape::new();
    for sentence in ["the bucket leaks", "we need more hay", "they moved the fence"] {
        tape.say(0.8, ACCENT[1], sentence)?;
    }
    tape.quiet(0.6);
    tape.write(&wav)?;
    room.speak(&wav)?;
    // Silence ends the talk.
    lines.until("Learnt: 1 word.")?;
    assert!(program.wait()?.success());

    let said = [(Voice::Espeak("fi+f2", 142), "brrr", "brrk")];
    let asked = folder(desk.path("asked"), &said)?;
    let figures = desk.score(&asked)?;
    assert_eq!(figures["recall"], 1.0, "{figures}");
    Ok(())
}
