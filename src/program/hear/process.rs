//! The recogniser's process, as the program holds it: started, asked, started again when it ends over a sound.
//! Foreign code may end at any moment or never answer; here both are an answer like others.
//!
//! libvosk ends its program over a damaged model. So it ends a process of its own, that was tried out before the session, that
//! is started again when it ends over a sound (which is said, and a gap in the log), and that is limited in memory and time.
//! What does not hear does not start it.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::{CommandExt, ExitStatusExt};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use super::model::{ModelError, with_our_settings};
use super::wire::{self, Ask, Told};

/// The program beside ours.
const PROGRAM: &str = "hushtally-recogniser";
/// Longest wait for a model to load, which may be big and its disk slow; and for any other answer.
const TO_LOAD: Duration = Duration::from_secs(90);
const TO_ANSWER: Duration = Duration::from_secs(20);
/// Ends over this many segments in a row are enough: then nothing more is heard.
const IN_A_ROW: u32 = 3;
/// Memory that it may address, in KiB: this much, and [`TIMES_MODEL`] times the size of its model. The small English one takes
/// 1.8 GiB, most of it never touched; a damaged one asks for all there is.
const MEMORY_KIB: u64 = 3 << 20;
const TIMES_MODEL: u64 = 10;
/// Starts it within that, and without core files, which would hold sound.
const LIMITED: &str = "ulimit -c 0; ulimit -v \"$1\"; exec \"$0\"";
/// The dynamic loader's status when a shared library is missing.
const NO_LIBRARY: i32 = 127;

/// The recogniser's process with its model, shared by all that ask it.
#[derive(Clone)]
pub(super) struct Process(Arc<Mutex<Held>>);

struct Held {
    /// The model's folder.
    folder: PathBuf,
    running: Option<Running>,
    /// What was started, to be started again.
    recognisers: BTreeMap<usize, (Option<Vec<String>>, u16)>,
    next: usize,
    /// Segments in a row that it ended over, and whether one of them has not been reported yet.
    ended: u32,
    lost: bool,
}

/// It has ended, or does not answer.
#[derive(Debug)]
struct Gone;

impl Process {
    /// Starts it and loads the model.
    ///
    /// # Errors
    /// [`ModelError`] when program or library are missing, or it does not come through with this model.
    pub(super) fn start(folder: &Path) -> Result<Self, ModelError> {
        let running = Some(Running::with_model(folder)?);
        let folder = folder.to_owned();
        let recognisers = BTreeMap::new();
        let held = Held { folder, running, recognisers, next: 0, ended: 0, lost: false };
        Ok(Process(Arc::new(Mutex::new(held))))
    }

    fn held(&self) -> MutexGuard<'_, Held> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// For each word whether the model knows it; none is known to a process that has ended.
    pub(super) fn known(&self, words: &[&str]) -> Vec<bool> {
        let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
        let count = words.len();
        match self.held().ask(Ask::Known { words }) {
            Ok(Told::Known(known)) if known.len() == count => known,
            _ => vec![false; count],
        }
    }

    /// Makes a recogniser and tries it out; its number. `None` when it does not start with these lines.
    ///
    /// # Errors
    /// [`ModelError::Crashed`] when the process ended over it.
    pub(super) fn recogniser(
        &self,
        lines: Option<Vec<String>>,
        alternatives: u16,
    ) -> Result<Option<usize>, ModelError> {
        let mut held = self.held();
        let recogniser = held.next;
        match held.ask(Ask::Start { recogniser, lines: lines.clone(), alternatives }) {
            Ok(Told::Done) => {
                held.next += 1;
                held.recognisers.insert(recogniser, (lines, alternatives));
                Ok(Some(recogniser))
            }
            Ok(_) => Ok(None),
            Err(Gone) => Err(held.end()),
        }
    }

    /// Gives it more of a segment.
    pub(super) fn feed(&self, recogniser: usize, samples: &[i16]) {
        // Where it has ended, `finish` says so.
        let samples = samples.to_vec();
        let _gone = self.held().tell(&Ask::Feed { recogniser, samples });
    }

