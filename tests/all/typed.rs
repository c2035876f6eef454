//! The program where there is no sound device, with lines typed, and the pages that it writes to in one process.

use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex};

use anyhow::{Context, Result};

/// The program where there is no sound device; `nowhere` is a path at which nothing lies. It is typed to and read.
pub(crate) fn without_sound(nowhere: &Path) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_hushtally"));
    program
        .env("XDG_RUNTIME_DIR", nowhere)
        .env("PULSE_SERVER", "unix:/nowhere")
        .env("ALSA_CONFIG_PATH", nowhere)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    program
}

/// Runs it with these lines typed: its exit code, and what it printed.
pub(crate) fn type_to(program: &mut Command, lines: &str) -> Result<(Option<i32>, String)> {
    let mut child = program.spawn()?;
    child.stdin.take().context("no input")?.write_all(lines.as_bytes())?;
    let output = child.wait_with_output()?;
    let told = [output.stdout, output.stderr].concat();
    Ok((output.status.code(), String::from_utf8_lossy(&told).into_owned()))
}

/// What a printer writes to, to be read afterwards.
#[derive(Clone, Default)]
pub(crate) struct Page(Arc<Mutex<Vec<u8>>>);

impl Page {
    /// What was written so far.
    pub(crate) fn text(&self) -> Result<String> {
        Ok(String::from_utf8(self.0.lock().unwrap().clone())?)
    }
}

impl Write for Page {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
