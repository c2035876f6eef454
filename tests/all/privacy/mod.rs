//! Nobody listens in: no network socket, no sound on disk, nothing that others may read, no names in messages.
//!
//! A whole session is spoken in the [room](crate::room) while `strace` writes down every socket, every
//! connection and every file that is opened, of the program and of all that it starts.

mod calls;

use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use tempfile::TempDir;

use self::calls::{Calls, Opened};
use crate::needs;
use crate::room::Room;

const PLAN: &str = include_str!("../../plans/looks.toml");
/// Said to the program, and to be found in no message of its own.
const PERSON: &str = "Quillfeather";
const PLACE: &str = "Nook-by-the-window";
const PATIENCE: Duration = Duration::from_secs(90);

/// A home of its own for the program, so that everything it leaves behind is seen.
struct Home {
    folder: TempDir,
    model: OsString,
}

impl Home {
    fn new() -> Result<Option<Self>> {
        let Some(data) = needs::data_folder() else { return Ok(None) };
        let folder = tempfile::tempdir()?;
        for name in ["home", "tmp", "work"] {
            fs::create_dir(folder.path().join(name))?;
        }
        fs::write(folder.path().join("work/plan.toml"), PLAN)?;
        Ok(Some(Home { folder, model: data.join("models/en-us-small").into() }))
    }

    fn at(&self, below: &str) -> PathBuf {
        self.folder.path().join(below)
    }

    /// `hushtally` under `strace`, with a mask that would give every right to everybody.
    fn traced(&self, room: &Room, arguments: &[&str]) -> Command {
        let mut command = room.command("sh");
        command
            .args(["-c", "umask 000; exec \"$@\"", "sh"])
            .args(["strace", "-f", "-qq", "--seccomp-bpf", "-s", "300"])
            .arg("-o")
            .arg(self.at("calls"))
            .args(["-e", "trace=socket,connect,bind,open,openat,openat2,creat"])
            .arg(env!("CARGO_BIN_EXE_hushtally"))
            .args(arguments)
            .env("HOME", self.at("home"))
            .env("TMPDIR", self.at("tmp"))
            .env("HUSHTALLY_HOME", self.at("home/data"))
            .env("HUSHTALLY_MODEL", &self.model)
            .env("RUST_LOG", "trace")
            .env_remove("XDG_DATA_HOME")
            .env_remove("HUSHTALLY_MIC")
            .env_remove("HUSHTALLY_EAR")
            .current_dir(self.at("work"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped());
        command
    }

    /// Words as a sound file at the level of ordinary speech.
    fn speech(&self, text: &str) -> Result<PathBuf> {
        let file = self.at("said.wav");
        let status = Command::new("espeak-ng")
            .args(["-v", "en-us", "-s", "140", "-w"])
            .arg(&file)
            .arg(text)
            .stdin(Stdio::null())
            .status()?;
        if !status.success() {
            bail!("espeak-ng: {status}");
        }
        Ok(file)
    }

    /// Every file and folder that the program left, but for its plan.
    fn left_behind(&self) -> Result<BTreeSet<PathBuf>> {
        let mut found = BTreeSet::new();
        let mut folders = vec![self.at("home"), self.at("tmp"), self.at("work")];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(folder)? {
                let path = entry?.path();
                if path.is_dir() {
                    folders.push(path.clone());
                }
                found.insert(path);
            }
        }
        found.remove(&self.at("work/plan.toml"));
        Ok(found)
    }
}

/// What a session left: the calls it made, its lines and its messages.
struct Spoken {
    home: Home,
    calls: Calls,
    lines: String,
    messages: String,
}

