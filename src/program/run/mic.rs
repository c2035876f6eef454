//! A microphone that may be missing: what settling, the sound check and the quiz listen to.

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::ears_thread::{EarsThread, FromEars};
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::clock::Clock;
use crate::hear::Ears;

/// A microphone that is listened to, and what it tells.
pub(super) struct Mic {
    thread: EarsThread,
    told: UnboundedReceiver<FromEars>,
}

impl Mic {
    /// Opens it and listens.
    pub(super) fn open(
        choice: DeviceChoice,
        ears: Ears,
        clock: &Clock,
    ) -> Result<Self, DeviceError> {
        let (tell, told) = unbounded_channel();
        let thread = EarsThread::start(choice, ears, clock.clone(), tell)?;
        Ok(Mic { thread, told })
    }

    /// Stops listening, and gives the ears back.
    pub(super) fn stop(self) -> Option<Ears> {
        self.thread.stop()
    }

    /// What it tells next: nothing more once it has stopped, and never anything while there is none.
    pub(super) async fn next(mic: &mut Option<Mic>) -> Option<FromEars> {
        match mic {
            Some(mic) => mic.told.recv().await,
            None => std::future::pending().await,
        }
    }
}
