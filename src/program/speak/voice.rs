//! Says texts one after the other, on a thread of its own, and falls silent at once when told to.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

use super::engine::{Engine, Spoken};
use super::installed::Installed;
use super::own_program::OwnProgram;
use super::pace::paced;
use super::sentences::sentences;
use super::settings::{VoiceError, VoiceSettings};
use crate::clock::Clock;
use crate::playback::player::{Lane, PlayError, Player, Sound};

/// No sample of speech comes closer to full scale.
const PEAK: f32 = 0.7;
/// How often something that waits looks again.
const LOOK: Duration = Duration::from_millis(5);

struct Text {
    text: String,
    settings: VoiceSettings,
    /// Count of stops at the time of asking.
    born: u64,
}

/// Reads texts aloud.
pub struct Voice {
    texts: Sender<Text>,
    failures: Receiver<VoiceError>,
    engine: Arc<dyn Engine + Sync>,
    player: Player,
    stops: Arc<AtomicU64>,
    /// Texts that are not wholly handed to the player yet.
    unsaid: Arc<AtomicUsize>,
    settings: VoiceSettings,
}

impl Voice {
    /// A voice that speaks through `player`.
    ///
    /// # Errors
    /// [`VoiceError::Missing`] if neither flite nor espeak-ng is installed, and no other program is set.
    pub fn start(
        settings: VoiceSettings,
        player: Player,
        clock: Clock,
    ) -> Result<Self, VoiceError> {
        let installed = Installed::find();
        match settings.program.clone() {
            Some(program) => {
                let own = OwnProgram::new(program, installed.ok());
                Voice::start_with(own, settings, player, clock)
            }
            None => Voice::start_with(installed?, settings, player, clock),
        }
    }

    pub(crate) fn start_with(
        engine: impl Engine + Sync,
        settings: VoiceSettings,
        player: Player,
        clock: Clock,
    ) -> Result<Self, VoiceError> {
        let engine: Arc<dyn Engine + Sync> = Arc::new(engine);
        let (texts, asked) = channel::<Text>();
        let (tell, failures) = channel();
        let (stops, unsaid) = (Arc::new(AtomicU64::new(0)), Arc::new(AtomicUsize::new(0)));
        let speaker = Speaker {
            engine: Arc::clone(&engine),
            player: player.clone(),
            stops: Arc::clone(&stops),
            clock,
        };
        let done = Arc::clone(&unsaid);
        std::thread::Builder::new()
            .name("voice".to_owned())
            .spawn(move || {
                for text in asked {
                    if let Err(failure) = speaker.say(&text) {
                        // Nobody has to listen; the text is printed as well.
                        let _unread = tell.send(failure);
                    }
                    done.fetch_sub(1, Ordering::AcqRel);
                }
            })
            .map_err(|_| VoiceError::Over)?;
        Ok(Voice { texts, failures, engine, player, stops, unsaid, settings: settings.bounded() })
    }

    /// Says `text` after whatever is being said, and returns at once.
    ///
    /// # Errors
    /// [`VoiceError::Over`] if the voice's thread has ended.
    pub fn say(&self, text: &str) -> Result<(), VoiceError> {
        let born = self.stops.load(Ordering::Acquire);
        let text = Text { text: text.to_owned(), settings: self.settings.clone(), born };
        self.unsaid.fetch_add(1, Ordering::AcqRel);
        self.texts.send(text).map_err(|_| {
            self.unsaid.fetch_sub(1, Ordering::AcqRel);
            VoiceError::Over
        })
    }

    /// Silence, at once: what is being said is cut off, what waits is forgotten.
    pub fn stop(&self) {
        self.stops.fetch_add(1, Ordering::Release);
        self.player.stop(Lane::Speech);
        self.engine.stop();
    }

    /// True while a text is being turned into speech. What has been handed to the player may still
    /// sound after that; see [`Played`](crate::playback::player::Played).
    pub fn is_preparing(&self) -> bool {
        self.unsaid.load(Ordering::Acquire) > 0
    }

    /// Why a text was not said, if one was not.
    pub fn failure(&self) -> Option<VoiceError> {
        self.failures.try_recv().ok()
    }

    /// How it speaks.
    pub fn settings(&self) -> &VoiceSettings {
        &self.settings
    }

    /// Speaks otherwise from the next text on; values out of bounds are brought to the nearest bound.
    pub fn set(&mut self, settings: VoiceSettings) {
        self.settings = settings.bounded();
    }
}

/// What the voice's thread works with.
struct Speaker {
    engine: Arc<dyn Engine + Sync>,
    player: Player,
    stops: Arc<AtomicU64>,
    clock: Clock,
}

impl Speaker {
    fn say(&self, text: &Text) -> Result<(), VoiceError> {
        for sentence in sentences(&text.text) {
            if self.is_stopped(text) {
                return Ok(());
            }
            let Some(spoken) = self.engine.speak(&sentence, &text.settings)? else { return Ok(()) };
            self.play(text, at_level(paced(spoken), text.settings.level_dbfs))?;
        }
        Ok(())
    }

    fn is_stopped(&self, text: &Text) -> bool {
        self.stops.load(Ordering::Acquire) != text.born
    }

    /// Hands the sound to the player, waiting while that is full.
    fn play(&self, text: &Text, spoken: Spoken) -> Result<(), VoiceError> {
        let sound = Sound {
            samples: spoken.samples.into(),
            rate: spoken.rate,
            lane: Lane::Speech,
            stale_after: None,
        };
        let until = self.clock.now() + Duration::from_secs(120);
        while !self.is_stopped(text) && self.clock.now() < until {
            match self.player.play(sound.clone()) {
                Ok(_) => {
                    // A stop between the look above and the playing must win.
                    if self.is_stopped(text) {
                        self.player.stop(Lane::Speech);
                    }
                    return Ok(());
                }
                Err(PlayError::TooMany) => std::thread::sleep(LOOK),
                Err(PlayError::Over) => return Err(VoiceError::Over),
            }
        }
        Ok(())
    }
}

/// Brings speech to a loudness, measured over the parts that are not silent.
fn at_level(mut spoken: Spoken, level_dbfs: f32) -> Spoken {
    let peak = spoken.samples.iter().fold(0f32, |peak, s| peak.max(s.abs()));
    let loud: Vec<f32> =
        spoken.samples.iter().map(|s| s * s).filter(|p| p.sqrt() > 0.05 * peak).collect();
    if loud.is_empty() {
        return spoken;
    }
    let rms = (loud.iter().sum::<f32>() / loud.len() as f32).sqrt();
    let gain = (10f32.powf(level_dbfs / 20.0) / rms).min(PEAK / peak);
    for sample in &mut spoken.samples {
        *sample *= gain;
    }
    spoken
}

#[cfg(test)]
mod tests;
