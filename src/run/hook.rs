//! A program of the user's own at each nudge: for a vibrating bracelet, a lamp, a second screen.

use std::process::{Command, Stdio};

/// Runs a program with the nudge's name as its only argument, and waits for nothing.
#[derive(Debug, Clone)]
pub struct Hook(String);

impl Hook {
    /// The program, a path or a name on the search path; no shell is involved.
    pub fn new(program: String) -> Self {
        Hook(program)
    }

    /// Starts it.
    ///
    /// # Errors
    /// It cannot be started.
    pub(super) fn run(&self, name: &'static str) -> std::io::Result<()> {
        let mut child = Command::new(&self.0)
            .arg(name)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()?;
        std::thread::Builder::new().name("hook".to_owned()).spawn(move || {
            // Only so that it does not stay behind as a zombie; how it ends is its own affair.
            let _ended = child.wait();
        })?;
        Ok(())
    }
}
