//! The hearing thread: microphone and recogniser together, away from everything that may wait.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::audio::level::Meter;
use crate::audio::microphone::{self, Gap, GapReason, Microphone};
use crate::clock::Clock;
use crate::hear::{Ears, Heard};

/// How long to wait when there is no new sound.
const POLL: Duration = Duration::from_millis(4);
/// How often the status goes out.
const STATUS_EVERY: Duration = Duration::from_millis(100);

/// What the hearing thread tells.
#[derive(Debug)]
pub(super) enum FromEars {
    /// The microphone is open.
    Open { device: String },
    /// Something was heard.
    Heard(Heard),
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
}

/// How far hearing has come.
#[derive(Debug, Clone, Copy)]
pub(super) struct Passed {
    /// No tag with an earlier onset can still come.
    pub(super) settled: At,
    /// Session time and the clock's time of the same moment.
    pub(super) session: At,
    pub(super) now: Duration,
    pub(super) level_dbfs: f32,
    /// Samples are at the limit.
    pub(super) clipped: bool,
    pub(super) lost: u32,
}

/// A running hearing thread.
pub(super) struct EarsThread {
    stop: Arc<AtomicBool>,
    asked: Sender<ToEars>,
    thread: JoinHandle<Option<Ears>>,
}

impl EarsThread {
    /// Opens the microphone on a thread of its own and listens until told to stop.
    pub(super) fn start(
        choice: DeviceChoice,
        mut ears: Ears,
        clock: Clock,
        tell: UnboundedSender<FromEars>,
    ) -> Result<Self, DeviceError> {
        let stop = Arc::new(AtomicBool::new(false));
        let stopping = Arc::clone(&stop);
        let (opened, open) = std::sync::mpsc::channel();
        let (asked, asks) = std::sync::mpsc::channel();
        let thread = std::thread::Builder::new()
            .name("ears".to_owned())
            .spawn(move || {
                // Opened here, because some systems want a device used where it was opened.
                match Microphone::open(choice) {
                    Ok(mut microphone) => {
                        let _waiting = opened.send(Ok(()));
                        listen(&mut microphone, &mut ears, &clock, &tell, &asks, &stopping);
                        Some(ears)
                    }
                    Err(error) => {
                        let _waiting = opened.send(Err(error));
                        None
                    }
                }
            })
            .map_err(|error| DeviceError::NoSoundSystem { reason: error.to_string() })?;
        match open.recv() {
            Ok(Ok(())) => Ok(EarsThread { stop, asked, thread }),
            Ok(Err(error)) => Err(error),
            Err(_) => {
                Err(DeviceError::NoSoundSystem { reason: "the hearing thread ended".to_owned() })
            }
        }
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

fn listen(
    microphone: &mut Microphone,
    ears: &mut Ears,
    clock: &Clock,
    tell: &UnboundedSender<FromEars>,
    asks: &Receiver<ToEars>,
    stopping: &AtomicBool,
) {
    // When nobody listens to the thread any more, it is being stopped.
    let send = |message| tell.send(message).is_ok();
    let mut meter = Meter::over(300);
    let mut away = false;
    let mut told_at = Duration::ZERO;
    send(FromEars::Open { device: microphone.device().to_owned() });
    while !stopping.load(Ordering::Acquire) {
        let now = clock.now();
        while let Ok(asked) = asks.try_recv() {
            match asked {
                // Without the free recogniser there is nothing to note, and that is told at once.
                ToEars::Dictate if ears.dictate().is_err() => {
                    send(FromEars::Dictated(String::new()));
                }
                ToEars::Dictate => {}
            }
        }
        match microphone.poll(now) {
            Some(microphone::Heard::Frame(frame)) => {
                away = false;
                meter.hear(&frame);
                for heard in ears.hear(&frame) {
                    send(from_ears(heard));
                }
            }
            Some(microphone::Heard::Lost { at, why }) => {
                away = true;
                for heard in ears.finish() {
                    send(from_ears(heard));
                }
                send(FromEars::Lost { at, why });
            }
            Some(microphone::Heard::Gap(gap)) => {
                send(FromEars::Gap(gap));
            }
            None => std::thread::sleep(POLL),
        }
        if now >= told_at + STATUS_EVERY {
            told_at = now;
            let session = microphone.session_time(now);
            let tally = microphone.tally();
            let level = meter.level();
            let passed = Passed {
                settled: if away { session } else { ears.settled() },
                session,
                now,
                level_dbfs: level.rms_dbfs,
                clipped: level.clipped,
                lost: tally.xruns + tally.too_slow + tally.reopened,
            };
            if !send(FromEars::Passed(passed)) {
                return;
            }
        }
    }
    for heard in ears.finish() {
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
