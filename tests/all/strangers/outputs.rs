//! Readers that go away, and disks that are full, where output goes.

use std::fs::{self, File, OpenOptions};
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result};

use super::{Stage, ended, text, until};
use crate::dialogue::talk::House;
use crate::needs;
use crate::room::Room;

/// What an output leads to.
#[derive(Debug, Clone, Copy)]
enum Leads {
    /// To a pipe whose reader is gone.
    Gone,
    /// To a full disk.
    Full,
    /// Nowhere: it is closed.
    Closed,
    /// To somebody who reads.
    Read,
}

const ALL: [Leads; 4] = [Leads::Gone, Leads::Full, Leads::Closed, Leads::Read];

/// How often, and of how many runs: `HUSHTALLY_OUTPUT_RUNS` asks for more.
#[test]
fn a_sound_system_whose_settings_are_corrupted_is_told_with_words() -> Result<()> {
    let stage = Stage::new("")?;
    fs::write(stage.work("corrupted.conf"), "x\n{{{{\n}")?;
    let verbs: [(&[&str], i32); 3] = [
        // It says that there are none.
        (&["devices"], 0),
        (&["soundcheck", "--json"], 4),
        (&["listen", "plan.toml", "--quiet"], 4),
    ];
    for (words, code) in verbs {
        let mut command = stage.command();
        command.args(words).env("ALSA_CONFIG_PATH", stage.work("corrupted.conf"));
        let output = ended(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)?;
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{words:?}: {said}");
        assert!(!said.contains("panicked"), "{words:?}: {said}");
    }
    Ok(())
}

#[test]
fn no_verb_panics_where_nobody_reads() -> Result<()> {
    if !needs::program("sh") {
        return Ok(());
    }
    let runs: usize =
        std::env::var("HUSHTALLY_OUTPUT_RUNS").ok().and_then(|n| n.parse().ok()).unwrap_or(120);
    let stage = Stage::new("")?;
    let mut random = fastrand::Rng::with_seed(20_261_127);
    let mut lines = Vec::new();
    let mut panics = 0;
    for run in 0..runs {
        if lines.is_empty() {
            lines = stage.every_verb();
            random.shuffle(&mut lines);
        }
        let line = lines.pop().context("no verb")?;
        // Each pair equally often; reading both is not a fault.
        let pair = run % 15;
        let [out, err] = [ALL[pair / 4], ALL[pair % 4]];
        let closed = |leads, fd| if matches!(leads, Leads::Closed) { fd } else { "" };
        let shell = format!("exec \"$0\" \"$@\" {} {}", closed(out, ">&-"), closed(err, "2>&-"));
        let mut command = Command::new("sh");
        command.args(["-c", &shell, env!("CARGO_BIN_EXE_hushtally")]).args(&line);
        stage.settle(&mut command);
        command.stdout(end_of(out)?).stderr(end_of(err)?);
        let output = ended(command.spawn()?).with_context(|| format!("{line:?}"))?;
        let said = text(&[output.stdout, output.stderr].concat());
        // 101 is how a panic ends a program (std::process, from memory).
        let panicked = output.status.code() == Some(101)
            || output.status.signal().is_some()
            || said.contains("panicked at");
        if panicked {
            panics += 1;
            eprintln!("{line:?} out {out:?} errors {err:?}: {}: {said}", output.status);
        }
    }
    println!("\noutput_runs\t{runs}\npanics\t{panics}");
    assert_eq!(panics, 0, "of {runs}");
    Ok(())
}

fn end_of(leads: Leads) -> Result<Stdio> {
    Ok(match leads {
        Leads::Gone => {
            let (reader, writer) = std::io::pipe()?;
            drop(reader);
            writer.into()
        }
        Leads::Full => OpenOptions::new().write(true).open("/dev/full")?.into(),
        Leads::Closed => File::open("/dev/null")?.into(),
        Leads::Read => Stdio::piped(),
    })
}

