//! The program is killed in mid-session: what it acknowledged is there, and the session goes on by voice.

use std::time::Duration;

use anyhow::{Context, Result};
use hushtally::plan::{Command, Role};
use hushtally::store::{Filter, Store};

use super::listener::Stage;
use crate::room::Room;

#[test]
fn what_was_acknowledged_survives_a_kill_and_the_session_goes_on_by_voice() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    stage.speak(&room, 1.0, &[&[Role::Marker], &[Role::Marker, Role::Step(2)], &[Role::Miss]])?;
    listener.until("three reps are told", |l| l.of("rep").len() + l.of("miss").len() == 3)?;
    // Killed while it works on something that it has not acknowledged.
    let speaking = stage.folder.path().join("said.wav");
    let mut mouth = room.command("paplay").arg("--device=mic").arg(&speaking).spawn()?;
    std::thread::sleep(Duration::from_millis(1_500));
    let before = listener.kill()?;
    mouth.wait()?;
    let acknowledged: Vec<f64> = before
        .lines
        .iter()
        .filter(|line| line["rep"].is_number())
        .map(|line| line["at_s"].as_f64().context("no time"))
        .collect::<Result<_>>()?;

    let mut listener = stage.listen(&room, &["--quiet"])?;
    let kept = Store::open_read_only(&stage.record())?.reps(&Filter::default())?;
    assert!(kept.len() >= acknowledged.len(), "{} of {}", kept.len(), acknowledged.len());
    for (kept, told) in kept.iter().zip(&acknowledged) {
        assert!((kept.rep.at.as_secs_f64() - told).abs() < 0.001, "{kept:?} {told}");
    }
    listener.until("it offers to go on", |l| !l.of("said").is_empty())?;
    let offer = listener.of("said")[0]["text"].as_str().context("no text")?.to_owned();
    let go_on = stage.words(&[Role::Command(Command::GoOn)]);
    assert!(offer.contains(&go_on), "the offer does not say what to say: {offer}");
    assert!(offer.contains("Pepino"), "{offer}");

    stage.speak(&room, 1.0, &[&[Role::Command(Command::GoOn)], &[Role::Marker]])?;
    listener.until("a rep is told", |l| !l.of("rep").is_empty())?;
    assert_eq!(listener.of("rep")[0]["rep"], kept.len() + 1, "{}", listener.all());
    stage.speak(&room, 1.0, &[&[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());

    let store = Store::open(&stage.record())?;
    let sessions = store.sessions(&Filter::default())?;
    assert_eq!(sessions.len(), 1, "the session went on, no second one began");
    assert!(store.open_sessions()?.is_empty(), "it is finished now");
    let reps = store.reps(&Filter::default())?;
    assert_eq!(reps.len(), kept.len() + 1);
    let times: Vec<f64> = reps.iter().map(|row| row.rep.at.as_secs_f64()).collect();
    assert!(times.is_sorted(), "{times:?}");
    // The time in which the program was dead is a pause, not training.
    let active = reps[kept.len()].rep.active.saturating_sub(reps[kept.len() - 1].rep.active);
    assert!(active < Duration::from_secs(6), "{active:?}");
    Ok(())
}

#[test]
fn a_session_goes_on_by_the_words_it_began_with_and_the_next_is_by_those_of_now() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let mut stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    stage.speak(&room, 1.0, &[&[Role::Marker]])?;
    listener.until("a rep is told", |l| l.of("rep").len() == 1)?;
    listener.kill()?;

    let before = stage.plan.clone();
    stage.change("marker = \"good\"\n")?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    listener.until("it offers to go on", |l| !l.of("said").is_empty())?;
    let offer = listener.of("said")[0]["text"].as_str().context("no text")?.to_owned();
    assert!(offer.contains("The plan was changed since"), "{offer}");
    stage.speak(&room, 1.0, &[&[Role::Command(Command::GoOn)]])?;
    listener.until("it goes on", |l| !l.of("command").is_empty())?;
    stage.plan = before;
    stage.speak(&room, 2.0, &[&[Role::Marker], &[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());
    assert_eq!(listener.of("rep")[0]["words"], "yes", "{}", listener.all());
    let store = Store::open(&stage.record())?;
    let sessions = store.sessions(&Filter::default())?;
    assert_eq!(sessions.len(), 1);
    assert_eq!(sessions[0].rewarded, 2);
    Ok(())
}

#[test]
fn anything_else_said_begins_a_new_session_and_keeps_the_old_one() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    stage.speak(&room, 1.0, &[&[Role::Marker]])?;
    listener.until("a rep is told", |l| l.of("rep").len() == 1)?;
    listener.kill()?;

    let mut listener = stage.listen(&room, &["--quiet"])?;
    stage.speak(&room, 1.0, &[&[Role::Marker], &[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());
    assert_eq!(listener.of("rep")[0]["rep"], 1, "{}", listener.all());
    let store = Store::open(&stage.record())?;
    assert_eq!(store.sessions(&Filter::default())?.len(), 2);
    assert!(store.open_sessions()?.is_empty());
    Ok(())
}
