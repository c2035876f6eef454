//! What ends a session: each as Ctrl-C does, and the terminal is as before.

use std::io::Write;
use std::process::{Command, Stdio};

use anyhow::{Context, Result};
use hushtally::store::Store;

use super::{ended, text, until};
use crate::dialogue::talk::House;
use crate::needs;
use crate::room::Room;

#[test]
fn a_session_ends_as_by_control_c_and_the_terminal_shows_keys_again() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("script") || !needs::program("stty") || !needs::model() {
        return Ok(());
    }
    for signal in ["INT", "TERM", "HUP", "QUIT", "XFSZ"] {
        let house = House::new()?;
        let own = |name: &str| house.folder.path().join(name);
        // What the terminal is set to, before and after; the program in between tells its number.
        let shell = format!(
            "stty -a > '{before}'; '{program}' listen '{plan}' --quiet --type --db '{record}' & echo $! > '{number}'; \
             wait $!; echo $? > '{code}'; stty -a > '{after}'",
            before = own("before").display(),
            program = env!("CARGO_BIN_EXE_hushtally"),
            plan = own("plans/pepino.toml").display(),
            record = house.record().display(),
            number = own("number").display(),
            code = own("code").display(),
            after = own("after").display(),
        );
        // In the foreground of the terminal, so that its keys may be read.
        let shell = shell.replace(" & echo $! >", " <&3 3<&- & echo $! >");
        let script = own("session.sh");
        std::fs::write(&script, format!("exec 3<&0\n{shell}\n"))?;
        let line = format!("sh '{}'", script.display());
        let mut child = room
            .command("script")
            .args(["--quiet", "--flush", "--command", &line, "/dev/null"])
            .env("XDG_CONFIG_HOME", house.folder.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()?;
        let mut keys = child.stdin.take().context("no keys")?;
        let reps = || {
            let store = Store::open_read_only(&house.record())?;
            store.reps(&Default::default())
        };
        until("it is there", || {
            std::fs::read_to_string(own("number")).is_ok_and(|n| n.ends_with('\n'))
        })?;
        // Until it listens, keys wait.
        writeln!(keys, "yes")?;
        until("a rep is kept", || reps().is_ok_and(|reps| reps.len() == 1))?;
        let number = std::fs::read_to_string(own("number"))?;
        let sent = Command::new("kill").args(["-s", signal, number.trim()]).status()?;
        assert!(sent.success());
        until("it ends", || {
            std::fs::read_to_string(own("after")).is_ok_and(|t| t.ends_with('\n'))
        })?;
        drop(keys);
        let output = ended(child)?;
        let code = std::fs::read_to_string(own("code"))?;
        assert_eq!(code.trim(), "0", "{signal}: {}", text(&output.stdout));
        let settings = |name: &str| std::fs::read_to_string(own(name));
        assert!(settings("before")?.contains(" echo"));
        assert_eq!(settings("after")?, settings("before")?, "{signal}");
        let store = Store::open(&house.record())?;
        assert_eq!(store.reps(&Default::default())?.len(), 1, "{signal}");
    }
    Ok(())
}
