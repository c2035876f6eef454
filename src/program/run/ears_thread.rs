//! The hearing thread: microphone and recogniser together, away from everything that may wait.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::tags_in;
use crate::at::At;
use crate::audio::Frame;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::audio::level::Meter;
use crate::audio::microphone::{self, Gap, GapReason, Microphone};
use crate::clock::Clock;
use crate::hear::personal::{Take, Takes};
use crate::hear::{Ears, Heard};

/// How long to wait when there is no new sound: half of a whole frame.
const POLL: Duration = Duration::from_millis(8);
/// How often the level is taken.
const LEVEL_EVERY: Duration = Duration::from_millis(100);
/// How many levels are kept for who does not want them at once: those of a second.
const LEVELS_KEPT: usize = 10;

/// What the hearing thread reports.
#[derive(Debug)]
pub(super) enum FromEars {
    /// The microphone is open.
    Open { device: String },
    /// Something was heard.
    Heard(Heard),
    /// A segment of sound, and what the recogniser is sure that it is.
    Take { take: Take, taken_for: Option<String> },
    /// Sound went away; it is looked for until it is back.
    Lost { at: At, why: GapReason },
    /// Sound was missing and is back.
    Gap(Gap),
    /// A dictation has ended.
    Dictated(String),
    /// Time has passed.
    Passed(Passed),
}

/// What the hearing thread is told.
#[derive(Debug, Clone, Copy)]
pub(super) enum ToEars {
    /// Take a dictation.
    Dictate,
    /// Take none any more: what it was for was answered in another way.
    LeaveDictation,
}

/// How far hearing has come.
#[derive(Debug, Clone)]
pub(super) struct Passed {
    /// No tag with an earlier onset can still come.
    pub(super) settled: At,
    /// Session time and the clock's time of the same moment.
    pub(super) session: At,
    pub(super) now: Duration,
    /// Levels since this was last told, ten a second.
    pub(super) levels: Vec<Level>,
    pub(super) lost: u32,
}

/// How loud it was.
#[derive(Debug, Clone, Copy)]
pub(super) struct Level {
    /// When, by the steady clock.
    pub(super) at: Duration,
    /// RMS of the last 0.3 s.
    pub(super) dbfs: f32,
    /// Samples were at the limit.
    pub(super) clipped: bool,
}

/// When whoever drives wants to be told how far hearing has come. Otherwise that is told once a second.
#[derive(Debug)]
pub(super) struct Wanted {
    /// Every level at once.
    levels: AtomicBool,
    /// As soon as this session time is settled, in nanoseconds.
    settled: AtomicU64,
}

impl Wanted {
    const NEVER: u64 = u64::MAX;

    fn nothing() -> Self {
        Wanted { levels: AtomicBool::new(false), settled: AtomicU64::new(Wanted::NEVER) }
    }

    /// From now on: every level at once or not, and a word as soon as `settled` is.
    pub(super) fn set(&self, levels: bool, settled: Option<At>) {
        self.levels.store(levels, Ordering::Release);
        let nanos = settled.map_or(Wanted::NEVER, At::as_nanos);
        self.settled.store(nanos, Ordering::Release);
    }
}

/// What hears.
pub(super) struct Hearing {
    pub(super) ears: Ears,
    /// Cuts the sound for a lesson.
    pub(super) takes: Option<Takes>,
}

impl Hearing {
    fn hear(&mut self, frame: &Frame) -> Vec<FromEars> {
        let heard = self.ears.hear(frame);
        // Both cut the sound by the same gate, so a take and its tags come with the same frame.
        let takes = self.takes.as_mut().map_or_else(Vec::new, |takes| takes.hear(frame));
        let mut words = if takes.is_empty() { Vec::new() } else { tags_in(&heard) }.into_iter();
        let takes = takes.into_iter().map(|take| FromEars::Take { take, taken_for: words.next() });
        heard.into_iter().map(from_ears).chain(takes).collect()
    }
}

/// A running hearing thread.
pub(super) struct EarsThread {
    stop: Arc<AtomicBool>,
    wanted: Arc<Wanted>,
    asked: Sender<ToEars>,
    thread: JoinHandle<Option<Ears>>,
}

