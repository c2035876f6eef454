//! Bad input end to end: what is said, which exit code, and that nothing is lost.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use anyhow::Result;
use hushtally::store::{Filter, Store};
use tempfile::TempDir;

use super::{complaint, hushtally};
use crate::speech::{Tape, Voice};

const PLAN: &str = r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
[[step]]
name = "looks at the file"
"#;

struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Result<Self> {
        let desk = Desk { folder: tempfile::tempdir()? };
        fs::write(desk.path("plan.toml"), PLAN)?;
        Tape::new().quiet(1.0).write(&desk.path("quiet.wav"))?;
        Ok(desk)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn replay(&self, sound: &str, plan: &str, more: &[&str]) -> Result<Output> {
        let (sound, plan) = (self.path(sound), self.path(plan));
        Ok(hushtally(&["replay"]).arg(sound).arg(plan).args(more).output()?)
    }
}

/// Fails with this code and says all of these.
fn refuses(output: &Output, code: i32, says: &[&str]) {
    let complaint = complaint(output);
    assert_eq!(output.status.code(), Some(code), "{complaint}");
    for words in says {
        assert!(complaint.contains(words), "{words:?} is not in: {complaint}");
    }
    assert!(!complaint.contains("panicked"), "{complaint}");
}

#[test]
fn a_missing_or_wrong_model_says_how_to_get_one() -> Result<()> {
    let desk = Desk::new()?;
    let missing = desk.replay("quiet.wav", "plan.toml", &["--model", "no-such-model"])?;
    refuses(&missing, 3, &["no speech model", "no-such-model", "models/fetch"]);
    fs::create_dir_all(desk.path("model/am"))?;
    let model = desk.path("model");
    let half = desk.replay("quiet.wav", "plan.toml", &["--model", &model.to_string_lossy()])?;
    refuses(&half, 3, &["not a whole speech model", "models/fetch"]);
    Ok(())
}

#[test]
fn sound_files_that_are_broken_empty_silent_or_missing_say_so() -> Result<()> {
    let desk = Desk::new()?;
    fs::write(desk.path("empty.wav"), "")?;
    fs::write(
        desk.path("text.mp3"),
        "this is no sound at all, whatever its name says\n".repeat(40),
    )?;
    for (sound, says) in
        [("missing.wav", "missing.wav"), ("empty.wav", "empty.wav"), ("text.mp3", "text.mp3")]
    {
        refuses(&desk.replay(sound, "plan.toml", &[])?, 1, &[says]);
    }
    // Cut in the middle of its samples: what is there is heard.
    let whole = fs::read(desk.path("quiet.wav"))?;
    fs::write(desk.path("cut.wav"), &whole[..whole.len() / 2])?;
    let cut = desk.replay("cut.wav", "plan.toml", &[])?;
    assert!(matches!(cut.status.code(), Some(0 | 1)), "{}", complaint(&cut));
    assert!(!complaint(&cut).contains("panicked"), "{}", complaint(&cut));
    Ok(())
}

#[test]
fn plans_with_faults_name_the_line_and_the_remedy() -> Result<()> {
    let desk = Desk::new()?;
    fs::write(
        desk.path("twice.toml"),
        format!("{PLAN}[words]\nmarker = \"yes\"\nmiss = \"yes\"\n"),
    )?;
    refuses(
        &desk.replay("quiet.wav", "twice.toml", &[])?,
        2,
        &["twice.toml, line", "\"yes\"", "one role only"],
    );
    fs::write(desk.path("unknown.toml"), format!("{PLAN}[words]\nmarker = \"targt\"\n"))?;
    refuses(
        &desk.replay("quiet.wav", "unknown.toml", &[])?,
        2,
        &["\"targt\"", "it knows \"target\""],
    );
    fs::write(desk.path("odd.toml"), "animal = 3\n")?;
    refuses(&desk.replay("quiet.wav", "odd.toml", &[])?, 2, &["odd.toml, line 1", "expected"]);
    refuses(&desk.replay("quiet.wav", "none.toml", &[])?, 2, &["none.toml"]);
    Ok(())
}

