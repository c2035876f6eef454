//! A session spoken into the microphone: the right reps at the right times, on disk before they are told.

use std::time::Duration;

use anyhow::{Context, Result};
use hushtally::plan::{Command, Mood, RewardValue, Role, Side};
use hushtally::store::{Filter, Store};
use serde_json::{Value, json};

use super::listener::Stage;
use crate::room::Room;
use crate::speech::loud_segments;

/// Onsets may be off by this much; how exact they are in fact is measured by `tests/bench`.
const NEAR_S: f64 = 0.1;

#[test]
fn spoken_tags_become_reps_with_their_onsets() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    let microphone = room.record_mic()?;
    let said: [&[Role]; 6] = [
        &[Role::Command(Command::Begin)],
        &[Role::Marker],
        &[Role::Marker, Role::Step(2), Role::Side(Side::Left)],
        &[Role::Miss],
        &[Role::Mood(Mood::Tired)],
        &[Role::Marker, Role::Step(3), Role::Value(RewardValue::Jackpot)],
    ];
    stage.speak(&room, 1.5, &said)?;
    listener.until("four reps are told", |l| l.of("rep").len() + l.of("miss").len() == 4)?;
    let spoken = loud_segments(&microphone.finish(), 500, 0.7);
    stage.speak(&room, 1.0, &[&[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());

    // What was heard, in order.
    let heard: Vec<&Value> = listener.lines.iter().filter(|l| l["words"] != "").collect();
    let words: Vec<&str> = heard.iter().filter_map(|line| line["words"].as_str()).collect();
    let mut expected: Vec<String> = said.iter().map(|roles| stage.words(roles)).collect();
    expected.push(stage.words(&[Role::Command(Command::Finish)]));
    assert_eq!(words, expected, "{}", listener.all());
    let reps: Vec<Value> = heard
        .iter()
        .filter(|line| line["rep"].is_number())
        .map(|line| json!([line["rep"], line["step"], line["value"], line["side"]]))
        .collect();
    let expected = [
        json!([1, 1, "high", null]),
        json!([2, 2, "high", "left"]),
        json!([3, 1, null, null]),
        json!([4, 3, "jackpot", null]),
    ];
    assert_eq!(reps, expected, "{}", listener.all());
    assert_eq!(listener.of("state")[0]["mood"], "tired");

    // When, against the microphone's own recording. The two clocks started at different moments, so the
    // first word is their common zero.
    assert_eq!(spoken.len(), said.len(), "{spoken:?}");
    let at = |line: &Value| line["at_s"].as_f64().context("no time");
    let zero = at(heard[0])?;
    for (line, (onset, _)) in heard.iter().zip(&spoken) {
        let off = (at(line)? - zero) - (onset - spoken[0].0);
        assert!(
            off.abs() < NEAR_S,
            "{} is off by {off:.3} s: {spoken:?}\n{}",
            line["words"],
            listener.all()
        );
    }
    // Acknowledged means on disk: told with the time when it was, after it was said.
    for line in &heard {
        let saved = line["saved_s"].as_f64().context("not saved")?;
        assert!(saved > line["end_s"].as_f64().context("no end")?, "{line}");
    }

    // The record says the same as the lines.
    let store = Store::open(&stage.record())?;
    let sessions = store.sessions(&Filter::default())?;
    assert_eq!(sessions.len(), 1);
    let stored = store.reps(&Filter::default())?;
    let stored: Vec<f64> = stored.iter().map(|row| row.rep.at.as_secs_f64()).collect();
    let told: Vec<f64> =
        heard.iter().filter(|l| l["rep"].is_number()).map(|l| at(l)).collect::<Result<_>>()?;
    assert_eq!(stored.len(), told.len());
    for (stored, told) in stored.iter().zip(&told) {
        assert!((stored - told).abs() < 0.001, "{stored} {told}");
    }
    Ok(())
}

#[test]
fn the_microphone_may_be_pulled_out_and_put_back() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    stage.speak(&room, 1.0, &[&[Role::Marker], &[Role::Marker]])?;
    listener.until("two reps are told", |l| l.of("rep").len() == 2)?;

    room.unplug()?;
    listener.until("the loss is told", |l| l.remarked("looking for the microphone"))?;
    std::thread::sleep(Duration::from_secs(2));
    room.plug_in()?;
    listener.until("the microphone is back", |l| !l.of("gap").is_empty())?;
    stage.speak(&room, 1.0, &[&[Role::Marker], &[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());

    let numbers: Vec<Option<u64>> = listener.of("rep").iter().map(|l| l["rep"].as_u64()).collect();
    assert_eq!(numbers, [Some(1), Some(2), Some(3)], "{}", listener.all());
    let lasted = listener.of("gap")[0]["lasted_s"].as_f64().context("no length")?;
    assert!((1.0..20.0).contains(&lasted), "{lasted} s");
    let store = Store::open(&stage.record())?;
    assert_eq!(store.sessions(&Filter::default())?.len(), 1);
    assert_eq!(store.reps(&Filter::default())?.len(), 3);
    Ok(())
}

#[test]
fn a_marker_before_begin_is_kept_as_a_doubt_and_begins_nothing() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::begun_by_word()?;
    let mut listener = stage.listen(&room, &["--quiet"])?;
    let marker: &[Role] = &[Role::Marker];
    stage.speak(&room, 1.5, &[marker, &[Role::Command(Command::Begin)], marker])?;
    listener.until("a rep is told", |l| l.of("rep").len() == 1)?;
    stage.speak(&room, 1.5, &[&[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());
    let kinds: Vec<&Value> = listener.lines.iter().map(|line| &line["kind"]).collect();
    assert_eq!(kinds[..4], ["unsure", "command", "began", "said"], "{}", listener.all());
    assert_eq!(listener.of("unsure")[0]["other"], "said before the session began");
    // In the record it waits in the session that came.
    let rows = Store::open(&stage.record())?.sessions(&Filter::default())?;
    let counts: Vec<_> = rows.iter().map(|row| (row.rewarded, row.unsure)).collect();
    assert_eq!(counts, [(1, 1)]);
    Ok(())
}
