//! One soft sound on one output, to find out by ear which it is.

use std::sync::mpsc::Receiver;
use std::time::Duration;

use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::nudge::signals::{Signal, Signals};
use crate::playback::player::{Played, Player, Sound};
use crate::wording::text;

/// An output that has played nothing for this long is passed over.
const LONGEST: Duration = Duration::from_secs(6);
/// This much louder than the nudge in training: nobody knows yet how loud this output is.
const LOUDER_DB: f32 = 6.0;

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Trial {
    /// Not over yet.
    Sounding,
    /// It was played to its end.
    Played,
    /// The output does not open.
    Failed(String),
}

/// A sound on its way.
pub(super) struct TrialSound {
    player: Player,
    played: Receiver<Played>,
    clock: Clock,
    give_up_at: Duration,
    over_at: Option<Duration>,
}

impl TrialSound {
    /// Asks for the sound and returns at once.
    ///
    /// # Errors
    /// If the system gives no thread.
    pub(super) fn start(choice: DeviceChoice, clock: &Clock) -> std::io::Result<Self> {
        let (player, played, _ends_by_itself) = Player::start(choice, clock.clone())?;
        let give_up_at = clock.now() + LONGEST;
        let mut trial =
            TrialSound { player, played, clock: clock.clone(), give_up_at, over_at: None };
        trial.play();
        Ok(trial)
    }

    fn play(&mut self) {
        // The longest of the signals, so that it is surely noticed, with its soft edges.
        let signals = Signals::built_in();
        let sound =
            Sound { stale_after: None, ..Sound::nudge(signals.get(Signal::EndSoon), LOUDER_DB) };
        // A player that takes nothing is given up below.
        let _full_or_over = self.player.play(sound);
    }

    /// How it stands.
    pub(super) fn look(&mut self) -> Trial {
        while let Ok(played) = self.played.try_recv() {
            match played {
                Played::OutputAway { error } => return Trial::Failed(error.to_string()),
                Played::Dropped { .. } => {
                    return Trial::Failed(text("screen.output_takes_nothing"));
                }
                Played::Ended { cut: true, .. } => {
                    return Trial::Failed(text("screen.output_went_away"));
                }
                Played::Ended { at, .. } => self.over_at = Some(at),
                Played::Started { .. } | Played::OutputReady { .. } => {}
            }
        }
        let now = self.clock.now();
        match self.over_at {
            Some(over_at) if now >= over_at => Trial::Played,
            None if now >= self.give_up_at => Trial::Failed(text("screen.output_plays_nothing")),
            _ => Trial::Sounding,
        }
    }
}
