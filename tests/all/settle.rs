//! Doubts of a session settled: by voice in a virtual room, by lines, and by nobody at all.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::Command as Program;

use anyhow::{Context, Result, bail};
use hushtally::clock::Clock;
use hushtally::interpret::{Details, NotCounted, Said};
use hushtally::plan::{Command, Plan, RewardValue, Side};
use hushtally::session::{Event, Input, MissedBecause, Outcome};
use hushtally::store::{Change, Content, Edit, Entry, EventId, JournalFilter, SessionId, Store};

use crate::dialogue::talk::{House, Talk, called};
use crate::review::demo::{PLAN, put};
use crate::room::Room;
use crate::speech::Voice;
use crate::typed::{type_to, without_sound};

/// A session of three reps, a miss and three doubts.
fn fill(record: &Path) -> Result<SessionId> {
    let store = Store::open(record)?;
    let (clock, _) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let rep = || Input::said(Said::Rep(Details::default()), "yes");
    let doubt = |words: &str, other: &str| {
        let (words, other) = (words.to_owned(), other.into());
        Input::Doubted { words, other }
    };
    let tags = [
        (4.0, rep()),
        (9.0, rep()),
        (14.0, doubt("yes two", "yes to")),
        (21.0, Input::said(Said::Miss(Details::default()), "miss")),
        (26.0, doubt("miss", "yes three left")),
        (33.0, rep()),
        (40.0, doubt("yes", "yet")),
    ];
    put(&store, &clock, PLAN, 1, &tags)
}

/// A rep's time in seconds, its step, and how it went.
type Seen = (f64, u8, Outcome);

/// What counts now, and how many doubts wait.
fn state(record: &Path, session: SessionId) -> Result<(Vec<Seen>, usize)> {
    let folded = Store::open(record)?.fold(session)?;
    assert!(folded.aimless.is_empty(), "{:?}", folded.aimless);
    let reps = folded.reps.iter().map(|rep| {
        let rep = &rep.rep;
        (rep.at.as_secs_f64(), rep.step, rep.outcome)
    });
    Ok((reps.collect(), folded.summary.unsure))
}

/// Who wrote which edits.
fn signed(record: &Path, session: SessionId) -> Result<Vec<Option<String>>> {
    let events = Store::open(record)?.events(session)?;
    let by = |content| match content {
        Content::Edit(edit) => Some(edit.by),
        Content::Event(_) => None,
    };
    Ok(events.into_iter().filter_map(|stored| by(stored.content)).collect())
}

#[test]
fn what_another_said_is_asked_last() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let store = Store::open(&folder.path().join("h.db"))?;
    let (clock, _) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let doubt = |other: &str| Input::Doubted { words: "yes".into(), other: other.into() };
    let tags = [
        (4.0, Input::said(Said::Rep(Details::default()), "yes")),
        (5.0, doubt(NotCounted::SaidByAnother.name())),
        (9.0, doubt("yet")),
        (12.0, doubt(NotCounted::SaidByAnother.name())),
    ];
    let session = put(&store, &clock, PLAN, 1, &tags)?;
    let plan = Plan::parse("plan.toml", PLAN)?;
    let asked = hushtally::run::doubts(&plan, &store.fold(session)?, &store.events(session)?);
    let at: Vec<f64> = asked.iter().map(|(_, _, at)| at.as_secs_f64()).collect();
    assert_eq!(at, [9.0, 5.0, 12.0]);
    Ok(())
}