#[test]
fn what_could_not_be_printed_is_told_and_a_reader_that_has_enough_is_not_a_failure() -> Result<()> {
    let stage = Stage::new("")?;
    for line in [&["sessions"][..], &["export", "reps"], &["man"], &["animals", "--json"]] {
        let mut full = stage.command();
        full.args(line).stdout(end_of(Leads::Full)?).stderr(Stdio::piped());
        let full = ended(full.spawn()?)?;
        assert_eq!(full.status.code(), Some(1), "{line:?}");
        assert!(text(&full.stderr).contains("No space left"), "{}", text(&full.stderr));
        let mut gone = stage.command();
        gone.args(line).stdout(end_of(Leads::Gone)?).stderr(Stdio::piped());
        let gone = ended(gone.spawn()?)?;
        assert_eq!((gone.status.code(), text(&gone.stderr)), (Some(0), String::new()), "{line:?}");
    }
    Ok(())
}

/// A session by typed lines in JSON, whose outputs are pipes.
fn typed_session(room: &Room, house: &House) -> Result<Child> {
    let child = room
        .command(env!("CARGO_BIN_EXE_hushtally"))
        .args(["listen", "--json", "--quiet", "--type"])
        .arg(house.folder.path().join("plans/pepino.toml"))
        .arg("--db")
        .arg(house.record())
        .env("XDG_CONFIG_HOME", house.folder.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()?;
    Ok(child)
}

#[test]
fn a_session_goes_on_when_its_readers_go_away() -> Result<()> {
    use std::io::{BufRead, BufReader, Write};
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::model() {
        return Ok(());
    }
    let house = House::new()?;
    let mut child = typed_session(&room, &house)?;
    let mut lines = child.stdin.take().context("no input")?;
    let mut errors = BufReader::new(child.stderr.take().context("no errors")?).lines();
    // It listens; after that nobody reads either of its outputs.
    let listens = |line: &std::io::Result<String>| {
        line.as_ref().is_ok_and(|line| line.contains("listening on"))
    };
    errors.find(listens).context("it does not listen")??;
    drop(errors);
    drop(child.stdout.take());
    let store = || hushtally::store::Store::open_read_only(&house.record());
    // A tag first, then what is printed on the errors in JSON mode: a hint, a doubt, what is not understood.
    writeln!(lines, "yes")?;
    let reps = || store().and_then(|store| store.reps(&Default::default()));
    until("the first rep is kept", || reps().is_ok_and(|reps| reps.len() == 1))?;
    writeln!(lines, "no such words at all")?;
    writeln!(lines, "yes two")?;
    until("the second rep is kept", || reps().is_ok_and(|reps| reps.len() == 2))?;
    writeln!(lines, "finish")?;
    drop(lines);
    let output = ended(child)?;
    assert_ne!(output.status.code(), Some(101));
    assert!(store()?.open_sessions()?.is_empty(), "the session was not finished");
    Ok(())
}

/// A reader that stays and does not read: the pipe is full after 64 KiB, long before the session is over.
#[test]
fn a_session_goes_on_when_its_reader_stops_reading() -> Result<()> {
    use std::io::{BufRead, BufReader, Write};
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::model() {
        return Ok(());
    }
    let house = House::new()?;
    let mut child = typed_session(&room, &house)?;
    let mut lines = child.stdin.take().context("no input")?;
    let errors = BufReader::new(child.stderr.take().context("no errors")?);
    let mut told = errors.lines();
    let listens = |line: &std::io::Result<String>| {
        line.as_ref().is_ok_and(|line| line.contains("listening on"))
    };
    told.find(listens).context("it does not listen")??;
    // Its output is open, and nobody reads it.
    let _unread = child.stdout.take().context("no output")?;
    let rest = std::thread::spawn(move || told.map_while(Result::ok).collect::<Vec<_>>());
    // About 150 bytes a try.
    let tries = 700;
    for _ in 0..tries {
        writeln!(lines, "yes")?;
    }
    let store = || hushtally::store::Store::open_read_only(&house.record());
    let reps = || store().and_then(|store| store.reps(&Default::default()));
    until("every try is kept", || reps().is_ok_and(|reps| reps.len() == tries))?;
    writeln!(lines, "finish")?;
    drop(lines);
    until("it ends", || child.try_wait().is_ok_and(|status| status.is_some()))?;
    let told = rest.join().ok().context("no errors")?;
    assert!(told.iter().any(|line| line.contains("not read by anybody")), "{told:?}");
    Ok(())
}
