//! On a terminal: a whole session with one key, plain lines, large letters. And programs of the user's own: one that
//! is run at each nudge, one that reads aloud.

use std::ffi::OsStr;
use std::fs;
use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use hushtally::store::{Filter, Store};

use crate::dialogue::talk::{House, Talk};
use crate::needs;
use crate::room::Room;
use crate::speech::loud_segments;

const PATIENCE: Duration = Duration::from_secs(60);

/// A program on a terminal of its own.
struct Terminal {
    child: Child,
    keys: ChildStdin,
    shown: Arc<Mutex<String>>,
}

impl Terminal {
    fn start(room: &Room, house: &House, arguments: &str) -> Result<Self> {
        Terminal::start_under(room, house, "", arguments)
    }

    /// The same, by another program that starts ours.
    fn start_under(room: &Room, house: &House, under: &str, arguments: &str) -> Result<Self> {
        // In place of the shell: Ctrl-C would end some shells, and their end would hide ours.
        let line = format!("exec {under}{} {arguments}", env!("CARGO_BIN_EXE_hushtally"));
        let mut child = room
            .command("script")
            .args(["--quiet", "--flush", "--return", "--command", &line, "/dev/null"])
            .env("XDG_CONFIG_HOME", house.folder.path())
            .env_remove("HUSHTALLY_ON_NUDGE")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()?;
        let keys = child.stdin.take().context("no keys")?;
        let mut out = child.stdout.take().context("no screen")?;
        let shown = Arc::new(Mutex::new(String::new()));
        let screen = Arc::clone(&shown);
        thread::spawn(move || {
            let mut block = [0; 4096];
            while let Ok(count @ 1..) = out.read(&mut block) {
                let text = String::from_utf8_lossy(&block[..count]).into_owned();
                screen.lock().unwrap().push_str(&text);
            }
        });
        Ok(Terminal { child, keys, shown })
    }

    fn shows(&self, text: &str) -> Result<()> {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if self.shown.lock().unwrap().contains(text) {
                return Ok(());
            }
            thread::sleep(Duration::from_millis(20));
        }
        bail!("\"{text}\" does not show:\n{}", self.shown.lock().unwrap())
    }

    fn press(&mut self, key: &[u8]) -> Result<()> {
        self.keys.write_all(key)?;
        Ok(self.keys.flush()?)
    }

    fn double(&mut self) -> Result<()> {
        self.press(b" ")?;
        thread::sleep(Duration::from_millis(220));
        self.press(b" ")
    }

    /// As a terminal shows a key that is held for a second.
    fn hold(&mut self) -> Result<()> {
        self.press(b"\n")?;
        thread::sleep(Duration::from_millis(500));
        for _ in 0..12 {
            self.press(b"\n")?;
            thread::sleep(Duration::from_millis(40));
        }
        Ok(())
    }

    fn ends_well(mut self) -> Result<String> {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Some(status) = self.child.try_wait()? {
                let shown = self.shown.lock().unwrap().clone();
                assert!(status.success(), "{status}: {shown}");
                return Ok(shown);
            }
            thread::sleep(Duration::from_millis(50));
        }
        bail!("it does not end")
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn rest() {
    thread::sleep(Duration::from_millis(1_600));
}

#[test]
fn a_whole_session_with_one_switch() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("script") || !needs::model() {
        return Ok(());
    }
    let house = House::new()?;
    let plan = house.folder.path().join("plans/pepino.toml");
    let arguments = format!("listen {} --quiet --db {}", plan.display(), house.record().display());
    let mut terminal = Terminal::start(&room, &house, &arguments)?;
    terminal.shows("listening on")?;
    rest();
    let first = Instant::now();
    terminal.press(b"\n")?;
    rest();
    let apart_s = first.elapsed().as_secs_f64();
    terminal.press(b" ")?;
    terminal.shows("try 2:")?;
    rest();
    terminal.press(b"\x1b[6~")?;
    terminal.shows("try 3:")?;
    terminal.double()?;
    terminal.shows("took back try 3")?;
    rest();
    terminal.hold()?;
    terminal.shows("Paused.")?;
    rest();
    terminal.hold()?;
    terminal.shows("Going on.")?;
    rest();
    terminal.hold()?;
    rest();
    terminal.double()?;
    let shown = terminal.ends_well()?;
    assert!(shown.contains("2 tries in"), "{shown}");

    let store = Store::open(&house.record())?;
    let rows = store.sessions(&Filter::default())?;
    assert_eq!((rows.len(), rows[0].rewarded, rows[0].missed), (1, 2, 0));
    assert!(store.open_sessions()?.is_empty());
    let reps = store.fold(rows[0].id)?.reps;
    // A press counts from when the key went down, though what it was is known only later.
    let between_s = reps[1].rep.at.since(reps[0].rep.at).as_secs_f64();
    assert!((between_s - apart_s).abs() < 0.15, "{between_s} s in the record, {apart_s} s apart");
    Ok(())
}

/// A house with a program of its owner's, and a setting that names it; and the file that the program writes to.
fn house_with(setting: &str, does: &str) -> Result<(House, PathBuf)> {
    let house = House::new()?;
    let folder = house.folder.path();
    let (written, program, log) =
        (folder.join("written"), folder.join("own.sh"), folder.join("log"));
    fs::write(&written, format!("#!/bin/sh\n{}\n", does.replace("LOG", &log.to_string_lossy())))?;
    fs::set_permissions(&written, fs::Permissions::from_mode(0o700))?;
    // Copied by a child, since a program that any process of ours still has open for writing cannot be run.
    assert!(Command::new("cp").arg("--preserve").args([&written, &program]).status()?.success());
    fs::create_dir(folder.join("hushtally"))?;
    fs::write(folder.join("hushtally/config.toml"), format!("{setting} = {program:?}\n"))?;
    Ok((house, log))
}

