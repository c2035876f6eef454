//! Plays sounds on a chosen output, on a thread of its own: asking for a sound never waits, so hearing
//! is never held up, whatever the output does.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use super::deck::{Asked, Deck, Stops};
use super::output::OutputOpener;
pub use super::sound::{DropReason, Lane, Played, Sound, SoundId};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;

/// Sounds asked for that the player's thread has not taken yet.
const ASKED: usize = 64;
/// Events that nobody has read yet; later ones are lost to a reader that does not read.
const UNREAD: usize = 256;
/// How often the player looks at what plays.
const LOOK: Duration = Duration::from_millis(5);
const IDLE_LOOK: Duration = Duration::from_millis(50);

/// The player did not take a sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum PlayError {
    /// Too many are waiting.
    #[error("too many sounds are waiting to be played")]
    TooMany,
    /// The player's thread has ended.
    #[error("the sound player has stopped")]
    Over,
}

/// Plays sounds. Cheap to clone, every clone the same player.
#[derive(Clone)]
pub struct Player {
    asked: SyncSender<Request>,
    stops: Stops,
    ids: Arc<AtomicU64>,
    clock: Clock,
}

enum Request {
    Play(Asked),
    Finish,
}

/// Waits for the player's thread.
pub struct PlayerThread(JoinHandle<()>);

impl PlayerThread {
    /// Whether the thread has ended.
    pub fn is_over(&self) -> bool {
        self.0.is_finished()
    }

    /// Waits until the thread has ended, at most `longest`; false if it has not.
    pub fn wait(self, clock: &Clock, longest: Duration) -> bool {
        let until = clock.now() + longest;
        while !self.0.is_finished() {
            if clock.now() >= until {
                return false;
            }
            std::thread::sleep(LOOK);
        }
        self.0.join().is_ok()
    }
}

impl Player {
    /// Starts a player on the chosen output. Without that output it starts all the same, says so
    /// through the receiver, and looks for it again and again.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub fn start(
        choice: DeviceChoice,
        clock: Clock,
    ) -> std::io::Result<(Self, Receiver<Played>, PlayerThread)> {
        Player::start_on(choice, clock)
    }

    pub(crate) fn start_on(
        opener: impl OutputOpener,
        clock: Clock,
    ) -> std::io::Result<(Self, Receiver<Played>, PlayerThread)> {
        let (asked, requests) = sync_channel(ASKED);
        let (tell, told) = sync_channel(UNREAD);
        let stops = Stops::default();
        let (deck_stops, deck_clock) = (stops.clone(), clock.clone());
        let thread = std::thread::Builder::new().name("player".to_owned()).spawn(move || {
            run(&mut Deck::new(opener, deck_stops), &deck_clock, &requests, &tell);
        })?;
        let ids = Arc::new(AtomicU64::new(1));
        Ok((Player { asked, stops, ids, clock }, told, PlayerThread(thread)))
    }

    /// Asks for a sound and returns at once.
    ///
    /// # Errors
    /// [`PlayError`] if the player cannot take it.
    pub fn play(&self, sound: Sound) -> Result<SoundId, PlayError> {
        let id = SoundId(self.ids.fetch_add(1, Ordering::Relaxed));
        let born = self.stops[sound.lane as usize].load(Ordering::Acquire);
        let asked = Asked { id, sound, at: self.clock.now(), born };
        match self.asked.try_send(Request::Play(asked)) {
            Ok(()) => Ok(id),
            Err(TrySendError::Full(_)) => Err(PlayError::TooMany),
            Err(TrySendError::Disconnected(_)) => Err(PlayError::Over),
        }
    }

    /// Stops all sounds of a lane, playing or waiting, within some 15 ms and the output's own delay.
    pub fn stop(&self, lane: Lane) {
        self.stops[lane as usize].fetch_add(1, Ordering::Release);
    }

    /// Asks the player to end once it has played what it has. Dropping every clone does the same.
    pub fn finish(&self) {
        // A full queue is played to its end, and then the player ends when the last clone is dropped.
        let _full_or_over = self.asked.try_send(Request::Finish);
    }
}

fn run(
    deck: &mut Deck<impl OutputOpener>,
    clock: &Clock,
    requests: &Receiver<Request>,
    tell: &SyncSender<Played>,
) {
    let mut finishing = false;
    let mut sounds_until = Duration::ZERO;
    loop {
        for event in deck.tick(clock.now()) {
            if let Played::Ended { at, .. } = event {
                sounds_until = sounds_until.max(at);
            }
            // A reader that has fallen this far behind misses events rather than stopping the sound.
            let _unread = tell.try_send(event);
        }
        // The output goes silent when it is closed, so the last sound must have left it.
        if finishing && !deck.is_busy() && clock.now() >= sounds_until {
            return;
        }
        let wait = if deck.is_busy() || finishing { LOOK } else { IDLE_LOOK };
        if finishing {
            std::thread::sleep(wait);
            continue;
        }
        match requests.recv_timeout(wait) {
            Ok(Request::Play(asked)) => deck.ask(asked),
            Ok(Request::Finish) | Err(RecvTimeoutError::Disconnected) => finishing = true,
            Err(RecvTimeoutError::Timeout) => {}
        }
    }
}
