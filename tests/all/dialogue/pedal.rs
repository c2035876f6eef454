//! A MIDI pedal, played by a named pipe in place of a device file.

use std::fs::{self, File};
use std::io::Write;
use std::path::PathBuf;
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

use anyhow::Result;
use hushtally::store::{Filter, JournalFilter, Store};

use super::talk::{House, Talk};
use crate::room::Room;

/// Note on and note off of channel 10, as a pad sends them.
const DOWN: [u8; 3] = [0x99, 36, 90];
const UP: [u8; 3] = [0x89, 36, 0];

/// A house whose settings name a pedal, and go on like this; and where the pedal is.
fn house_with_pedal(settings: &str) -> Result<(House, PathBuf)> {
    let house = House::new()?;
    let path = house.folder.path().join("midi");
    assert!(Command::new("mkfifo").arg(&path).status()?.success());
    let config = house.folder.path().join("hushtally");
    fs::create_dir(&config)?;
    fs::write(config.join("config.toml"), format!("midi_pedal = {path:?}\n{settings}"))?;
    Ok((house, path))
}

/// Down for this long.
fn press(pedal: &mut File, lasts_ms: u64) -> Result<()> {
    pedal.write_all(&DOWN)?;
    sleep(Duration::from_millis(lasts_ms));
    Ok(pedal.write_all(&UP)?)
}

#[test]
fn a_pedal_marks_pauses_and_takes_back_and_is_found_again_after_it_was_pulled_out() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let (house, path) = house_with_pedal("")?;

    let mut talk = Talk::start(&room, &house, None)?;
    talk.hears("Which one?")?;
    talk.types("2")?;
    talk.hears("Pepino, rests a foot")?;
    talk.types("begin")?;
    talk.hears("Begun.")?;
    let mut pedal = File::options().write(true).open(&path)?;
    press(&mut pedal, 150)?;
    talk.object("rep")?;
    pedal.write_all(&DOWN)?;
    talk.hears("Paused.")?;
    pedal.write_all(&UP)?;
    press(&mut pedal, 900)?;
    talk.hears("Going on.")?;
    press(&mut pedal, 80)?;
    sleep(Duration::from_millis(100));
    press(&mut pedal, 80)?;
    talk.object("take_back")?;

    drop(pedal);
    sleep(Duration::from_millis(200));
    let mut pedal = File::options().write(true).open(&path)?;
    press(&mut pedal, 150)?;
    talk.object("rep")?;
    press(&mut pedal, 150)?;
    talk.object("rep")?;
    talk.types_the_end("2 tries in")?;
    let rows = Store::open(&house.record())?.sessions(&Filter::default())?;
    assert_eq!((rows[0].rewarded, rows[0].missed), (2, 0));
    Ok(())
}

/// Presses when this is read.
fn takes(talk: &mut Talk, pedal: &mut File, item: &str) -> Result<()> {
    talk.hears(item)?;
    sleep(Duration::from_millis(300));
    press(pedal, 120)
}

/// No word is said, and no key is pressed, from choosing the animal to closing down.
#[test]
fn one_switch_is_enough_without_a_plan_named() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let (house, path) = house_with_pedal("[switch]\nscan_ms = 1500\n")?;

    let mut talk = Talk::start(&room, &house, None)?;
    talk.hears("Which one?")?;
    let mut pedal = File::options().write(true).open(&path)?;
    press(&mut pedal, 120)?;
    talk.hears("Brindle, lifts a hoof.")?;
    takes(&mut talk, &mut pedal, "Pepino, rests a foot on the nail file.")?;
    talk.hears("begin")?;
    press(&mut pedal, 120)?;
    talk.object("rep")?;
    for _ in 0..3 {
        press(&mut pedal, 80)?;
        sleep(Duration::from_millis(120));
    }
    talk.object("miss")?;
    press(&mut pedal, 900)?;
    talk.hears("Paused.")?;
    press(&mut pedal, 120)?;
    talk.hears("Carry on.")?;
    takes(&mut talk, &mut pedal, "What happened.")?;
    takes(&mut talk, &mut pedal, "A miss.")?;
    talk.hears("Going on.")?;
    talk.object("miss")?;
    press(&mut pedal, 900)?;
    talk.hears("Paused.")?;
    press(&mut pedal, 80)?;
    sleep(Duration::from_millis(120));
    press(&mut pedal, 80)?;
    talk.hears("3 tries in")?;
    press(&mut pedal, 900)?;
    talk.hears("Begin.")?;
    takes(&mut talk, &mut pedal, "Notes, weight and health.")?;
    takes(&mut talk, &mut pedal, "Weigh in.")?;
    talk.hears("How many grams?")?;
    takes(&mut talk, &mut pedal, "A number.")?;
    takes(&mut talk, &mut pedal, "5 to 9.")?;
    takes(&mut talk, &mut pedal, "9.")?;
    takes(&mut talk, &mut pedal, "That is it.")?;
    talk.hears("Pepino, 9 grams?")?;
    press(&mut pedal, 120)?;
    talk.hears("9 grams, kept.")?;
    press(&mut pedal, 900)?;
    takes(&mut talk, &mut pedal, "Close down.")?;
    talk.hears("Goodbye.")?;
    talk.ends_well()?;
    let store = Store::open(&house.record())?;
    let rows = store.sessions(&Filter::default())?;
    assert_eq!((rows[0].rewarded, rows[0].missed), (1, 2));
    assert_eq!(store.journal(&JournalFilter::default())?.len(), 1);
    Ok(())
}

#[test]
fn a_pedal_that_is_not_there_is_told_once_and_everything_else_works() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let house = House::new()?;
    let config = house.folder.path().join("hushtally");
    fs::create_dir(&config)?;
    fs::write(config.join("config.toml"), "midi_pedal = \"/no/such/pedal\"\n")?;
    let mut talk = Talk::start(&room, &house, None)?;
    talk.sees("no pedal at /no/such/pedal")?;
    talk.types("close down")?;
    talk.hears("Goodbye.")?;
    let told =
        |line: &&serde_json::Value| line.as_str().is_some_and(|line| line.contains("no pedal at"));
    assert_eq!(talk.lines.iter().filter(told).count(), 1, "{:?}", talk.lines);
    talk.ends_well()
}