/// A session that types `lines`, waits for what it is about, and finishes.
fn session(
    room: &Room,
    house: &House,
    option: &str,
    lines: &[&str],
    wait: impl Fn(&mut Talk) -> Result<String>,
) -> Result<String> {
    let (plan, record) = (house.folder.path().join("plans/pepino.toml"), house.record());
    let arguments: [&OsStr; 6] = [
        "listen".as_ref(),
        plan.as_ref(),
        "--db".as_ref(),
        record.as_ref(),
        "--json".as_ref(),
        option.as_ref(),
    ];
    let mut talk = Talk::start_verb(room, house, None, &arguments)?;
    talk.sees("listening on")?;
    for line in lines {
        talk.types(line)?;
    }
    let waited_for = wait(&mut talk)?;
    talk.types("finish")?;
    talk.ends_well()?;
    Ok(waited_for)
}

fn wait_for_log(log: &Path, wanted: &str) {
    let begun = Instant::now();
    let mut text = String::new();
    while begun.elapsed() < PATIENCE {
        text = fs::read_to_string(log).unwrap_or_default();
        if text.contains(wanted) {
            return;
        }
        thread::sleep(Duration::from_millis(50));
    }
    panic!("{wanted} is not in {text:?}");
}

#[test]
fn a_program_is_run_at_a_nudge_even_when_all_is_quiet_and_is_not_waited_for() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::model() {
        return Ok(());
    }
    let (house, log) = house_with("on_nudge", "echo \"$1\" >> 'LOG'\nexec sleep 30")?;
    let begun = Instant::now();
    // Jackpots that come often are nudged about; any other nudge would do as well.
    let nudge = session(&room, &house, "--quiet", &["yes jackpot"; 4], |talk| {
        Ok(talk.object("nudge")?["nudge"].as_str().context("no name")?.to_owned())
    })?;
    assert!(begun.elapsed() < Duration::from_secs(25), "the program was waited for");
    wait_for_log(&log, &nudge);
    Ok(())
}

#[test]
fn a_voice_of_ones_own_reads_what_is_said() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::model() || !needs::program("espeak-ng") {
        return Ok(());
    }
    let own = "tee -a 'LOG' | espeak-ng --stdin --stdout";
    let (house, log) = house_with("voice_command", own)?;
    let ear = room.record_ear()?;
    session(&room, &house, "--loudspeaker", &["begin"], |talk| {
        talk.hears("Begun.")?;
        thread::sleep(Duration::from_secs(2));
        Ok(String::new())
    })?;
    wait_for_log(&log, "Begun.");
    assert!(!loud_segments(&ear.finish(), 100, 0.5).is_empty(), "nothing sounded");
    Ok(())
}

/// A short session by typed words on a terminal; all that was shown.
fn typed_session(room: &Room, options: &str, no_colour: bool) -> Result<String> {
    let house = House::new()?;
    let plan = house.folder.path().join("plans/pepino.toml");
    let colour = if no_colour { "env NO_COLOR=1 " } else { "env --unset=NO_COLOR " };
    let line =
        format!("listen {} --quiet {options} --db {}", plan.display(), house.record().display());
    let mut terminal = Terminal::start_under(room, &house, colour, &line)?;
    terminal.shows("listening on")?;
    terminal.press(b"yes two\n")?;
    thread::sleep(Duration::from_millis(700));
    terminal.press(b"finish\n")?;
    terminal.ends_well()
}

#[test]
fn plain_lines_have_no_control_sequence_even_on_a_terminal() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("script") || !needs::model() {
        return Ok(());
    }
    let shown = typed_session(&room, "--plain", false)?;
    assert!(shown.contains("try 1: step 2") && shown.contains("1 try in"), "{shown}");
    let control = |c: char| c.is_control() && !"\r\n".contains(c);
    assert!(!shown.contains(control), "{shown:?}");
    Ok(())
}

#[test]
fn large_letters_leave_the_terminal_as_it_was_and_the_lines_on_it() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("script") || !needs::model() {
        return Ok(());
    }
    for no_colour in [false, true] {
        let shown = typed_session(&room, "--big", no_colour)?;
        // The first row of YES TWO.
        assert!(shown.contains("█   █ █████  ████       █████ █   █  ███"), "{shown}");
        assert_eq!(shown.contains("97;40m"), !no_colour);
        let (_, after) = shown.rsplit_once("\x1b[?25h\x1b[?1049l").context("it is not left")?;
        assert!(after.contains("try 1: step 2") && after.contains("1 try in"), "{after}");
        assert!(!after.contains('\x1b'), "{after:?}");
    }
    Ok(())
}

#[test]
fn a_switch_answers_the_sound_check_and_control_c_ends_it_with_nothing_kept() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("script") || !needs::model() {
        return Ok(());
    }
    let house = House::new()?;
    let mut terminal = Terminal::start(&room, &house, "soundcheck")?;
    terminal.shows("Now say yes")?;
    terminal.press(b" ")?;
    terminal.shows("a soft sound on default")?;
    terminal.press(b"\n")?;
    terminal.shows("Do only you hear this?")?;
    // Held: no, it is a loudspeaker.
    terminal.hold()?;
    terminal.shows("Say each one after me.")?;
    terminal.press(b"\x03")?;
    terminal.ends_well()?;
    assert!(!house.folder.path().join("hushtally").exists());
    Ok(())
}
