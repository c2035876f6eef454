//! Whole sound checks in a virtual room, by voice alone and by keys alone.

use std::ffi::OsStr;
use std::thread;
use std::time::Duration;

use anyhow::Result;
use hushtally::config::{EarKind, Settings};
use hushtally::plan::{Command, Words};
use hushtally::soundcheck::prompts;
use hushtally::speak::{VoiceSettings, voices};

use crate::dialogue::talk::{House, Noise, Talk, called};
use crate::room::Room;
use crate::speech::{Voice, loud_segments};

/// About -60 dBFS: the sounds of the check stand above it.
const AUDIBLE: u16 = 30;
/// Set before it was measured: what the page of the verb promises, and half as much again for a busy machine.
const LONGEST_S: f64 = 270.0;

fn begin<'a>(room: &'a Room, house: &'a House) -> Result<Talk<'a>> {
    let arguments: [&OsStr; 2] = ["soundcheck".as_ref(), "--json".as_ref()];
    Talk::start_verb(room, house, None, &arguments)
}

fn settings(house: &House) -> Result<Settings> {
    Ok(Settings::load(&house.folder.path().join("hushtally/config.toml"))?)
}

#[test]
fn everything_is_set_up_by_voice_alone() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    room.add_output("bud")?;
    let house = House::new()?;
    let mut talk = begin(&room, &house)?;
    talk.hears("be quiet")?;
    talk.hears("Now say yes")?;
    talk.speak("yes")?;
    talk.hears("Soft sounds come now")?;
    let bud = room.record_output("bud")?;
    talk.sees("a soft sound on default")?;
    // Nothing is said to the first one.
    talk.sees("a soft sound on bud")?;
    thread::sleep(Duration::from_millis(1_500));
    talk.says("yes", "Do only you hear this?")?;
    let played = loud_segments(&bud.finish(), AUDIBLE, 0.7);
    assert!(!played.is_empty(), "nothing sounded on the second output");
    talk.says("yes", "Say each one after me.")?;
    let mut asked = 0;
    let told = loop {
        let said = talk.next_said()?;
        if said.starts_with("I heard") {
            break said;
        }
        asked += 1;
        talk.speak(&said)?;
    };
    let words = prompts(&Words::english());
    println!("\n{told}\nasked {asked} times for {} words", words.len());
    talk.says(&called(Command::Slower), "Slower, like this.")?;
    talk.says("yes", "Output: bud, an earphone. The voice as it is now. Say yes to keep this.")?;
    assert_eq!(settings(&house)?, Settings::default(), "nothing is kept before it is confirmed");
    talk.says("yes", "Kept.")?;
    let summary = talk.object("soundcheck")?;
    talk.ends_well()?;

    let of = words.len() as u64;
    assert_eq!(summary["asked"], of);
    // A synthetic voice alone in the room: nearly every word must come through. Set before it was measured.
    let heard = summary["heard"].as_u64().unwrap_or_default();
    assert!(heard * 10 >= of * 9, "{summary}");
    let took_s = summary["took_s"].as_f64().unwrap_or(f64::MAX);
    println!("soundcheck_words_heard\t{heard}\nsoundcheck_took_s\t{took_s}");
    assert!(took_s < LONGEST_S, "{took_s} s");
    let kept = settings(&house)?;
    assert_eq!(kept.mic.as_deref(), Some("default"));
    assert_eq!(kept.ear.as_deref(), Some("bud"));
    assert_eq!(kept.ear_kind, Some(EarKind::Earphone));
    assert_eq!(kept.words_a_minute, Some(125), "five sixths of 150");
    assert!(kept.noise_dbfs.is_some_and(|dbfs| dbfs < -80.0), "{kept:?}");
    Ok(())
}

#[test]
fn everything_is_set_up_by_keys_alone() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let house = House::new()?;
    let mut talk = begin(&room, &house)?;
    talk.hears("Now say yes")?;
    talk.types("")?;
    talk.hears("Soft sounds")?;
    talk.sees("a soft sound on default")?;
    talk.types("")?;
    talk.hears("Do only you hear this?")?;
    talk.types("miss")?;
    talk.hears("Say each one after me.")?;
    for _ in prompts(&Words::english()) {
        talk.next_said()?;
        talk.types("")?;
    }
    talk.hears("one earphone is better")?;
    talk.hears("This is how I speak.")?;
    talk.types("miss")?;
    talk.hears("This is another voice")?;
    talk.types("louder")?;
    talk.hears("Louder, like this.")?;
    talk.types("")?;
    talk.hears("to keep this")?;
    talk.types("")?;
    talk.hears("Kept.")?;
    talk.ends_well()?;
    let kept = settings(&house)?;
    assert_eq!(kept.ear_kind, Some(EarKind::Loudspeaker));
    let default = VoiceSettings::default();
    assert_eq!(kept.voice.as_ref(), voices(&default).get(1), "the second one");
    assert_eq!((kept.voice_dbfs, kept.nudge_db), (Some(-24.0), Some(4.0)));
    Ok(())
}

#[test]
fn with_nobody_in_the_room_nothing_is_kept() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let house = House::new()?;
    let mut talk = begin(&room, &house)?;
    talk.hears("Now say yes")?;
    talk.hears("I can't hear you on any microphone.")?;
    assert_eq!(talk.exit_code()?, Some(4));
    assert_eq!(settings(&house)?, Settings::default());
    assert!(!house.folder.path().join("hushtally").exists());
    Ok(())
}

#[test]
fn our_own_voice_from_a_loudspeaker_answers_nothing() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    room.ear_reaches_mic()?;
    let house = House::new()?;
    let mut talk = begin(&room, &house)?;
    talk.hears("Now say yes")?;
    talk.types("")?;
    talk.sees("a soft sound on default")?;
    talk.types("")?;
    talk.hears("Do only you hear this?")?;
    talk.types("miss")?;
    // It says each word itself, and the microphone hears that.
    talk.hears("I do not hear you any more")?;
    talk.hears("I heard 0 of 2 words.")?;
    talk.hears("Nothing was kept")?;
    talk.ends_well()?;
    assert_eq!(settings(&house)?, Settings::default());
    Ok(())
}

#[test]
fn in_noise_it_is_told_that_speech_is_too_near_to_it_and_close_down_keeps_nothing() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let house = House::new()?;
    let arguments: [&OsStr; 2] = ["soundcheck".as_ref(), "--json".as_ref()];
    let noise = Some(Noise { below_speech_db: 7.0 });
    let mut talk = Talk::start_verb(&room, &house, noise, &arguments)?;
    talk.hears("Now say yes")?;
    for _ in 0..2 {
        talk.says(
            "yes",
            "Come nearer to the microphone, or make the room quieter. Then say yes again.",
        )?;
    }
    talk.says("yes", "Come nearer to the microphone")?;
    talk.types("close down")?;
    talk.hears("Nothing was kept")?;
    let summary = talk.object("soundcheck")?;
    println!("\n{summary}");
    talk.ends_well()?;
    assert_eq!(summary["advice"][0]["advice"], "nearer");
    // Speech is measured at its loudest moment, so it stands some decibels higher than on the whole.
    let above_db = summary["above_db"].as_f64().unwrap_or_default();
    assert!((6.0..15.0).contains(&above_db), "{above_db} dB");
    assert_eq!(settings(&house)?, Settings::default());
    Ok(())
}
