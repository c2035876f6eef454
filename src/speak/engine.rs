//! The child process that turns a sentence into sound.

use std::io::{self, Read, Write};
use std::num::NonZeroU32;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError};

use super::voice::{VoiceError, VoiceSettings};
use crate::audio::decode::SoundFile;

/// Sound of more than this from one sentence is a program gone mad (6 minutes at 22.05 kHz).
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
            .args(["--stdin", "--stdout", "-v", &settings.voice, "-s"])
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
        let failed = |reason: String| VoiceError::Failed { reason };
        let io = |e: io::Error| failed(format!("{program}: {e}"));
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(io)?;
        let (stdin, stdout, stderr) =
            (child.stdin.take(), child.stdout.take(), child.stderr.take());
        *self.child() = Some(child);
        if let Some(mut stdin) = stdin {
            // A child that was stopped reads no more; its end is seen below.
            let _gone = stdin.write_all(text.as_bytes());
        }
        let mut bytes = Vec::new();
        if let Some(stdout) = stdout {
            stdout.take(MOST_BYTES).read_to_end(&mut bytes).map_err(io)?;
        }
        let Some(mut child) = self.child().take() else { return Ok(None) };
        if bytes.len() as u64 == MOST_BYTES {
            let _ended = child.kill();
        }
        let status = child.wait().map_err(io)?;
        if !status.success() {
            let mut said = String::new();
            if let Some(stderr) = stderr {
                let _unreadable = stderr.take(2_000).read_to_string(&mut said);
            }
            let said = said.lines().next().unwrap_or("no reason given").to_owned();
            return Err(failed(format!("{program} ended with {status}: {said}")));
        }
        decode(bytes).map(Some).map_err(failed)
    }

    /// Ends it.
    pub(super) fn stop(&self) {
        if let Some(mut child) = self.child().take() {
            let _ended_already = child.kill();
            let _reaped = child.wait();
        }
    }
}

/// Its WAV has an open length in the header, as everything written to a pipe.
fn decode(bytes: Vec<u8>) -> Result<Spoken, String> {
    let mut file = SoundFile::from_bytes(Path::new("speech"), bytes).map_err(|e| e.to_string())?;
    let rate = file.rate();
    let mut samples = Vec::new();
    while let Ok(Some(block)) = file.next_block() {
        samples.extend_from_slice(block);
    }
    Ok(Spoken { samples, rate })
}
