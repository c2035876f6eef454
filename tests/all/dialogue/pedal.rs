//! A MIDI pedal, played by a named pipe in place of a device file.

use std::fs::{self, File};
use std::io::Write;
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

use anyhow::Result;
use hushtally::store::{Filter, Store};

use super::talk::{House, Talk};
use crate::room::Room;

/// Note on and note off of channel 10, as a pad sends them.
const DOWN: [u8; 3] = [0x99, 36, 90];
const UP: [u8; 3] = [0x89, 36, 0];

/// Down for this long.
fn press(pedal: &mut File, lasts_ms: u64) -> Result<()> {
    pedal.write_all(&DOWN)?;
    sleep(Duration::from_millis(lasts_ms));
    Ok(pedal.write_all(&UP)?)
}

#[test]
fn a_pedal_marks_pauses_and_takes_back_and_is_found_again_after_it_was_pulled_out() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let house = House::new()?;
    let path = house.folder.path().join("midi");
    assert!(Command::new("mkfifo").arg(&path).status()?.success());
    let config = house.folder.path().join("hushtally");
    fs::create_dir(&config)?;
    fs::write(config.join("config.toml"), format!("midi_pedal = {path:?}\n"))?;

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
