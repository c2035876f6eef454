//! Without any sound device, and from an empty home folder: who cannot speak types, and needs no microphone.

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, ensure};
use serde_json::Value;

use super::hushtally;
use crate::needs;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/pepino.toml");

/// A house with nothing in it: no settings, no record, no sound card, no sound server.
fn in_an_empty_house(arguments: &[&str], home: &Path, model: &Path) -> Command {
    let mut command = hushtally(arguments);
    command
        .env("HOME", home)
        .env("HUSHTALLY_MODEL", model)
        .env("ALSA_CONFIG_PATH", home.join("no-such-file"))
        .env("PULSE_SERVER", "unix:/nowhere")
        .env("XDG_RUNTIME_DIR", home.join("run"));
    for name in
        ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "HUSHTALLY_HOME", "HUSHTALLY_PERSON", "RUST_LOG"]
    {
        command.env_remove(name);
    }
    command
}

/// The lines of a stream, as they come.
fn lines_of(stream: impl std::io::Read + Send + 'static) -> Receiver<String> {
    let (tell, told) = channel();
    std::thread::spawn(move || {
        for line in BufReader::new(stream).lines().map_while(Result::ok) {
            if tell.send(line).is_err() {
                return;
            }
        }
    });
    told
}

/// Reads on until a line has this in it; gives all that came.
fn until(told: &Receiver<String>, what: &str) -> Result<Vec<String>> {
    let mut all = Vec::new();
    while !all.last().is_some_and(|line: &String| line.contains(what)) {
        let next = told.recv_timeout(Duration::from_secs(60));
        all.push(next.with_context(|| format!("waited in vain for {what}: {all:#?}"))?);
    }
    Ok(all)
}

#[test]
fn a_whole_session_is_typed_where_there_is_no_sound_device() -> Result<()> {
    let Some(data) = needs::data_folder() else { return Ok(()) };
    let home = tempfile::tempdir()?;
    let model = data.join("models/en-us-small");
    let plan = home.path().join("pepino.toml");
    fs::write(&plan, format!("{}\n[words.people]\nAda = \"ada\"\n", fs::read_to_string(DEMO)?))?;
    let plan = plan.to_string_lossy();
    let mut child = in_an_empty_house(
        &["listen", &plan, "--type", "--json", "--person", "Ben"],
        home.path(),
        &model,
    )
    .stdin(Stdio::piped())
    .stdout(Stdio::piped())
    .stderr(Stdio::piped())
    .spawn()?;
    let mut keys = child.stdin.take().context("no input")?;
    let out = lines_of(child.stdout.take().context("no output")?);
    let errors = lines_of(child.stderr.take().context("no errors")?);
    // Our own line reaches the screen.
    let mut told = until(&errors, "type the words instead")?;
    let mut happened = Vec::new();
    let mut says = |line: &str, what: &str| -> Result<Value> {
        writeln!(keys, "{line}")?;
        keys.flush()?;
        happened.extend(until(&out, &format!("\"kind\":\"{what}\""))?);
        Ok(serde_json::from_str(happened.last().context("nothing")?)?)
    };
    let began = says("juniper begin", "began")?;
    let wait = Duration::from_millis(1_200);
    std::thread::sleep(wait);
    let before = Instant::now();
    let first = says("yes", "rep")?;
    // From there on the tries are another person's.
    assert_eq!(says("juniper ada takes over", "takes_over")?["person"], "Ada");
    let second = says("miss left", "miss")?;
    let slack = before.elapsed() + Duration::from_secs(5);
    // The line after the command is the note.
    says("juniper note\nHe yawned twice, and looked away", "note")?;
    says("juniper finish", "finished")?;
    drop(keys);
    ensure!(child.wait()?.success());
    let at = |line: &Value| line["at_s"].as_f64().unwrap_or(-1.0);
    let lasted = at(&first) - at(&began);
    // Session time is the clock's.
    assert!((wait.as_secs_f64()..(wait + slack).as_secs_f64()).contains(&lasted), "{lasted}");
    assert!(at(&second) >= at(&first), "{first} {second}");
    assert_eq!(second["side"], "left");
    assert!(happened.iter().any(|line| line.contains("He yawned twice")), "{happened:#?}");
    // The sound library's own lines do not.
    told.extend(errors.iter());
    let theirs = |line: &&String| line.contains("ALSA") || line.contains("conf.c");
    assert_eq!(told.iter().find(theirs), None, "{told:#?}");
    let tries = in_an_empty_house(&["export", "reps"], home.path(), &model).output()?;
    let tries = String::from_utf8(tries.stdout)?;
    let mut rows = tries.lines().map(|row| row.split(',').map(str::to_owned).collect::<Vec<_>>());
    let names = rows.next().context("no names of columns")?;
    let person = names.iter().position(|name| name == "person").context("no person")?;
    assert_eq!(rows.map(|row| row[person].clone()).collect::<Vec<_>>(), ["Ben", "Ada"], "{tries}");
    let recap = in_an_empty_house(&["recap", "--quiet"], home.path(), &model).output()?;
    let recap = String::from_utf8_lossy(&recap.stdout).into_owned();
    assert!(recap.contains("2 tries in") && recap.contains(": 1 rewarded, 1 missed."), "{recap}");
    Ok(())
}

