//! Pipes, devices and folders in place of files, and files without an end.

use std::fs;
use std::process::{Command, Stdio};
use std::time::Instant;

use anyhow::Result;

use super::{Stage, ended, mode, text};
use crate::needs;

/// Every way to name a file that is read, with `FILE` where its name stands.
const WAYS: [&[&str]; 17] = [
    &["listen", "FILE", "--quiet"],
    &["replay", "FILE", "plan.toml"],
    &["replay", "FILE.jsonl", "plan.toml"],
    &["replay", "tags.jsonl", "FILE"],
    &["replay", "tags.jsonl", "plan.toml", "--after", "FILE"],
    &["review", "align", "FILE", "latest"],
    &["words", "check", "FILE"],
    &["words", "learn", "FILE", "--forget"],
    &["plan", "next", "Pepino", "--plan", "FILE"],
    &["plan", "split", "FILE", "1", "--show"],
    &["progress", "Pepino", "--plan", "FILE"],
    &["import", "FILE"],
    &["restore", "FILE"],
    &["verify", "--db", "FILE"],
    &["sessions", "--db", "FILE"],
    &["recap", "--quiet", "--db", "FILE"],
    &["review", "--no-open", "--db", "FILE"],
];

#[test]
fn pipes_devices_and_folders_are_refused_with_words_and_nothing_is_waited_for() -> Result<()> {
    if !needs::program("mkfifo") {
        return Ok(());
    }
    let stage = Stage::new("")?;
    for name in ["pipe", "pipe.jsonl"] {
        assert!(Command::new("mkfifo").arg(stage.work(name)).status()?.success());
    }
    for name in ["folder", "folder.jsonl"] {
        fs::create_dir(stage.work(name))?;
    }
    // Timed tags are told by the ending of their file's name.
    std::os::unix::fs::symlink("/dev/zero", stage.work("zero.jsonl"))?;
    std::os::unix::fs::symlink("/dev/zero", stage.work("zero"))?;
    let begun = Instant::now();
    for file in ["pipe", "folder", "zero"] {
        for way in WAYS {
            let line: Vec<String> = way.iter().map(|word| word.replace("FILE", file)).collect();
            let words: Vec<&str> = line.iter().map(String::as_str).collect();
            let output = stage.run(&words)?;
            let said = text(&output.stderr);
            let code = output.status.code();
            assert!(matches!(code, Some(1 | 2 | 5)), "{line:?}: {code:?} {said}");
            let named =
                ["a pipe", "a folder", "a device", "not a file", "not a Hushtally database"];
            assert!(named.iter().any(|words| said.contains(words)), "{line:?}: {said}");
        }
    }
    println!("{} refusals in {:?}", 3 * WAYS.len(), begun.elapsed());
    Ok(())
}

#[test]
fn settings_that_are_none_are_refused_with_words() -> Result<()> {
    let stage = Stage::new("")?;
    let pipe = stage.folder.path().join("home/data/config.toml");
    assert!(Command::new("mkfifo").arg(&pipe).status()?.success());
    let output = stage.run(&["recap"])?;
    assert!(text(&output.stderr).contains("a pipe"), "{}", text(&output.stderr));
    Ok(())
}

#[test]
fn a_plan_of_a_gigabyte_is_refused_before_it_is_read() -> Result<()> {
    if !needs::program("sh") {
        return Ok(());
    }
    let stage = Stage::new("")?;
    fs::File::create(stage.work("huge.toml"))?.set_len(1 << 30)?;
    let mut command = Command::new("sh");
    let shell = "ulimit -v 600000; exec \"$0\" \"$@\"";
    let program = env!("CARGO_BIN_EXE_hushtally");
    command.args(["-c", shell, program, "plan", "split", "huge.toml", "1", "--show"]);
    stage.settle(&mut command);
    let output = ended(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)?;
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("more than 1 MB"), "{}", text(&output.stderr));
    Ok(())
}

#[test]
fn what_is_refused_keeps_its_rights_and_an_empty_file_is_not_a_record() -> Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let stage = Stage::new("")?;
    for (name, content) in
        [("letter.txt", "Dear neighbour, ".repeat(300)), ("empty", String::new())]
    {
        fs::write(stage.work(name), &content)?;
        fs::set_permissions(stage.work(name), fs::Permissions::from_mode(0o644))?;
        for line in [
            &["verify", "--db", name][..],
            &["restore", name],
            &["backup", "copy.db", "--db", name],
            &["sessions", "--db", name],
            &["recap", "--quiet", "--db", name],
        ] {
            let output = stage.run(line)?;
            let said = text(&output.stderr);
            assert_eq!(output.status.code(), Some(5), "{line:?}: {said}{}", text(&output.stdout));
            let words = ["not a record", "not a Hushtally database"];
            assert!(words.iter().any(|words| said.contains(words)), "{line:?}: {said}");
        }
        assert_eq!(mode(&stage.work(name))?, 0o644, "{name}");
        assert_eq!(fs::read_to_string(stage.work(name))?, content);
    }
    let mut left: Vec<_> = fs::read_dir(stage.folder.path().join("home/data"))?
        .flatten()
        .map(|e| e.file_name())
        .collect();
    left.retain(|name| name.to_string_lossy() != "record.db");
    assert!(left.is_empty(), "a failed restore left {left:?}");
    Ok(())
}

