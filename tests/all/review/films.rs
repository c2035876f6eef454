//! Films that are harder than most, placed by their sound: frames that do not come evenly, sound with a hole in it,
//! no sound at all, and another session's.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use anyhow::{Result, ensure};

use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::session::Input;
use hushtally::store::Store;

use super::demo::{PLAN, put};
use crate::needs;
use crate::speech::{Tape, Voice};

/// What is promised of a placed film.
const WITHIN_MS: f64 = 20.0;
/// Quiet before the session in the film, in seconds.
const BEFORE_S: f64 = 8.25;
/// The camera hears nothing between these film times, before the session begins, and its film has no silence there.
const HOLE_S: (f64, f64) = (2.0, 5.5);

/// Words and the seconds before each of them.
type Script = [(&'static str, f64); 14];

const ONE: Script = [
    ("yes", 2.0),
    ("yes", 3.1),
    ("miss", 4.7),
    ("yes", 2.6),
    ("yes", 5.9),
    ("yes", 3.7),
    ("miss", 2.9),
    ("yes", 6.3),
    ("yes", 3.3),
    ("yes", 4.1),
    ("miss", 5.1),
    ("yes", 2.7),
    ("yes", 3.9),
    ("yes", 4.9),
];
const ANOTHER: Script = [
    ("yes", 3.0),
    ("miss", 2.2),
    ("yes", 6.1),
    ("yes", 4.4),
    ("yes", 2.5),
    ("miss", 5.3),
    ("yes", 3.8),
    ("yes", 2.8),
    ("miss", 6.6),
    ("yes", 4.2),
    ("yes", 5.7),
    ("yes", 2.4),
    ("miss", 3.5),
    ("yes", 5.0),
];

/// A session on tape and in a record of its own.
struct Session {
    wav: PathBuf,
    record: PathBuf,
}

fn session(folder: &Path, name: &str, script: &Script) -> Result<Session> {
    let (wav, record) = (folder.join(name), folder.join(name).with_extension("db"));
    let mut tape = Tape::new();
    for (words, before_s) in script {
        tape.say(*before_s, Voice::USUAL, words)?;
    }
    tape.quiet(1.0).write(&wav)?;
    let tags: Vec<(f64, Input)> = tape
        .said
        .iter()
        .map(|said| {
            let tag = if said.words == "yes" {
                Said::Rep(Details::default())
            } else {
                Said::Miss(Details::default())
            };
            (said.onset_s, Input::said(tag, said.words.clone()))
        })
        .collect();
    let (clock, _) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    put(&Store::open(&record)?, &clock, PLAN, 1, &tags)?;
    Ok(Session { wav, record })
}

fn align(film: &Path, record: &Path) -> Result<Output> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hushtally"));
    command.args(["review", "--db"]).arg(record).arg("align").arg(film).args(["latest", "--json"]);
    Ok(command.stdin(Stdio::null()).output()?)
}

/// A film whose frames come at 30, 10 and 3 a second in turn, as of a phone in changing light; its sound begins
/// [`BEFORE_S`] before the session and, if asked for, has a hole.
fn film(of: &Session, name: &str, hole: bool) -> Result<PathBuf> {
    let film = of.wav.with_file_name(name);
    let before = (BEFORE_S * 1_000.0).round();
    let (from, to) = HOLE_S;
    let hole = if hole { format!(",aselect='not(between(t,{from},{to}))'") } else { String::new() };
    let picture = "select='if(lt(mod(t,9),3),1,if(lt(mod(t,9),6),not(mod(n,3)),not(mod(n,10))))'";
    let status = Command::new("ffmpeg")
        .args(["-nostdin", "-loglevel", "error", "-y", "-f", "lavfi"])
        .args(["-i", "testsrc=size=64x48:rate=30:duration=75", "-i"])
        .arg(&of.wav)
        .args(["-vf", picture, "-vsync", "vfr", "-af", &format!("adelay={before}{hole}")])
        .args(["-c:v", "mpeg4", "-c:a", "aac", "-b:a", "96k"])
        .arg(&film)
        .status()?;
    ensure!(status.success(), "ffmpeg: {status}");
    Ok(film)
}

/// How far the session is off its place in the film, in milliseconds.
fn error_ms(output: &Output) -> Result<f64> {
    ensure!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let found: serde_json::Value = serde_json::from_slice(&output.stdout)?;
    println!("{found}");
    let number = |name: &str| found[name].as_f64().unwrap_or(f64::NAN);
    let (offset, drift) = (number("offset_s"), number("drift_ppm") * 1e-6);
    // At both ends of the session's minute.
    let off = |at: f64| (offset + at * drift - BEFORE_S).abs() * 1e3;
    Ok(off(0.0).max(off(60.0)))
}

#[test]
fn uneven_frames_and_a_hole_in_the_sound_do_not_shift_a_film_and_others_are_refused() -> Result<()>
{
    if !needs::program("ffmpeg") || !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let one = session(folder.path(), "one.wav", &ONE)?;
    let another = session(folder.path(), "another.wav", &ANOTHER)?;
    let whole = film(&one, "whole.mp4", false)?;
    let holed = film(&one, "holed.mp4", true)?;
    for film in [&whole, &holed] {
        let error_ms = error_ms(&align(film, &one.record)?)?;
        println!("{}: off by {error_ms:.1} ms", film.display());
        assert!(error_ms <= WITHIN_MS, "{}: {error_ms} ms", film.display());
    }
    let refused = align(&whole, &another.record)?;
    let why = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(!refused.status.success() && why.contains("set its place by hand"), "{why}");
    Ok(())
}

#[test]
fn a_film_without_sound_says_so() -> Result<()> {
    if !needs::program("ffmpeg") || !Voice::USUAL.is_here() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let one = session(folder.path(), "one.wav", &ONE)?;
    let silent = folder.path().join("silent.mp4");
    let status = Command::new("ffmpeg")
        .args(["-nostdin", "-loglevel", "error", "-f", "lavfi", "-i"])
        .args(["testsrc=size=64x48:rate=10:duration=5", "-c:v", "mpeg4"])
        .arg(&silent)
        .status()?;
    ensure!(status.success(), "ffmpeg: {status}");
    let refused = align(&silent, &one.record)?;
    let why = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(!refused.status.success() && why.contains("no sound track"), "{why}");
    Ok(())
}
