//! Ctrl-C, and what else tells the program to stop.

use std::future::poll_fn;
use std::task::Poll;

use anyhow::Context;
use tokio::signal::unix::{Signal, SignalKind, signal};

/// What tells the program to stop: Ctrl-C, the system, a terminal that was closed, Ctrl-\, a file that may not grow any
/// more. Without this the last three would end it where it stands, and leave a terminal that shows no keys.
pub struct Signals(Vec<Signal>);

impl Signals {
    /// Hears them from now on.
    ///
    /// # Errors
    /// The system has no signals.
    pub fn new() -> anyhow::Result<Self> {
        let too_large = SignalKind::from_raw(rustix::process::Signal::XFSZ.as_raw());
        let all = [
            SignalKind::interrupt(),
            SignalKind::terminate(),
            SignalKind::hangup(),
            SignalKind::quit(),
            too_large,
        ];
        let heard = all.map(|kind| signal(kind).context("no signals on this system"));
        Ok(Signals(heard.into_iter().collect::<Result<_, _>>()?))
    }

    /// Waits until the program is told to stop.
    pub async fn stop(&mut self) {
        poll_fn(|context| {
            let came = self.0.iter_mut().any(|signal| signal.poll_recv(context).is_ready());
            if came { Poll::Ready(()) } else { Poll::Pending }
        })
        .await;
    }
}
