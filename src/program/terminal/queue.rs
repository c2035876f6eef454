//! Printing that never waits, for what must go on whoever reads: a queue with an end, and a thread that writes. What
//! does not fit is left out by whole lines, counted, and reported.

use std::io::{self, Write};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// This many lines wait for a slow reader. A session prints about one a second.
const WAITING: usize = 2_048;
/// How often it is looked whether all was written.
const LOOK: Duration = Duration::from_millis(10);

/// Lines on their way to one stream.
pub(super) struct Queue {
    lines: SyncSender<Vec<u8>>,
    state: Mutex<State>,
    /// Lines that are not written yet.
    unwritten: Arc<AtomicUsize>,
}

#[derive(Default)]
struct State {
    begun: Vec<u8>,
    left_out: u64,
}

/// What became of something to print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Put {
    /// It is on its way.
    Taken,
    /// It was left out, and is the first.
    FirstLeftOut,
    /// It was left out, as was something before.
    LeftOut,
}

impl Queue {
    /// A queue before `write`, which may wait as long as it likes.
    ///
    /// # Errors
    /// The system gives no thread.
    pub(super) fn start(mut write: impl FnMut(&[u8]) + Send + 'static) -> io::Result<Self> {
        let (lines, waiting) = sync_channel::<Vec<u8>>(WAITING);
        let unwritten = Arc::new(AtomicUsize::new(0));
        let left = Arc::clone(&unwritten);
        std::thread::Builder::new().name("print".to_owned()).spawn(move || {
            while let Ok(line) = waiting.recv() {
                write(&line);
                left.fetch_sub(1, Ordering::AcqRel);
            }
        })?;
        Ok(Queue { lines, state: Mutex::default(), unwritten })
    }

    /// Takes something to print, and returns at once; parts of a line wait for its end.
    pub(super) fn put(&self, bytes: &[u8]) -> Put {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        // Never fails.
        let _ = state.begun.write_all(bytes);
        if !bytes.ends_with(b"\n") {
            return Put::Taken;
        }
        let line = std::mem::take(&mut state.begun);
        self.unwritten.fetch_add(1, Ordering::AcqRel);
        match self.lines.try_send(line) {
            Ok(()) => Put::Taken,
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {
                self.unwritten.fetch_sub(1, Ordering::AcqRel);
                state.left_out += 1;
                if state.left_out == 1 { Put::FirstLeftOut } else { Put::LeftOut }
            }
        }
    }

    /// Waits until all is written, at most `longest`; how many lines never were.
    pub(super) fn drain(&self, longest: Duration) -> u64 {
        let mut waited = Duration::ZERO;
        while self.unwritten.load(Ordering::Acquire) > 0 && waited < longest {
            std::thread::sleep(LOOK);
            waited += LOOK;
        }
        let state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        state.left_out + self.unwritten.load(Ordering::Acquire) as u64
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;

    #[test]
    fn a_reader_that_stops_reading_holds_nobody_up_and_lines_stay_whole() {
        let (read_on, may_read) = channel::<()>();
        let page = Arc::new(Mutex::new(Vec::new()));
        let written = Arc::clone(&page);
        let queue = Queue::start(move |line| {
            // Until somebody reads.
            let _ = may_read.recv();
            written.lock().unwrap().extend_from_slice(line);
        })
        .unwrap();
        let mut firsts = 0;
        for number in 0..WAITING + 100 {
            queue.put(format!("{number}").as_bytes());
            firsts += usize::from(queue.put(b" a line\n") == Put::FirstLeftOut);
        }
        assert_eq!(firsts, 1, "told once");
        let left_out = queue.drain(Duration::ZERO) - WAITING as u64;
        assert!((98..=101).contains(&left_out), "{left_out}");
        drop(read_on);
        let left_out = queue.drain(Duration::from_secs(20));
        assert!((99..=100).contains(&left_out), "{left_out}");
        let page = String::from_utf8(page.lock().unwrap().clone()).unwrap();
        assert!(page.lines().all(|line| line.ends_with(" a line")), "{page}");
        assert_eq!(page.lines().count() as u64 + left_out, WAITING as u64 + 100);
    }
}
