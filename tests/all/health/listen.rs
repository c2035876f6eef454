//! A person who trains with `listen` while a health concern is open.

use anyhow::Result;
use assert_cmd::Command;
use hushtally::store::{Filter, Store};

use crate::dialogue::talk::{House, Talk};
use crate::room::Room;

/// Writes to the record by the program itself.
fn write(house: &House, arguments: &[&str]) {
    Command::new(env!("CARGO_BIN_EXE_hushtally"))
        .env("HUSHTALLY_DB", house.record())
        .env("HUSHTALLY_HOME", house.folder.path())
        .args(arguments)
        .assert()
        .success();
}

const ONE: &str = "\
animal,species,behaviour,began,session,outcome,at_s,step,working
Pepino,cockatiel,rests a foot on the nail file,2026-01-02 17:00:00,1,high,4.0,1,1
";

#[test]
fn an_open_concern_is_said_first_and_training_takes_its_command_twice() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let house = House::new()?;
    let notes = house.folder.path().join("notes.csv");
    std::fs::write(&notes, ONE)?;
    write(&house, &["import", &notes.to_string_lossy(), "--zone", "Europe/Berlin"]);
    write(&house, &["body", "Pepino", "ill", "sneezes"]);
    let mut talk = Talk::start(&room, &house, None)?;
    talk.hears("Which one?")?;
    talk.types("2")?;
    let says = "Pepino: noted ill today: sneezes; no training is planned until you say Pepino is well; see a veterinarian.";
    assert!(talk.next_said()?.starts_with(says), "{:?}", talk.last_said());
    // Neither a marker nor the command said once begins a session.
    talk.types("")?;
    talk.hears("once more")?;
    talk.types("begin")?;
    talk.hears("once more")?;
    assert!(!talk.lines.iter().any(|line| line["kind"] == "began"), "{:?}", talk.lines);
    talk.types("begin")?;
    talk.hears("Begun")?;
    talk.types("yes")?;
    talk.types("finish")?;
    // The recap, too, begins with it.
    talk.hears(says)?;
    talk.types("close down")?;
    talk.hears("Goodbye.")?;
    let rows = Store::open(&house.record())?.sessions(&Filter::default())?;
    assert_eq!(rows.len(), 2, "{rows:?}");
    Ok(())
}