#[test]
fn three_doubts_are_settled_by_voice_alone() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !Voice::USUAL.is_here() {
        return Ok(());
    }
    let house = House::new()?;
    let record = house.record();
    let session = fill(&record)?;
    let (before, waiting) = state(&record, session)?;
    assert_eq!((before.len(), waiting), (4, 3));
    let arguments = ["review", "--db", "", "settle", "--json", "--person", "Ada"].map(OsStr::new);
    let mut arguments = arguments;
    arguments[2] = record.as_os_str();
    let mut talk = Talk::start_verb(&room, &house, None, &arguments)?;
    talk.hears("3 tags to settle, of Pepino.")?;
    talk.hears("1 of 3. At 10 seconds: perhaps yes two, or yes to. 5 seconds before it, try 2")?;
    talk.says("yes", "2 of 3. At 22 seconds: perhaps miss, or yes three left.")?;
    talk.says("correction", "3 of 3. At 36 seconds: perhaps yes, or yet.")?;
    talk.says("yes", "That was the last one.")?;
    talk.says("cancel", "3 of 3.")?;
    talk.says("miss", "That was the last one.")?;
    talk.says(
        &called(Command::Finish),
        "Done, 2 tries: 2 rewarded, none missed; 1 that was nothing.",
    )?;
    let summary = talk.object("settled")?;
    println!("\n{summary}; said again: {:?}", talk.again);
    talk.ends_well()?;

    let plan = Plan::parse("demo.toml", PLAN)?;
    let usual = |step| Outcome::Rewarded(plan.default_value(step, 1));
    let missed = Outcome::Missed(MissedBecause::Said);
    let expected = vec![
        (4.0, 1, usual(1)),
        (9.0, 1, usual(1)),
        (14.0, 2, usual(2)),
        (21.0, 1, missed),
        (26.0, 3, usual(3)),
        (33.0, 1, usual(1)),
    ];
    assert_eq!(state(&record, session)?, (expected, 0));
    let sides: Vec<Option<Side>> =
        Store::open(&record)?.fold(session)?.reps.iter().map(|rep| rep.rep.side).collect();
    assert_eq!(sides[4], Some(Side::Left));
    // Two reps, one that was taken back, its end, and nothing: five events, none of them written over.
    let edits = signed(&record, session)?;
    assert_eq!(edits, vec![Some("Ada".to_owned()); 5]);
    let count = |name: &str| summary[name].as_u64();
    assert_eq!((count("reps"), count("nothing"), count("left")), (Some(2), Some(1), Some(0)));
    Ok(())
}

#[test]
fn our_own_voice_from_a_loudspeaker_settles_nothing_and_silence_ends_it() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    room.ear_reaches_mic()?;
    let house = House::new()?;
    let record = house.record();
    let session = fill(&record)?;
    let before = state(&record, session)?;
    let mut arguments = ["review", "--db", "", "settle", "--json"].map(OsStr::new);
    arguments[2] = record.as_os_str();
    let mut talk = Talk::start_verb(&room, &house, None, &arguments)?;
    talk.hears("1 of 3.")?;
    talk.hears("1 of 3.")?;
    talk.hears("Nothing was settled; 3 still to settle.")?;
    talk.ends_well()?;
    assert_eq!(state(&record, session)?, before);
    assert_eq!(signed(&record, session)?, []);
    Ok(())
}

/// The program where there is no sound device, nor settings.
fn program(record: &Path) -> Program {
    let nowhere = record.with_extension("nowhere");
    let mut program = without_sound(&nowhere);
    program.env("XDG_CONFIG_HOME", &nowhere).env_remove("HUSHTALLY_MIC");
    program
}

/// The verb on this record.
fn settles(record: &Path) -> Program {
    let mut program = program(record);
    program.args(["review", "--db"]).arg(record);
    program.args(["settle", "--type", "--quiet", "--plain"]);
    program
}

/// The same, with these lines typed: its exit code, and what it printed.
fn type_lines(record: &Path, lines: &str) -> Result<(Option<i32>, String)> {
    type_to(&mut settles(record), lines)
}

/// `hushtally listen` of this plan, with these lines typed.
fn listens(record: &Path, lines: &str) -> Result<(Option<i32>, String)> {
    let plan = record.with_extension("toml");
    std::fs::write(&plan, PLAN)?;
    let mut program = program(record);
    program.args(["listen", "--type", "--quiet", "--plain", "--person", "Ada", "--db"]);
    type_to(program.args([record, &plan]), lines)
}

/// Settling, the quiz, a lesson and a sound check (for which there is no microphone here), and a test of a cue, one after
/// the other from the same place; what they keep is on disk, and the place is there again after each.
#[test]
fn from_inside_listen_everything_can_be_begun_and_comes_back() -> Result<()> {
    if !crate::needs::model() {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let record = folder.path().join("record.db");
    let session = fill(&record)?;
    let (code, told) = listens(
        &record,
        "juniper settle doubts\nyes\ncorrection\njuniper finish\n\
         juniper learn nudges\none\njuniper finish\n\
         juniper teach words\njuniper choose microphone\n\
         juniper probe result\nyes\nyes\n\
         juniper close down\n",
    )?;
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("3 tags to settle, of Pepino."), "{told}");
    assert_eq!(told.matches("Back with Pepino").count(), 4, "{told}");
    assert_eq!(told.matches("That cannot be done now: no microphone").count(), 1, "{told}");
    assert!(told.contains("I can't hear you on any microphone"), "{told}");
    assert!(told.contains("The probe is kept"), "{told}");
    assert!(told.trim_end().ends_with("Goodbye."), "{told}");
    assert_eq!(state(&record, session)?.1, 1);
    let ada = Some("Ada".to_owned());
    assert_eq!(signed(&record, session)?, [ada.clone(), ada.clone()]);
    let entries = Store::open(&record)?.journal(&JournalFilter::default())?;
    let probes = entries.iter().filter(|entry| matches!(entry.entry, Entry::Probe { .. }));
    assert_eq!(probes.map(|entry| entry.person.clone()).collect::<Vec<_>>(), [ada]);
    Ok(())
}

