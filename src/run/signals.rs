//! Ctrl-C, and what else tells the program to stop.

use anyhow::Context;
use tokio::signal::unix::{Signal, SignalKind, signal};

/// What tells the program to stop.
pub(super) struct Signals {
    interrupt: Signal,
    terminate: Signal,
}

impl Signals {
    pub(super) fn new() -> anyhow::Result<Self> {
        let on = |kind| signal(kind).context("no signals on this system");
        Ok(Signals {
            interrupt: on(SignalKind::interrupt())?,
            terminate: on(SignalKind::terminate())?,
        })
    }

    /// Waits until the program is told to stop.
    pub(super) async fn stop(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
        }
    }
}