    /// Ends a segment; its readings. `None` where it ended over it: then it is started again, and
    /// [`Process::take_lost`] reports it once.
    pub(super) fn finish(&self, recogniser: usize) -> Option<Vec<wire::Alternative>> {
        let mut held = self.held();
        if let Ok(Told::Read(read)) = held.ask(Ask::Finish { recogniser }) {
            held.ended = 0;
            return Some(read);
        }
        held.start_again();
        None
    }

    /// Lets a recogniser go.
    pub(super) fn stop(&self, recogniser: usize) {
        let mut held = self.held();
        held.recognisers.remove(&recogniser);
        let _gone = held.tell(&Ask::Stop { recogniser });
    }

    /// Processor time that it has used; zero once it has ended.
    pub(super) fn worked(&self) -> Duration {
        match self.held().ask(Ask::Worked) {
            Ok(Told::Worked(time)) => time,
            _ => Duration::ZERO,
        }
    }

    /// Whether it ended over sound since this was last asked.
    pub(super) fn take_lost(&self) -> bool {
        std::mem::take(&mut self.held().lost)
    }

    /// Whether nothing is heard any more.
    pub(super) fn has_given_up(&self) -> bool {
        self.held().running.is_none()
    }
}

impl Held {
    fn tell(&mut self, ask: &Ask) -> Result<(), Gone> {
        self.running.as_mut().ok_or(Gone)?.tell(ask)
    }

    fn ask(&mut self, ask: Ask) -> Result<Told, Gone> {
        self.running.as_mut().ok_or(Gone)?.ask(&ask, TO_ANSWER)
    }

    /// Takes leave of the process, and says why.
    fn end(&mut self) -> ModelError {
        match self.running.take() {
            Some(running) => running.why_gone(&self.folder),
            None => ModelError::Crashed { folder: self.folder.clone(), said: String::new() },
        }
    }

    fn start_again(&mut self) {
        self.lost = true;
        self.ended += 1;
        if self.running.is_none() {
            return;
        }
        let why = self.end();
        if self.ended >= IN_A_ROW {
            tracing::warn!("nothing more is heard, typed words and keys still count: {why}");
            return;
        }
        match self.another() {
            Ok(running) => {
                tracing::warn!("the recogniser ended over a sound and was started again: {why}");
                self.running = Some(running);
            }
            Err(error) => {
                tracing::warn!("nothing more is heard, typed words and keys still count: {error}")
            }
        }
    }

    /// A new process in the state of the last.
    fn another(&self) -> Result<Running, ModelError> {
        let mut running = Running::with_model(&self.folder)?;
        for (&recogniser, (lines, alternatives)) in &self.recognisers {
            let (lines, alternatives) = (lines.clone(), *alternatives);
            match running.ask(&Ask::Start { recogniser, lines, alternatives }, TO_ANSWER) {
                Ok(Told::Done) => {}
                _ => return Err(running.why_gone(&self.folder)),
            }
        }
        Ok(running)
    }
}

/// One process. Its pipes have threads of their own, so that nobody waits for one that hangs.
struct Running {
    child: Child,
    to: Option<Sender<Vec<u8>>>,
    from: Receiver<Told>,
    said: Option<JoinHandle<String>>,
}

impl Running {
    fn with_model(folder: &Path) -> Result<Self, ModelError> {
        // The model itself is the user's: it is read through links beside settings of our own. The
        // library reads all of it now, so the links go away again at once.
        let seen = with_our_settings(folder);
        if let Err(error) = &seen {
            tracing::warn!("hearing works with the model's own settings, less well: {error}");
        }
        let path = seen.as_ref().map_or(folder, |seen| seen.path());
        let mut running = Running::start(MEMORY_KIB + TIMES_MODEL * (size_of(folder) >> 10))?;
        let load = Ask::Load { folder: path.to_string_lossy().into_owned() };
        match running.ask(&load, TO_LOAD) {
            Ok(Told::Done) => Ok(running),
            Ok(_) => {
                Err(ModelError::Broken { folder: folder.to_owned(), what: "a usable graph".into() })
            }
            Err(Gone) => Err(running.why_gone(folder)),
        }
    }

