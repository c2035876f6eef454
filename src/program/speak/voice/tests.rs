//! A scripted engine and output: what is said, in which order, and how fast silence comes.

use std::num::NonZeroU32;
use std::sync::Mutex;
use std::time::Instant;

use super::super::engine::EspeakNg;
use super::*;
use crate::audio::device::{DeviceError, Recovery};
use crate::playback::output::{Output, OutputOpener};
use crate::playback::player::Played;
use crate::playback::source::Playing;

/// An output that takes samples as fast as they come, if it is switched on.
#[derive(Clone, Default)]
struct Ear {
    playing: Arc<Mutex<Vec<Playing>>>,
    beats: Arc<AtomicU64>,
}

impl Output for Ear {
    fn add(&mut self, sound: Playing) {
        self.playing.lock().unwrap().push(sound);
    }
    fn trouble(&mut self) -> Option<Recovery> {
        None
    }
    fn beats(&self) -> u64 {
        self.beats.fetch_add(1, Ordering::Relaxed)
    }
    fn latency(&self) -> Duration {
        Duration::ZERO
    }
    fn device(&self) -> &str {
        "ear"
    }
}

impl OutputOpener for Ear {
    fn open(&mut self) -> Result<Box<dyn Output>, DeviceError> {
        Ok(Box::new(self.clone()))
    }
}

/// Says sentences as a second of sound each, and remembers them.
#[derive(Clone, Default)]
struct Script {
    said: Arc<Mutex<Vec<String>>>,
    fails: bool,
}

impl Engine for Script {
    fn speak(&self, text: &str, _: &VoiceSettings) -> Result<Option<Spoken>, VoiceError> {
        if self.fails {
            return Err(VoiceError::Failed { reason: "no such voice".to_owned() });
        }
        self.said.lock().unwrap().push(text.to_owned());
        let rate = NonZeroU32::new(16_000).unwrap();
        Ok(Some(Spoken { samples: vec![0.5; 16_000], rate }))
    }
    fn stop(&self) {}
}

fn wait_for(mut what: impl FnMut() -> bool) {
    #[expect(clippy::disallowed_methods, reason = "a test with real threads needs a real limit")]
    let started = Instant::now();
    while !what() {
        assert!(started.elapsed() < Duration::from_secs(10), "waited in vain");
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn voice(script: &Script, ear: &Ear) -> (Voice, Receiver<Played>) {
    let clock = Clock::real();
    let (player, played, _thread) = Player::start_on(ear.clone(), clock.clone()).unwrap();
    let voice = Voice::start_with(script.clone(), VoiceSettings::default(), player, clock).unwrap();
    (voice, played)
}

#[test]
fn texts_are_said_sentence_by_sentence_in_order() {
    let (script, ear) = (Script::default(), Ear::default());
    let (voice, _played) = voice(&script, &ear);
    voice.say("Ten reps. Nine rewarded.").unwrap();
    voice.say("Well done!").unwrap();
    wait_for(|| !voice.is_preparing());
    assert_eq!(*script.said.lock().unwrap(), ["Ten reps.", "Nine rewarded.", "Well done!"]);
}

#[test]
fn a_stop_cuts_what_sounds_and_forgets_what_waits() {
    let (script, ear) = (Script::default(), Ear::default());
    let (voice, played) = voice(&script, &ear);
    voice.say("One. Two. Three.").unwrap();
    wait_for(|| ear.playing.lock().unwrap().len() == 1);
    assert!(ear.playing.lock().unwrap()[0].next().is_some(), "it sounds");
    voice.stop();
    let left = ear.playing.lock().unwrap()[0].by_ref().count();
    assert!(left <= 16 * 16, "{left} samples after the stop, at 16 a millisecond");
    voice.say("Four.").unwrap();
    wait_for(|| ear.playing.lock().unwrap().len() == 2);
    let events: Vec<Played> = played.try_iter().collect();
    let dropped = events.iter().filter(|e| matches!(e, Played::Dropped { .. })).count();
    assert!(dropped <= 2 && events.iter().any(|e| matches!(e, Played::Ended { cut: true, .. })));
    assert_eq!(script.said.lock().unwrap().last().unwrap(), "Four.");
}

#[test]
fn a_voice_that_fails_is_told_and_the_next_text_is_tried() {
    let script = Script { fails: true, ..Script::default() };
    let (voice, _played) = voice(&script, &Ear::default());
    voice.say("One.").unwrap();
    wait_for(|| !voice.is_preparing());
    let said = voice.failure().unwrap().to_string();
    assert!(said.contains("no such voice") && said.contains("still printed"), "{said}");
    voice.say("Two.").unwrap();
    wait_for(|| voice.failure().is_some());
}

#[test]
fn settings_are_brought_within_bounds() {
    let (mut voice, _played) = voice(&Script::default(), &Ear::default());
    voice.set(VoiceSettings {
        words_a_minute: 9_000,
        level_dbfs: 40.0,
        voice: Some("en".to_owned()),
        program: None,
    });
    assert_eq!((voice.settings().words_a_minute, voice.settings().level_dbfs), (450, -12.0));
    voice.set(VoiceSettings {
        words_a_minute: 0,
        level_dbfs: f32::NAN,
        voice: Some("en".to_owned()),
        program: None,
    });
    assert_eq!((voice.settings().words_a_minute, voice.settings().level_dbfs), (80, -28.0));
}

#[test]
fn speech_has_the_level_that_is_asked_for_and_never_clips() {
    let rate = NonZeroU32::new(16_000).unwrap();
    let wave = |i: u32| (f64::from(i) * 0.1).sin() as f32 * if i < 8_000 { 0.9 } else { 0.0 };
    let spoken = |level| at_level(Spoken { samples: (0..16_000).map(wave).collect(), rate }, level);
    let quiet = spoken(-28.0);
    let rms = (quiet.samples[..8_000].iter().map(|s| s * s).sum::<f32>() / 8_000.0).sqrt();
    assert!((20.0 * rms.log10() + 28.0).abs() < 0.3, "{rms}");
    assert!(spoken(40.0).samples.iter().all(|s| s.abs() <= PEAK + 1e-6));
    assert!(
        at_level(Spoken { samples: vec![0.0; 10], rate }, -20.0).samples.iter().all(|s| *s == 0.0)
    );
}

#[test]
fn a_missing_program_says_how_to_get_it() {
    let error = EspeakNg::find("no-such-speech-program").err().unwrap();
    assert!(matches!(error, VoiceError::Missing { .. }));
    assert!(error.to_string().contains("sudo apt install no-such-speech-program"));
}

#[test]
fn espeak_ng_makes_sound_where_it_is_installed() {
    let Ok(engine) = EspeakNg::find("espeak-ng") else {
        println!("skipped: espeak-ng is not installed");
        return;
    };
    let settings = VoiceSettings::default();
    // A text that looks like an option is only a text.
    let spoken = engine.speak("--help, nine of ten.", &settings).unwrap().unwrap();
    let seconds = spoken.samples.len() as f64 / f64::from(spoken.rate.get());
    assert!((0.8..5.0).contains(&seconds), "{seconds} s");
    let wrong = VoiceSettings { voice: Some("no such voice".to_owned()), ..settings };
    let error = engine.speak("One.", &wrong).err().unwrap();
    assert!(matches!(error, VoiceError::Failed { .. }), "{error}");
    println!("{error}");
}