#[test]
fn on_a_disk_that_cannot_be_written_the_record_can_be_looked_at() -> Result<()> {
    let mountable = Command::new("unshare")
        .args(["-Urm", "true"])
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success());
    if !needs::thing("mounts", mountable) {
        return Ok(());
    }
    let stage = Stage::new("")?;
    let data = stage.folder.path().join("home/data");
    // As it is copied from a computer whose program was killed: with a log, and without what lies beside it in use.
    let store = hushtally::store::Store::open(&stage.record())?;
    assert!(stage.run(&["capture", "Pepino", "bows"])?.status.success());
    for ending in ["", "-wal"] {
        let of = |name: &str| data.join(format!("{name}{ending}"));
        fs::copy(of("record.db"), of("copied.db"))?;
    }
    drop(store);
    let read_only = |line: &[&str]| -> Result<std::process::Output> {
        let shell = format!(
            "mount --bind {0} {0} && mount -o remount,ro,bind {0} && exec \"$0\" \"$@\"",
            data.display()
        );
        let mut command = Command::new("unshare");
        command.args(["-Urm", "sh", "-c", &shell, env!("CARGO_BIN_EXE_hushtally")]).args(line);
        stage.settle(&mut command);
        ended(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)
    };
    for line in [
        &["sessions"][..],
        &["session", "last"],
        &["progress", "Pepino"],
        &["plan", "next", "Pepino"],
        &["handover", "Pepino"],
        &["animals"],
        &["body", "Pepino"],
        &["export", "reps"],
        &["recap", "--quiet"],
        &["report", "latest", "-o", "monday.html"],
        &["verify"],
        &["backup", "copy.db"],
    ] {
        let output = read_only(line)?;
        assert!(output.status.success(), "{line:?}: {}", text(&output.stderr));
    }
    let captured = read_only(&["capture", "Pepino", "--db", "../home/data/copied.db"])?;
    let said = text(&captured.stdout);
    assert!(said.contains("bows"), "the log is not read: {said}{}", text(&captured.stderr));
    let left = fs::read_dir(stage.folder.path().join("tmp"))?.count();
    assert_eq!(left, 0, "a copy was left behind");
    // Writing is refused with words.
    for line in [&["capture", "Pepino", "stretches"][..], &["import", "notes.csv"]] {
        let output = read_only(line)?;
        assert_eq!(output.status.code(), Some(5), "{line:?}");
        assert!(text(&output.stderr).contains("not written"), "{}", text(&output.stderr));
    }
    // The review shows its pages: it begins, and ends when it is told to.
    let shell = format!(
        "mount --bind {0} {0} && mount -o remount,ro,bind {0} && timeout --preserve-status -s INT 3 \"$0\" review --no-open",
        data.display()
    );
    let mut command = Command::new("unshare");
    command.args(["-Urm", "sh", "-c", &shell, env!("CARGO_BIN_EXE_hushtally")]);
    stage.settle(&mut command);
    let output = ended(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)?;
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(text(&output.stdout).contains("Review: http"));
    Ok(())
}

#[test]
fn what_a_killed_program_left_in_the_temporary_folder_goes_at_the_next_start() -> Result<()> {
    let stage = Stage::new("")?;
    let made = |name: &str, age: &str| -> Result<std::path::PathBuf> {
        let folder = stage.folder.path().join("tmp").join(name);
        fs::create_dir(&folder)?;
        fs::write(folder.join("report.html"), "a name")?;
        assert!(Command::new("touch").args(["-d", age]).arg(&folder).status()?.success());
        Ok(folder)
    };
    let left = made("hushtally-report-a1", "2 hours ago")?;
    let in_use = made("hushtally-report-b2", "2 hours ago")?;
    let others = made("somebody-else", "2 hours ago")?;
    let held = fs::File::open(&in_use)?;
    held.try_lock()?;
    stage.run(&["animals"])?;
    assert!(!left.exists() && in_use.exists() && others.exists());
    Ok(())
}
