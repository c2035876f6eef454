//! What is read aloud ends when the program is told to.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Result, bail};

/// As long as a recap may be read, and more.
const LONG: &str = "#!/bin/sh\nexec sleep 100\n";

#[test]
fn control_c_ends_a_recap_that_is_read_aloud() -> Result<()> {
    let house = tempfile::tempdir()?;
    let (voice, record) = (house.path().join("voice.sh"), house.path().join("record.db"));
    fs::write(&voice, LONG)?;
    fs::set_permissions(&voice, fs::Permissions::from_mode(0o700))?;
    fs::write(house.path().join("config.toml"), format!("voice_command = {voice:?}\n"))?;
    let program = || {
        let mut program = Command::new(env!("CARGO_BIN_EXE_hushtally"));
        program.env("HUSHTALLY_HOME", house.path()).env("XDG_RUNTIME_DIR", house.path());
        program.env("PULSE_SERVER", "unix:/nowhere").stdout(Stdio::null()).stderr(Stdio::null());
        program
    };
    assert!(program().arg("demo-history").arg(&record).status()?.success());
    let mut recap = program().args(["recap", "--db"]).arg(&record).spawn()?;
    std::thread::sleep(Duration::from_secs(3));
    assert!(recap.try_wait()?.is_none(), "it is still reading");
    let sent = Command::new("kill").args(["-s", "INT", &recap.id().to_string()]).status()?;
    assert!(sent.success());
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(10) {
        if let Some(status) = recap.try_wait()? {
            // By itself, so that what it started is ended too.
            assert_eq!(status.code(), Some(0), "{status}");
            return Ok(());
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    recap.kill()?;
    recap.wait()?;
    bail!("it goes on reading")
}