#[test]
fn a_machine_without_a_microphone_says_what_to_do() -> Result<()> {
    let desk = Desk::new()?;
    // A sound system that has no device at all.
    fs::write(desk.path("asound.conf"), "")?;
    let output = hushtally(&["listen", "--quiet", "--json", "--db"])
        .arg(desk.path("record.db"))
        .arg(desk.path("plan.toml"))
        .env("ALSA_CONFIG_PATH", desk.path("asound.conf"))
        .env("PULSE_SERVER", "unix:/nowhere")
        .output()?;
    refuses(&output, 4, &["Plug"]);
    Ok(())
}

#[test]
fn a_record_of_a_newer_program_is_left_alone() -> Result<()> {
    let desk = Desk::new()?;
    let record = desk.path("record.db");
    drop(Store::open(&record)?);
    rusqlite::Connection::open(&record)?.pragma_update(None, "user_version", 999)?;
    let before = fs::read(&record)?;
    let record_name = record.to_string_lossy().into_owned();
    let output = desk.replay("quiet.wav", "plan.toml", &["--record", "--db", &record_name])?;
    refuses(&output, 5, &["newer Hushtally", "nothing was changed"]);
    assert_eq!(fs::read(&record)?, before);
    fs::write(
        desk.path("other.db"),
        "no database, but long enough to look like a file of some kind\n".repeat(20),
    )?;
    let other = desk.path("other.db").to_string_lossy().into_owned();
    let output = desk.replay("quiet.wav", "plan.toml", &["--record", "--db", &other])?;
    refuses(&output, 5, &["not a Hushtally database"]);
    Ok(())
}

#[test]
fn a_folder_that_cannot_be_written_says_so() -> Result<()> {
    let desk = Desk::new()?;
    // A file where a folder should be stops even an administrator, whom permissions do not.
    fs::write(desk.path("file"), "")?;
    let record = desk.path("file").join("record.db").to_string_lossy().into_owned();
    let output = desk.replay("quiet.wav", "plan.toml", &["--record", "--db", &record])?;
    refuses(&output, 5, &["file"]);
    let locked = desk.path("locked");
    fs::create_dir(&locked)?;
    fs::set_permissions(&locked, fs::Permissions::from_mode(0o500))?;
    if fs::write(locked.join("try"), "").is_err() {
        let record = locked.join("record.db").to_string_lossy().into_owned();
        let output = desk.replay("quiet.wav", "plan.toml", &["--record", "--db", &record])?;
        refuses(&output, 5, &["locked"]);
    }
    Ok(())
}

/// Reps of the record, each with its time.
fn stored(record: &Path) -> Result<Vec<f64>> {
    let reps = Store::open(record)?.reps(&Filter::default())?;
    Ok(reps.iter().map(|row| row.rep.at.as_secs_f64()).collect())
}

#[test]
fn a_full_disk_is_told_and_what_was_saved_stays() -> Result<()> {
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let desk = Desk::new()?;
    let mut tape = Tape::new();
    for _ in 0..3 {
        tape.say(1.2, Voice::USUAL, "yes")?;
    }
    tape.quiet(1.5).write(&desk.path("said.wav"))?;
    let record = desk.path("record.db");
    let name = record.to_string_lossy().into_owned();
    let before = desk.replay("said.wav", "plan.toml", &["--record", "--db", &name])?;
    assert!(before.status.success(), "{}", complaint(&before));
    let saved = stored(&record)?;
    assert_eq!(saved.len(), 3);

    // No file may grow past what the database has now, as on a full disk; a signal would end the program.
    let blocks = fs::metadata(&record)?.len().div_ceil(512) / 2;
    let script = format!("trap '' XFSZ; ulimit -f {}; exec \"$@\"", blocks.max(1) / 4);
    let output = Command::new("bash")
        .args(["-c", &script, "bash", env!("CARGO_BIN_EXE_hushtally"), "replay"])
        .arg(desk.path("said.wav"))
        .arg(desk.path("plan.toml"))
        .args(["--record", "--db", &name])
        .output()?;
    let text = complaint(&output) + &String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(5), "{text}");
    assert!(text.contains("disk"), "{text}");
    assert!(!text.contains("panicked"), "{text}");
    assert_eq!(stored(&record)?[..3], saved[..], "what was acknowledged stays");
    Ok(())
}