/// A session by voice: a rep, then the end. Read-out and nudges are played. `None` where something is missing.
fn spoken_session() -> Result<Option<Spoken>> {
    if !["strace", "espeak-ng", "sh"].into_iter().all(needs::program) {
        return Ok(None);
    }
    let (Some(room), Some(home)) = (Room::start()?, Home::new()?) else { return Ok(None) };
    let messages = home.at("messages");
    let mut program = home
        .traced(&room, &["listen", "plan.toml", "--json", "--person", PERSON, "--place", PLACE])
        .stderr(fs::File::create(&messages)?)
        .spawn()?;
    let out = program.stdout.take().context("no output")?;
    let (tell, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        for line in BufReader::new(out).lines().map_while(Result::ok) {
            tell.send(line).ok();
        }
    });
    let begun = Instant::now();
    let said = |text: &str| fs::read_to_string(&messages).is_ok_and(|all| all.contains(text));
    while !said("listening on") {
        if begun.elapsed() > PATIENCE || program.try_wait()?.is_some() {
            program.kill().ok();
            bail!("it does not listen: {}", fs::read_to_string(&messages)?);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let mut lines = Vec::new();
    for (words, kind) in
        [("juniper, begin", "began"), ("yes", "rep"), ("juniper, finish", "finished")]
    {
        // A synthetic voice is not always understood the first time on a busy machine.
        for attempt in 1.. {
            room.speak(&home.speech(words)?)?;
            let until = Instant::now() + Duration::from_secs(8);
            while let Ok(line) = told.recv_timeout(until.saturating_duration_since(Instant::now()))
            {
                lines.push(line);
                if lines.last().is_some_and(|l| l.contains(&format!("\"kind\":\"{kind}\""))) {
                    break;
                }
            }
            if lines.iter().any(|line| line.contains(&format!("\"kind\":\"{kind}\""))) {
                break;
            }
            if attempt == 4 {
                program.kill().ok();
                bail!("{words:?} was not heard: {lines:#?}");
            }
        }
    }
    let begun = Instant::now();
    while program.try_wait()?.is_none() {
        if begun.elapsed() > PATIENCE {
            program.kill().ok();
            bail!("it does not end");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    lines.extend(told.try_iter());
    let calls = Calls::read(&fs::read_to_string(home.at("calls"))?, &home.at("work"));
    let messages = fs::read_to_string(&messages)?;
    Ok(Some(Spoken { home, calls, lines: lines.join("\n"), messages }))
}

#[test]
fn a_session_opens_no_network_socket_and_leaves_nothing_but_its_private_record() -> Result<()> {
    let Some(spoken) = spoken_session()? else { return Ok(()) };
    let Spoken { home, calls, lines, messages } = spoken;

    // The trace is whole: the way to the sound server is in it, and the record.
    assert!(calls.local_connections > 0, "the trace does not even show the sound server");
    assert!(calls.opened.iter().any(|opened| opened.path.ends_with("record.db")));
    println!("\nsockets_opened\t{}", calls.network.len());
    assert_eq!(calls.network, Vec::<String>::new(), "network sockets");

    // Written to: the record, devices and the kernel's own files, and nothing else.
    let strangers = strangers(&calls);
    assert!(strangers.is_empty(), "opened for writing: {strangers:#?}");

    // Left behind: the record in a folder of its own, for nobody else's eyes.
    let left = home.left_behind()?;
    assert!(left.contains(&home.at("home/data/record.db")), "{left:?}");
    for path in left {
        let meta = fs::metadata(&path)?;
        let rights = meta.permissions().mode() & 0o777;
        if path.starts_with(home.at("home/data")) {
            let wanted = if meta.is_dir() { 0o700 } else { 0o600 };
            assert_eq!(rights, wanted, "{} has rights {rights:o}", path.display());
        }
        let name = path.to_string_lossy().into_owned();
        assert!(meta.is_dir() || is_record(&path), "left behind: {name}");
        if meta.is_file() {
            // An hour of silence or of sound would be far bigger; this was half a minute.
            assert!(meta.len() < 400_000, "{name} is big: {}", meta.len());
        }
    }

    // Names are in the record alone.
    let record = fs::read(home.at("home/data/record.db"))?;
    assert!(contains(&record, PERSON.as_bytes()) && contains(&record, PLACE.as_bytes()));
    for name in [PERSON, PLACE] {
        assert!(!messages.contains(name), "{name} stands in the messages:\n{messages}");
    }
    assert!(lines.contains("\"kind\":\"rep\""));
    Ok(())
}

#[test]
fn a_replay_opens_no_socket_at_all() -> Result<()> {
    if !["strace", "espeak-ng", "sh"].into_iter().all(needs::program) {
        return Ok(());
    }
    let (Some(room), Some(home)) = (Room::start()?, Home::new()?) else { return Ok(()) };
    let sound = home.speech("yes. yes.")?;
    let arguments = ["replay", &sound.to_string_lossy(), "plan.toml", "--record", "--json"];
    let output = home.traced(&room, &arguments).stderr(Stdio::piped()).output()?;
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let calls = Calls::read(&fs::read_to_string(home.at("calls"))?, &home.at("work"));
    assert!(calls.opened.iter().any(|opened| opened.path.ends_with("said.wav")));
    assert_eq!(calls.network, Vec::<String>::new());
    assert_eq!(calls.local_connections, 0, "a replay asks nobody anything");
    let strangers = strangers(&calls);
    assert!(strangers.is_empty(), "opened for writing: {strangers:#?}");
    Ok(())
}

/// What was opened for writing besides the record, devices and the kernel's own files.
fn strangers(calls: &Calls) -> Vec<&Opened> {
    calls
        .opened
        .iter()
        .filter(|opened| opened.to_write && !is_of_the_system(opened))
        .filter(|opened| !is_record(&opened.path) && !is_being_written(&opened.path))
        .collect()
}

/// What has another name until it is whole (`src/program/new_file.rs`); it may not be left behind.
fn is_being_written(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(".hushtally-"))
}

/// The database, its write-ahead log, and the locks of sessions under way; which models were found whole.
fn is_record(path: &Path) -> bool {
    let ours = |part: &str| part.starts_with("record.db") || part.starts_with("models-seen");
    path.iter().any(|part| ours(&part.to_string_lossy()))
}

/// Devices and the kernel's files; the sound server's key, which its own library touches; the model's settings,
/// which the recogniser wants in a file.
fn is_of_the_system(opened: &Opened) -> bool {
    let settings = ["model.conf", "mfcc.conf"];
    ["/dev/", "/proc/", "/sys/"].iter().any(|folder| opened.path.starts_with(folder))
        || opened.path.ends_with("cookie")
        || settings.iter().any(|name| opened.path.ends_with(Path::new("conf").join(name)))
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}
