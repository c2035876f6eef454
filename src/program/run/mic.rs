//! A microphone that is listened to, on a thread of its own.

use std::sync::mpsc::Sender;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::ears_thread::{EarsThread, FromEars, Hearing, ToEars};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::clock::Clock;
use crate::hear::Ears;
use crate::hear::personal::Takes;

/// A microphone that is listened to, and what it reports.
pub(super) struct Mic {
    thread: EarsThread,
    asked: Sender<ToEars>,
    told: UnboundedReceiver<FromEars>,
}

impl Mic {
    /// Opens it and listens; reports the takes as well, when there is somebody to cut them.
    pub(super) fn open(
        choice: DeviceChoice,
        ears: Ears,
        takes: Option<Takes>,
        clock: &Clock,
    ) -> Result<Self, DeviceError> {
        let (tell, told) = unbounded_channel();
        let thread = EarsThread::start(choice, Hearing { ears, takes }, clock.clone(), tell)?;
        Ok(Mic { asked: thread.asked(), thread, told })
    }

    /// Takes a dictation from now on.
    pub(super) fn dictate(&self) {
        // A thread that has ended is reported by `next`.
        let _ended = self.asked.send(ToEars::Dictate);
    }

    /// Takes none any more; what was said up to now comes as one, if anything was.
    pub(super) fn leave_dictation(&self) {
        let _ended = self.asked.send(ToEars::LeaveDictation);
    }

    /// Wants to be told every level at once or not, and as soon as `settled` is.
    pub(super) fn want(&self, levels: bool, settled: Option<At>) {
        self.thread.wanted().set(levels, settled);
    }

    /// Stops listening. Gives the ears back, and what was heard up to now.
    pub(super) fn stop(mut self) -> (Option<Ears>, Vec<FromEars>) {
        let ears = self.thread.stop();
        self.told.close();
        let rest = std::iter::from_fn(|| self.told.try_recv().ok()).collect();
        (ears, rest)
    }

    /// What it reports next: nothing more once it has stopped, and never anything while there is none.
    pub(super) async fn next(mic: &mut Option<Mic>) -> Option<FromEars> {
        match mic {
            Some(mic) => mic.told.recv().await,
            None => std::future::pending().await,
        }
    }
}