/// Types these lines one after the other, each once what the one before asks for was printed; the program is then left to
/// end, or is ended in the middle of it.
fn typed(home: &Path, person: &str, lines: &[(&str, &str)], ends: bool) -> Result<()> {
    // Nothing is heard, so no speech model is looked for.
    let model = home.join("no-such-model");
    let plan = home.join("pepino.toml");
    let plan = plan.to_string_lossy();
    let mut child = in_an_empty_house(
        &["listen", &plan, "--type", "--json", "--quiet", "--person", person],
        home,
        &model,
    )
    .stdin(Stdio::piped())
    .stdout(Stdio::piped())
    .stderr(Stdio::null())
    .spawn()?;
    let mut keys = child.stdin.take().context("no input")?;
    let out = lines_of(child.stdout.take().context("no output")?);
    for (line, what) in lines {
        writeln!(keys, "{line}")?;
        keys.flush()?;
        until(&out, &format!("\"kind\":\"{what}\""))?;
    }
    if !ends {
        child.kill()?;
    }
    drop(keys);
    ensure!(child.wait()?.success() == ends);
    Ok(())
}

/// In a session that is gone on with, the record's people are known by their names like in any other.
#[test]
fn who_is_in_the_record_takes_over_also_in_a_session_that_was_cut_off() -> Result<()> {
    let home = tempfile::tempdir()?;
    fs::copy(DEMO, home.path().join("pepino.toml"))?;
    let begin = ("juniper begin", "began");
    let finish = ("juniper finish", "finished");
    typed(home.path(), "Ada", &[begin, ("yes", "rep"), finish], true)?;
    typed(home.path(), "Ben", &[begin, ("yes", "rep")], false)?;
    let goes_on = [
        ("juniper carry on", "command"),
        ("juniper ada takes over", "takes_over"),
        ("yes", "rep"),
        finish,
    ];
    typed(home.path(), "Ben", &goes_on, true)?;
    let model = home.path().join("no-such-model");
    let tries = in_an_empty_house(&["export", "reps"], home.path(), &model).output()?;
    let tries = String::from_utf8(tries.stdout)?;
    let mut rows = tries.lines().map(|row| row.split(',').collect::<Vec<_>>());
    let names = rows.next().context("no names of columns")?;
    let person = names.iter().position(|name| *name == "person").context("no person")?;
    assert_eq!(rows.map(|row| row[person]).collect::<Vec<_>>(), ["Ada", "Ben", "Ada"], "{tries}");
    Ok(())
}