#[test]
fn latest_reaches_what_was_heard_while_no_session_was_under_way() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let record = folder.path().join("record.db");
    let begun = fill(&record)?;
    let store = Store::open(&record)?;
    let (clock, _) = Clock::fake("2026-03-01T08:30:00Z".parse()?);
    let doubt =
        Input::Doubted { words: "yes".into(), other: "said before the session began".into() };
    let stray = put(&store, &clock, PLAN, 1, &[(4.0, doubt)])?;
    drop(store);
    assert_eq!(state(&record, stray)?.1, 1);
    type_lines(&record, "miss\n")?;
    assert_eq!((state(&record, stray)?.1, state(&record, begun)?.1), (0, 3));
    // Once nothing waits there, it is the latest session that was begun.
    type_lines(&record, "yes\nfinish\n")?;
    assert_eq!(state(&record, begun)?.1, 2);
    Ok(())
}

#[test]
fn what_somebody_else_settles_meanwhile_stands() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let record = folder.path().join("record.db");
    let session = fill(&record)?;
    let mut child = settles(&record).spawn()?;
    let mut lines = BufReader::new(child.stdout.take().context("no output")?).lines();
    let mut until = |text: &str| -> Result<()> {
        for line in lines.by_ref() {
            if line?.contains(text) {
                return Ok(());
            }
        }
        bail!("it never said {text:?}")
    };
    until("1 of 3. At 10 seconds")?;
    // Somebody else, on the page of the session.
    let store = Store::open(&record)?;
    let doubt = store.events(session)?.into_iter().find(|stored| {
        matches!(stored.content, Content::Event(Event::Input(Input::Doubted { .. })))
    });
    let change = Change::Dismiss { target: doubt.context("no doubt")?.id };
    let edit = Edit { change, by: Some("Bo".into()), why: None };
    let (clock, _) = Clock::fake("2026-03-02T07:30:00Z".parse()?);
    store.edit(session, &edit, EventId(clock.new_id()), clock.utc())?;
    let mut stdin = child.stdin.take().context("no input")?;
    writeln!(stdin)?;
    until("Somebody has settled that one meanwhile")?;
    writeln!(stdin, "finish")?;
    until("Nothing was settled")?;
    assert!(child.wait()?.success());
    assert_eq!(state(&record, session)?.1, 2);
    assert_eq!(signed(&record, session)?, [Some("Bo".to_owned())]);
    Ok(())
}

#[test]
fn without_a_sound_device_the_words_are_typed() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let record = folder.path().join("record.db");
    let session = fill(&record)?;
    // Left for later, a miss, taken back, a rep with details, nonsense, nothing.
    let (code, told) =
        type_lines(&record, "go on\n\ncancel\nyes three bonus\nxyzzy\nmiss\nfinish\n")?;
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("type the words instead"), "{told}");
    assert!(told.contains("not understood: xyzzy"), "{told}");
    assert!(
        told.contains(
            "Done, 1 try: 1 rewarded, none missed; 1 that was nothing; 1 still to settle."
        ),
        "{told}"
    );
    let (reps, waiting) = state(&record, session)?;
    assert_eq!((reps.len(), waiting), (5, 1));
    assert!(reps.contains(&(26.0, 3, Outcome::Rewarded(RewardValue::High))), "{reps:?}");
    // With nothing to hear and nothing typed there is nobody to ask, and that is reported.
    let (code, told) = type_lines(&record, "")?;
    assert_eq!(code, Some(4), "{told}");
    assert_eq!(state(&record, session)?.1, 1);
    // The next time only what was left is asked about.
    let (code, told) = type_lines(&record, "miss\nfinish\n")?;
    assert!(code == Some(0) && told.contains("1 of 1. At 10 seconds"), "{told}");
    let (code, told) = type_lines(&record, "")?;
    assert!(
        code == Some(0) && told.contains("Nothing is left to settle in this session of Pepino."),
        "{told}"
    );
    assert!(!told.contains("type the words instead"), "nothing is opened for nothing: {told}");
    Ok(())
}