    fn start(memory_kib: u64) -> Result<Self, ModelError> {
        let no = |why: std::io::Error| ModelError::NoProgram(why.to_string());
        let mut child = Command::new("/bin/sh")
            .args(["-c", LIMITED])
            .arg(program().map_err(no)?)
            .arg(memory_kib.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            // Ctrl-C on the terminal is for the session, which still has to hear what was said before it.
            .process_group(0)
            .spawn()
            .map_err(no)?;
        let pipes = (child.stdin.take(), child.stdout.take(), child.stderr.take());
        let (Some(mut stdin), Some(stdout), Some(stderr)) = pipes else {
            return Err(ModelError::NoProgram("it has no pipes".to_owned()));
        };
        let (to, lines) = channel::<Vec<u8>>();
        let (tell, from) = channel();
        let thread = |name: &str| std::thread::Builder::new().name(name.to_owned());
        thread("to recogniser")
            .spawn(move || {
                // Its end is seen by who reads.
                for line in lines {
                    if stdin.write_all(&line).is_err() {
                        break;
                    }
                }
            })
            .map_err(no)?;
        thread("from recogniser")
            .spawn(move || {
                let mut stdout = BufReader::new(stdout);
                while let Ok(Some(told)) = wire::read(&mut stdout) {
                    if tell.send(told).is_err() {
                        break;
                    }
                }
            })
            .map_err(no)?;
        let said = thread("recogniser says").spawn(move || last_words(stderr)).map_err(no)?;
        Ok(Running { child, to: Some(to), from, said: Some(said) })
    }

    fn tell(&mut self, ask: &Ask) -> Result<(), Gone> {
        let line = wire::line(ask).map_err(|_| Gone)?;
        self.to.as_ref().and_then(|to| to.send(line).ok()).ok_or(Gone)
    }

    fn ask(&mut self, ask: &Ask, patience: Duration) -> Result<Told, Gone> {
        self.tell(ask)?;
        self.from.recv_timeout(patience).map_err(|_| Gone)
    }

    /// Why it does not answer any more.
    fn why_gone(mut self, folder: &Path) -> ModelError {
        let status = self.stop();
        let said = self.said.take().and_then(|said| said.join().ok()).unwrap_or_default();
        if status.and_then(|status| status.code()) == Some(NO_LIBRARY) {
            return ModelError::NoLibrary(said);
        }
        let signal = status.and_then(|status| status.signal());
        let said = match (said.as_str(), signal) {
            ("", Some(signal)) => format!("signal {signal}"),
            ("", None) => "it does not answer".to_owned(),
            _ => said,
        };
        ModelError::Crashed { folder: folder.to_owned(), said }
    }

    /// Ends it. One that has ended by itself keeps its own status.
    fn stop(&mut self) -> Option<ExitStatus> {
        self.to = None;
        if !matches!(self.child.try_wait(), Ok(Some(_))) {
            let _ended = self.child.kill();
        }
        self.child.wait().ok()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The last line that is more than a stack's address.
fn last_words(from: impl std::io::Read) -> String {
    let mut last = String::new();
    let mut from = BufReader::new(from);
    let mut line = Vec::new();
    while from.read_until(b'\n', &mut line).is_ok_and(|count| count > 0) {
        let text = String::from_utf8_lossy(&line);
        let text = text.trim();
        tracing::debug!("recogniser: {text}");
        if ["ERROR", "ASSERTION", "terminate", "what()", "error while", "hushtally-recogniser:"]
            .iter()
            .any(|begin| text.contains(begin))
        {
            last = text.chars().take(300).collect();
        }
        line.clear();
    }
    last
}

/// Size of the files in a model's folder, in bytes.
fn size_of(folder: &Path) -> u64 {
    super::whole::files_in(folder).map_or(0, |files| files.values().map(|meta| meta.len()).sum())
}

/// Beside our own program; above a test's program; or where packages put what only we start.
fn program() -> std::io::Result<PathBuf> {
    let own = std::env::current_exe()?;
    let folder = own.parent().unwrap_or(Path::new("."));
    let folder = if folder.ends_with("deps") { folder.parent().unwrap_or(folder) } else { folder };
    let places = [folder.join(PROGRAM), folder.join("../lib/hushtally").join(PROGRAM)];
    let missing = || std::io::Error::other(format!("there is no {}", places[0].display()));
    places.iter().find(|place| place.is_file()).cloned().ok_or_else(missing)
}
