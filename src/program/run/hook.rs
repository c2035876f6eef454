//! A program of the user's own at each nudge: for a vibrating bracelet, a lamp, a second screen.

use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// This many may run at a time. A program that hangs must not fill the computer with its like in a long session.
const MOST: usize = 8;

/// Runs a program with the nudge's name as its only argument, and waits for nothing.
#[derive(Debug, Clone)]
pub struct Hook {
    program: String,
    running: Arc<AtomicUsize>,
}

/// What became of one call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hooked {
    /// The program was started.
    Started,
    /// It was left out, since too many of them are still running.
    LeftOut,
}

impl Hook {
    /// The program, a path or a name on the search path; no shell is involved.
    pub fn new(program: String) -> Self {
        Hook { program, running: Arc::default() }
    }

    /// Starts it.
    ///
    /// # Errors
    /// It cannot be started.
    pub fn run(&self, name: &'static str) -> std::io::Result<Hooked> {
        if self.running.fetch_add(1, Ordering::AcqRel) >= MOST {
            self.running.fetch_sub(1, Ordering::AcqRel);
            return Ok(Hooked::LeftOut);
        }
        let started = self.start(name);
        if started.is_err() {
            self.running.fetch_sub(1, Ordering::AcqRel);
        }
        started.map(|()| Hooked::Started)
    }

    fn start(&self, name: &'static str) -> std::io::Result<()> {
        let mut child = Command::new(&self.program)
            .arg(name)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()?;
        let running = Arc::clone(&self.running);
        std::thread::Builder::new().name("hook".to_owned()).spawn(move || {
            // Only so that it does not stay behind as a zombie; how it ends is its own affair.
            let _ended = child.wait();
            running.fetch_sub(1, Ordering::AcqRel);
        })?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::os::unix::fs::PermissionsExt;
    use std::path::{Path, PathBuf};
    use std::time::Duration;

    use super::*;
    use crate::clock::Clock;

    /// A script that writes down its arguments, and then does `more`.
    fn script(folder: &Path, more: &str) -> PathBuf {
        let (path, written) = (folder.join("hook.sh"), folder.join("written"));
        let log = folder.join("log");
        // The name is written before anybody may wait for it.
        let text = format!("#!/bin/sh\necho \"$# $1\" >> '{}'\n{more}\n", log.display());
        fs::write(&written, text).unwrap();
        // Copied by a child, since a program that any process of ours still has open for writing cannot be run.
        assert!(Command::new("cp").args([&written, &path]).status().unwrap().success());
        fs::set_permissions(&path, fs::Permissions::from_mode(0o700)).unwrap();
        path
    }

    fn hook(program: &Path) -> Hook {
        Hook::new(program.to_string_lossy().into_owned())
    }

    fn until(clock: &Clock, what: impl Fn() -> bool) {
        let late = clock.now() + Duration::from_secs(20);
        while !what() {
            assert!(clock.now() < late, "it does not happen");
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    #[test]
    fn the_program_gets_the_name_alone_and_is_not_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let (clock, log) = (Clock::real(), folder.path().join("log"));
        let hook = hook(&script(folder.path(), "exec sleep 5"));
        let before = clock.now();
        assert_eq!(hook.run("end_soon").unwrap(), Hooked::Started);
        assert!(clock.now() - before < Duration::from_secs(2), "it was waited for");
        until(&clock, || fs::read_to_string(&log).is_ok_and(|text| text == "1 end_soon\n"));
    }

    #[test]
    fn programs_that_hang_do_not_pile_up_and_ended_ones_make_room() {
        let folder = tempfile::tempdir().unwrap();
        let clock = Clock::real();
        let hook = hook(&script(folder.path(), "exec sleep 2"));
        for _ in 0..MOST {
            assert_eq!(hook.run("heard").unwrap(), Hooked::Started);
        }
        assert_eq!(hook.run("heard").unwrap(), Hooked::LeftOut);
        until(&clock, || hook.run("heard").unwrap() == Hooked::Started);
    }

    #[test]
    fn a_program_that_is_not_there_is_an_error_each_time() {
        let hook = Hook::new("no-such-program-anywhere".to_owned());
        for _ in 0..=MOST {
            assert!(hook.run("heard").is_err());
        }
    }
}
