//! A new user's first quarter of an hour: no plan, nothing typed, a synthetic voice in a virtual room.

use std::fs::DirEntry;
use std::process::Command as Program;
use std::time::Instant;

use anyhow::{Result, ensure};
use hushtally::plan::{Command, Dimension, Plan};
use hushtally::store::{Filter, Store};

use super::talk::{House, Talk, called};
use crate::room::Room;
use crate::speech::Voice;

/// From the end of the demo to the first logged try, set before it was measured.
const FIRST_SESSION_S: f64 = 180.0;

/// What is answered, and what is asked next.
const ANSWERS: [(&str, &str); 8] = [
    ("sandy", "What species?"),
    ("a small dog", "What is it to learn?"),
    ("lies down on the blanket", "The first small step?"),
    ("looks at the blanket", "The second step?"),
    ("one foot on the blanket", "The third step?"),
    ("all feet on the blanket", "The everyday treat?"),
    ("a piece of bread", "And a better treat?"),
    ("chicken", "to keep it"),
];

#[test]
fn without_a_plan_one_is_made_trained_by_and_changed_with_the_words_told_of() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let house = House::empty()?;
    let data = house.folder.path().join(".local/share/hushtally");
    let plans = data.join("plans");
    let is_plan = |file: &DirEntry| file.path().extension().is_some_and(|ending| ending == "toml");
    let made = || std::fs::read_dir(&plans).into_iter().flatten().flatten().filter(is_plan).count();
    // What demo/run does last, in a home with nothing in it; whoever follows its last lines types no more than the name.
    let begun = Instant::now();
    let link = Program::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/link"))
        .arg(env!("CARGO_BIN_EXE_hushtally"))
        .env("HOME", house.folder.path())
        .output()?;
    ensure!(link.status.success(), "{}", String::from_utf8_lossy(&link.stdout));
    let program = house.folder.path().join(".local/bin/hushtally");
    let mut talk = Talk::at_home(&room, &house, &program)?;
    talk.hears("What is the animal's name?")?;
    for (answer, next) in ANSWERS {
        talk.says(answer, next)?;
    }
    assert_eq!(made(), 0, "no plan is written before it is confirmed");
    assert!(plans.join("half-made.json").exists(), "what was said so far outlasts the program");
    talk.says("yes", "The plan is kept.")?;
    // What was dictated is as it was heard; its words are not this test's.
    talk.hears("or just mark the first one")?;
    talk.says(&called(Command::Begin), "Begun.")?;
    talk.does("yes", "rep")?;
    let took_s = begun.elapsed().as_secs_f64();
    println!("\nfirst_session_s\t{took_s:.0}");
    assert!(took_s <= FIRST_SESSION_S, "{took_s} s");
    talk.says(&called(Command::Finish), "1 try in")?;

    // What it is is asked for, and what is not quite a command asked about.
    talk.says(&called(Command::Help), "Before a session.")?;
    talk.says(&called(Command::WhatNext), "Lay out")?;
    talk.says(&called(Command::ChangePlan), "What is to be changed?")?;
    talk.types("step two is a hold of two seconds")?;
    talk.hears("held for 2 seconds")?;
    talk.says(&called(Command::ChangePlan), "Changed.")?;
    talk.says(&called(Command::Backup), "The record is copied")?;
    talk.says(&called(Command::Report), "The report is written")?;
    talk.says(&called(Command::HandOver), "")?;
    talk.types("wiegh in")?;
    talk.hears("Did you mean: weigh in?")?;
    talk.types("")?;
    talk.hears("How many grams?")?;
    talk.types("9500")?;
    talk.hears("9.5 kilograms")?;
    talk.says(&called(Command::Quit), "Goodbye.")?;
    let again = talk.again.clone();
    talk.ends_well()?;

    let store = Store::open(&data.join("record.db"))?;
    let sessions = store.sessions(&Filter::default())?;
    assert_eq!(sessions.len(), 1, "{sessions:?}; said again: {again:?}");
    assert_eq!((sessions[0].rewarded, sessions[0].missed), (1, 0));
    let files: Vec<_> = std::fs::read_dir(&plans)?.flatten().collect();
    assert_eq!(files.len(), 1, "{files:?}");
    let text = std::fs::read_to_string(files[0].path())?;
    let plan = Plan::parse("it.toml", &text)?;
    println!("{text}");
    assert_eq!(plan.steps.len(), 3);
    assert_eq!((plan.steps[1].dimension, plan.steps[1].goal), (Dimension::Duration, Some(2.0)));
    // The session keeps the plan that it was trained by.
    let trained = store.plan_of(sessions[0].id)?;
    assert_eq!(Plan::parse("then.toml", &trained.text)?.steps[1].goal, None);
    for folder in ["copies", "reports"] {
        assert_eq!(std::fs::read_dir(data.join(folder))?.count(), 1, "{folder}");
    }
    Ok(())
}
