//! Ctrl-C, and what else tells the program to stop.

use std::future::poll_fn;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::Poll;
use std::time::Duration;

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

/// Whether the program was told to stop, for what waits without an event loop. Whoever listened to signals before has
/// taken them for good: without this nothing would end such a wait.
#[derive(Debug, Clone)]
pub(super) struct Stopped(Arc<AtomicBool>);

impl Stopped {
    /// Watches for `longest`. Where the system gives no thread or no signals, nothing is seen.
    pub(super) fn watch(longest: Duration) -> Self {
        let told = Arc::new(AtomicBool::new(false));
        let tell = Arc::clone(&told);
        let (ready, watching) = std::sync::mpsc::sync_channel(1);
        let watch = move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
            runtime.block_on(async {
                let mut signals = Signals::new()?;
                let _waited_for = ready.send(());
                if tokio::time::timeout(longest, signals.stop()).await.is_ok() {
                    tell.store(true, Ordering::Release);
                }
                anyhow::Ok(())
            })
        };
        // Without either the wait only lasts as long as it would have.
        let _thread = std::thread::Builder::new().name("stop".to_owned()).spawn(watch);
        let _ready_or_never = watching.recv();
        Stopped(told)
    }

    /// Whether it was.
    pub(super) fn came(&self) -> bool {
        self.0.load(Ordering::Acquire)
    }
}
