//! Another user of the same computer looks on while every verb runs: at every command line, the folder for temporary
//! files and the folder of the record.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result};

use super::{Stage, ended, until};
use crate::needs;

/// Reads as `nobody` whatever it can, again and again, into its own standard output.
const LOOK: &str = "\
echo looking
while :; do
  for line in /proc/[0-9]*/cmdline; do
    # Its own and those of the test would only show what the test itself was told.
    tr '\\0' ' ' < \"$line\" 2> /dev/null
    echo
  done
  find \"$0\" \"$1\" -type f -readable -exec cat {} + 2> /dev/null
  find \"$0\" \"$1\" -mindepth 1 -type d -readable 2> /dev/null
done";

struct Neighbour {
    child: Child,
    saw: std::path::PathBuf,
}

impl Neighbour {
    fn move_in(stage: &Stage) -> Result<Self> {
        let saw = stage.folder.path().join("saw");
        let mut child = Command::new("setpriv");
        child
            .args(["--reuid=nobody", "--regid=nogroup", "--clear-groups", "sh", "-c", LOOK])
            .args([stage.folder.path().join("tmp"), stage.folder.path().join("home")])
            .stdin(Stdio::null())
            .stdout(fs::File::create(&saw)?)
            .stderr(Stdio::null());
        let neighbour = Neighbour { child: child.spawn()?, saw };
        until("the neighbour looks", || {
            fs::metadata(&neighbour.saw).is_ok_and(|saw| saw.len() > 1_000)
        })?;
        Ok(neighbour)
    }

    fn saw(&self) -> Result<String> {
        Ok(String::from_utf8_lossy(&fs::read(&self.saw)?).into_owned())
    }
}

impl Drop for Neighbour {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn another_user_reads_nothing_beside_any_verb() -> Result<()> {
    let root = is_root();
    if !needs::thing("root", root) || !needs::program("setpriv") || !needs::program("chromium") {
        return Ok(());
    }
    // Ends every name, so that it is known wherever it stands; it is on no command line of ours.
    const SECRET: &str = "-zq7Tallow";
    let stage = Stage::new(SECRET)?;
    let open = |name: &str, mode| {
        fs::set_permissions(stage.folder.path().join(name), fs::Permissions::from_mode(mode))
    };
    // As /tmp and a home are that others may enter.
    open("", 0o755)?;
    open("tmp", 0o1777)?;
    open("home", 0o755)?;
    // A browser that is asked for stays for a while.
    let tools = stage.folder.path().join("tools");
    fs::create_dir(&tools)?;
    let script = tools.join("written");
    fs::write(&script, "#!/bin/sh\nsleep 3\n")?;
    fs::set_permissions(&script, fs::Permissions::from_mode(0o755))?;
    let copied = Command::new("cp").arg("-p").args([&script, &tools.join("xdg-open")]).status()?;
    assert!(copied.success());
    let path = format!("{}:{}", tools.display(), std::env::var("PATH")?);

    let neighbour = Neighbour::move_in(&stage)?;
    let (mut reads, mut told) = (0, Vec::new());
    // A mask that gives every right to everybody, as some systems have it.
    let run = |words: &[&str], seconds: &str| -> Result<std::process::Output> {
        let mut command = Command::new("sh");
        let shell = "umask 000; exec timeout -s INT \"$0\" \"$@\"";
        command.args(["-c", shell, seconds, env!("CARGO_BIN_EXE_hushtally")]).args(words);
        stage.settle(&mut command);
        command.env("PATH", &path).stdout(Stdio::piped()).stderr(Stdio::piped());
        ended(command.spawn()?)
    };
    // What the user writes on a command line, others may read; so the animal is called by its key.
    let animals =
        serde_json::from_slice::<serde_json::Value>(&stage.run(&["animals", "--json"])?.stdout)?;
    let key = animals[0]["id"].as_str().context("no key")?;
    for line in stage.every_verb_about(key) {
        let words: Vec<&str> = line.iter().map(String::as_str).collect();
        run(&words, "40")?;
        told.push(line);
    }
    let printed = run(&["report", "latest", "-o", "monday.pdf"], "50")?;
    assert!(printed.status.success(), "{}", super::text(&printed.stderr));
    let reviewed = super::text(&run(&["review"], "4")?.stdout);
    let address = reviewed.split("127.0.0.1:").nth(1).context("no address")?;
    let secret = address.split('/').nth(1).context("no secret")?.to_owned();
    assert_eq!(secret.len(), 32);
    let saw = neighbour.saw()?;
    assert!(saw.contains("hushtally") && saw.contains("chromium") && saw.contains("xdg-open"));
    for line in saw.lines().filter(|line| line.contains(SECRET) || line.contains(&secret)) {
        reads += 1;
        if reads < 5 {
            eprintln!("read by another user: {}", line.chars().take(300).collect::<String>());
        }
    }
    println!("\nverbs_looked_at\t{}\nread_by_other_user\t{reads}", told.len() + 2);
    assert_eq!(reads, 0);
    Ok(())
}

fn is_root() -> bool {
    fs::metadata("/proc/self").is_ok_and(|meta| std::os::unix::fs::MetadataExt::uid(&meta) == 0)
}