impl EarsThread {
    /// Opens the microphone on a thread of its own and listens until told to stop.
    pub(super) fn start(
        choice: DeviceChoice,
        mut hearing: Hearing,
        clock: Clock,
        tell: UnboundedSender<FromEars>,
    ) -> Result<Self, DeviceError> {
        let stop = Arc::new(AtomicBool::new(false));
        let stopping = Arc::clone(&stop);
        let wanted = Arc::new(Wanted::nothing());
        let wants = Arc::clone(&wanted);
        let (opened, open) = std::sync::mpsc::channel();
        let (asked, asks) = std::sync::mpsc::channel();
        let thread = std::thread::Builder::new()
            .name("ears".to_owned())
            .spawn(move || {
                // Opened here, because some systems want a device used where it was opened.
                match Microphone::open(choice) {
                    Ok(mut microphone) => {
                        let _waiting = opened.send(Ok(()));
                        let shared = Shared { stopping: &stopping, wanted: &wants };
                        listen(&mut microphone, &mut hearing, &clock, &tell, &asks, &shared);
                        Some(hearing.ears)
                    }
                    Err(error) => {
                        let _waiting = opened.send(Err(error));
                        None
                    }
                }
            })
            .map_err(|error| DeviceError::NoSoundSystem { reason: error.to_string() })?;
        match open.recv() {
            Ok(Ok(())) => Ok(EarsThread { stop, wanted, asked, thread }),
            Ok(Err(error)) => Err(error),
            Err(_) => {
                Err(DeviceError::NoSoundSystem { reason: "the hearing thread ended".to_owned() })
            }
        }
    }

    /// What is wanted of it.
    pub(super) fn wanted(&self) -> &Wanted {
        &self.wanted
    }

    /// Where it can be told something.
    pub(super) fn asked(&self) -> Sender<ToEars> {
        self.asked.clone()
    }

    /// Stops listening, lets what was being heard be decided, and gives the ears back.
    pub(super) fn stop(self) -> Option<Ears> {
        self.stop.store(true, Ordering::Release);
        // A panic in there was reported by itself; what had been heard has been told.
        let mut ears = self.thread.join().ok().flatten()?;
        ears.restart();
        Some(ears)
    }
}

/// What is shared with whoever drives.
struct Shared<'a> {
    stopping: &'a AtomicBool,
    wanted: &'a Wanted,
}

fn listen(
    microphone: &mut Microphone,
    hearing: &mut Hearing,
    clock: &Clock,
    tell: &UnboundedSender<FromEars>,
    asks: &Receiver<ToEars>,
    shared: &Shared<'_>,
) {
    // When nobody listens to the thread any more, it is being stopped.
    let send = |message| tell.send(message).is_ok();
    let mut meter = Meter::over(300);
    let mut away = false;
    let (mut levels, mut level_at) = (Vec::with_capacity(LEVELS_KEPT), Duration::ZERO);
    send(FromEars::Open { device: microphone.device().to_owned() });
    while !shared.stopping.load(Ordering::Acquire) {
        let now = clock.now();
        while let Ok(asked) = asks.try_recv() {
            match asked {
                // Without the free recogniser there is nothing to note, and that is told at once.
                ToEars::Dictate if hearing.ears.dictate().is_err() => {
                    send(FromEars::Dictated(String::new()));
                }
                ToEars::Dictate => {}
                ToEars::LeaveDictation => {
                    hearing.ears.leave_dictation().map(|heard| send(from_ears(heard)));
                }
            }
        }
        match microphone.poll(now) {
            Some(microphone::Heard::Frame(frame)) => {
                away = false;
                meter.hear(&frame);
                for message in hearing.hear(&frame) {
                    send(message);
                }
            }
            Some(microphone::Heard::Lost { at, why }) => {
                away = true;
                for heard in hearing.ears.finish() {
                    send(from_ears(heard));
                }
                send(FromEars::Lost { at, why });
            }
            Some(microphone::Heard::Gap(gap)) => {
                send(FromEars::Gap(gap));
            }
            None => std::thread::sleep(POLL),
        }
        let is_level = now >= level_at + LEVEL_EVERY;
        if is_level {
            level_at = now;
            let level = meter.level();
            levels.push(Level { at: now, dbfs: level.rms_dbfs, clipped: level.clipped });
        }
        let session = microphone.session_time(now);
        let settled = if away { session } else { hearing.ears.settled() };
        let Wanted { levels: at_once, settled: wanted } = shared.wanted;
        let due = settled.as_nanos() >= wanted.load(Ordering::Acquire);
        let enough = is_level && (at_once.load(Ordering::Acquire) || levels.len() >= LEVELS_KEPT);
        if due || enough {
            if due {
                wanted.store(Wanted::NEVER, Ordering::Release);
            }
            let faults = microphone.faults();
            let lost = faults.xruns + faults.too_slow + faults.reopened;
            let levels = std::mem::take(&mut levels);
            let passed = Passed { settled, session, now, levels, lost };
            if !send(FromEars::Passed(passed)) {
                return;
            }
        }
    }
    for heard in hearing.ears.finish() {
        send(from_ears(heard));
    }
}

/// What was dictated belongs to the dialogue, which knows what it was asked for.
fn from_ears(heard: Heard) -> FromEars {
    match heard {
        Heard::Note { text, .. } => FromEars::Dictated(text),
        heard => FromEars::Heard(heard),
    }
}
