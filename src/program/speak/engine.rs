//! The child process that turns a sentence into sound.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::num::NonZeroU32;
use std::path::Path;
use std::process::{Child, ChildStderr, ChildStdout, Command, Stdio};
use std::sync::{Mutex, PoisonError};

use super::settings::{VoiceError, VoiceSettings};
use crate::audio::decode::SoundFile;

/// Sound of more than this from one sentence is a program out of control (6 minutes at 22.05 kHz).
const MOST_BYTES: u64 = 16 << 20;

/// Mono samples in [-1, 1].
pub(crate) struct Spoken {
    pub(crate) samples: Vec<f32>,
    pub(crate) rate: NonZeroU32,
}

/// Makes speech; a real program, or a script in a test.
pub(crate) trait Engine: Send + 'static {
    /// Speech of one sentence. `None` if it was stopped meanwhile.
    fn speak(&self, text: &str, settings: &VoiceSettings) -> Result<Option<Spoken>, VoiceError>;
    /// Ends what is being made.
    fn stop(&self);
}

/// `espeak-ng`, or a program that takes the same arguments.
pub(crate) struct EspeakNg {
    program: String,
    running: Running,
}

impl EspeakNg {
    /// Makes sure that the program is there.
    pub(crate) fn find(program: &str) -> Result<Self, VoiceError> {
        let ran = Command::new(program)
            .arg("--version")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        match ran {
            Ok(status) if status.success() => {
                Ok(EspeakNg { program: program.to_owned(), running: Running::default() })
            }
            Ok(status) => {
                Err(VoiceError::Failed { reason: format!("{program} ended with {status}") })
            }
            Err(_) => Err(VoiceError::Missing { program: program.to_owned() }),
        }
    }
}

impl Engine for EspeakNg {
    fn speak(&self, text: &str, settings: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
        let mut command = Command::new(&self.program);
        command
            .args(["--stdin", "--stdout", "-v", settings.voice.as_deref().unwrap_or("en-us"), "-s"])
            .arg(settings.words_a_minute.to_string());
        self.running.run(command, &self.program, text)
    }

    fn stop(&self) {
        self.running.stop();
    }
}

/// The child process that speaks, while there is one.
#[derive(Default)]
pub(super) struct Running(Mutex<Option<Child>>);

impl Running {
    fn child(&self) -> std::sync::MutexGuard<'_, Option<Child>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Gives `text` to the command's standard input and takes a sound file from its standard output. `None` if it
    /// was stopped meanwhile.
    pub(super) fn run(
        &self,
        mut command: Command,
        program: &str,
        text: &str,
    ) -> Result<Option<Spoken>, VoiceError> {
        command.stdout(Stdio::piped());
        let (stdout, stderr) = self.begin(command, program, text)?;
        let mut bytes = Vec::new();
        if let Some(stdout) = stdout {
            let read = stdout.take(MOST_BYTES).read_to_end(&mut bytes);
            read.map_err(|error| trouble(program, &error))?;
        }
        let stop = bytes.len() as u64 == MOST_BYTES;
        self.end(program, stop, stderr)?.map(|()| decode(bytes)).transpose()
    }

    /// The same for a program that goes back in what it has written, which a pipe does not allow: it writes to a file
    /// that only lives in memory and has no name.
    pub(super) fn run_into_memory(
        &self,
        mut command: Command,
        program: &str,
        text: &str,
    ) -> Result<Option<Spoken>, VoiceError> {
        let trouble = |error: io::Error| trouble(program, &error);
        let mut memory = memory().map_err(trouble)?;
        command.stdout(memory.try_clone().map_err(trouble)?);
        let (_, stderr) = self.begin(command, program, text)?;
        let mut said = Vec::new();
        if let Some(stderr) = stderr {
            // It ends when the program does.
            stderr.take(MOST_BYTES).read_to_end(&mut said).map_err(trouble)?;
        }
        if self.end(program, false, Some(&said[..]))?.is_none() {
            return Ok(None);
        }
        let mut bytes = Vec::new();
        memory.seek(SeekFrom::Start(0)).map_err(trouble)?;
        memory.take(MOST_BYTES).read_to_end(&mut bytes).map_err(trouble)?;
        decode(bytes).map(Some)
    }

    /// Starts it and gives it the text.
    fn begin(
        &self,
        mut command: Command,
        program: &str,
        text: &str,
    ) -> Result<(Option<ChildStdout>, Option<ChildStderr>), VoiceError> {
        command.stdin(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().map_err(|error| trouble(program, &error))?;
        let (stdin, stdout, stderr) =
            (child.stdin.take(), child.stdout.take(), child.stderr.take());
        *self.child() = Some(child);
        if let Some(mut stdin) = stdin {
            // A child that was stopped reads no more; its end is seen later.
            let _gone = stdin.write_all(text.as_bytes());
        }
        Ok((stdout, stderr))
    }

    /// Waits for its end; a program that does not end by itself is stopped. `None` if it was stopped.
    fn end(
        &self,
        program: &str,
        stop: bool,
        stderr: Option<impl Read>,
    ) -> Result<Option<()>, VoiceError> {
        let Some(mut child) = self.child().take() else { return Ok(None) };
        if stop {
            let _ended = child.kill();
        }
        let status = child.wait().map_err(|error| trouble(program, &error))?;
        if status.success() {
            return Ok(Some(()));
        }
        let mut said = String::new();
        if let Some(stderr) = stderr {
            let _unreadable = stderr.take(2_000).read_to_string(&mut said);
        }
        let said = said.lines().next().unwrap_or("no reason given");
        Err(VoiceError::Failed { reason: format!("{program} ended with {status}: {said}") })
    }

    /// Ends it.
    pub(super) fn stop(&self) {
        if let Some(mut child) = self.child().take() {
            let _ended_already = child.kill();
            let _reaped = child.wait();
        }
    }
}

/// A file in memory, without a name.
#[cfg(any(target_os = "linux", target_os = "android"))]
fn memory() -> io::Result<File> {
    use rustix::fs::{MemfdFlags, memfd_create};
    Ok(File::from(memfd_create("speech", MemfdFlags::CLOEXEC)?))
}

/// Elsewhere there is none, so a program that needs one does not read.
#[cfg(not(any(target_os = "linux", target_os = "android")))]
fn memory() -> io::Result<File> {
    Err(io::ErrorKind::Unsupported.into())
}

fn trouble(program: &str, error: &io::Error) -> VoiceError {
    VoiceError::Failed { reason: format!("{program}: {error}") }
}

/// A WAV may have an open length in the header, as what is written to a pipe has.
fn decode(bytes: Vec<u8>) -> Result<Spoken, VoiceError> {
    let mut file = SoundFile::from_bytes(Path::new("speech"), bytes)
        .map_err(|error| VoiceError::Failed { reason: error.to_string() })?;
    let rate = file.rate();
    let mut samples = Vec::new();
    while let Ok(Some(block)) = file.next_block() {
        samples.extend_from_slice(block);
    }
    Ok(Spoken { samples, rate })
}
