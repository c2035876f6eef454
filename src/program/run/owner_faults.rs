//! Another program ends the session that one is in, or takes it over: as programs before this one did, or by a lock
//! that was deleted. Nothing that was acknowledged falls behind an end, and everything is in one session.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::fs;
use std::rc::Rc;
use std::time::Duration;

use super::clock_faults::Stage;
use super::*;
use crate::at::At;
use crate::clock::Clock;
use crate::interpret::{Details, Said};
use crate::plan::Command;
use crate::session::{Derived, Event, Input, Logged, NudgeKind, WhyEnded};
use crate::store::{EventId, Filter, OpenSession, Store};
use crate::wording::Wording;

fn stage() -> Stage {
    Stage::at("2026-01-02T12:00:00Z")
}

/// Ends the session that is going on, whoever is in it.
fn ended_by_another(stage: &Stage) {
    fs::remove_dir_all(stage.record().with_file_name("record.db-live")).unwrap();
    let other = stage.store();
    let OpenSession { id, latest_at, .. } = other.open_sessions().unwrap().remove(0);
    let end = Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded });
    let end = Logged { at: latest_at, event: end };
    other.append(id, &end, EventId(Clock::real().new_id()), stage.clock.utc()).unwrap();
    other.finish(id).unwrap();
}

/// What is shown and played.
#[derive(Clone, Default)]
struct Seen(Rc<RefCell<Vec<String>>>);

impl Printer for Seen {
    fn event(&mut self, _: &Happening, _: Option<At>) {}
    fn nudge(&mut self, _: At, nudge: NudgeKind) {
        self.0.borrow_mut().push(nudge.name().to_owned());
    }
    fn said(&mut self, _: At, text: &str) {
        self.0.borrow_mut().push(text.to_owned());
    }
    fn remark(&mut self, text: &str) {
        self.0.borrow_mut().push(text.to_owned());
    }
}

fn desk(stage: &Stage) -> (Desk, Seen) {
    let (mut desk, seen) = (stage.desk(), Seen::default());
    desk.printer = Box::new(seen.clone());
    (desk, seen)
}

fn command(command: Command) -> Input {
    Input::said(Said::Command { command }, "command")
}

/// Rewarded tries of each session, and whether each try stands in one alone.
fn rewarded(store: &Store) -> Vec<u32> {
    let sessions = store.sessions(&Filter::default()).unwrap();
    let reps = store.reps(&Filter::default()).unwrap();
    let events: BTreeSet<EventId> = reps.iter().filter_map(|row| row.event).collect();
    assert_eq!(events.len(), reps.len());
    sessions.iter().map(|row| row.rewarded).collect()
}

#[test]
fn a_try_after_another_program_ended_the_session_is_acknowledged_in_one_of_its_own() {
    let stage = stage();
    let (mut desk, seen) = desk(&stage);
    let mut conductor = Conductor::new(stage.plan.clone());
    for at in [10.0, 20.0, 30.0] {
        stage.marker(&mut conductor, &mut desk, 10, at);
    }
    ended_by_another(&stage);
    seen.0.borrow_mut().clear();
    stage.marker(&mut conductor, &mut desk, 10, 40.0);
    conductor.pass(At::from_secs_f64(41.0), &mut desk);
    let told = seen.0.borrow().join("\n");
    assert!(told.contains("session of its own") && told.contains("heard"), "{told}");
    assert_eq!(told.matches("session of its own").count(), 1, "{told}");
    // It is on disk already.
    assert_eq!(rewarded(&stage.store()), [3, 1]);
    stage.marker(&mut conductor, &mut desk, 10, 50.0);
    let finish = command(Command::Finish);
    let turns = conductor.take(At::from_secs_f64(55.0), finish, None, &mut desk);
    assert!(turns.contains(&Turn::Ended));
    assert_eq!(rewarded(&stage.store()), [3, 2]);
    assert_eq!(stage.reps(), [10.0, 20.0, 30.0, 40.0, 50.0]);
    assert_eq!(stage.store().open_sessions().unwrap(), vec![]);
    // The next session is one of its own again.
    stage.marker(&mut conductor, &mut desk, 10, 60.0);
    assert_eq!(rewarded(&stage.store()), [3, 2, 1]);
}

#[test]
fn the_end_of_a_session_that_is_over_already_makes_no_other() {
    let stage = stage();
    let (mut desk, _) = desk(&stage);
    let mut conductor = Conductor::new(stage.plan.clone());
    stage.marker(&mut conductor, &mut desk, 10, 10.0);
    ended_by_another(&stage);
    let finish = command(Command::Finish);
    let turns = conductor.take(At::from_secs_f64(15.0), finish, None, &mut desk);
    assert!(turns.contains(&Turn::Ended));
    assert_eq!(rewarded(&stage.store()), [1]);
    assert_eq!(stage.reps(), [10.0]);
}

#[test]
fn what_waits_for_the_disk_when_the_session_is_lost_is_kept_in_order() {
    let stage = stage();
    let (mut desk, seen) = desk(&stage);
    let mut conductor = Conductor::new(stage.plan.clone());
    conductor.take(At::from_secs_f64(5.0), command(Command::Begin), None, &mut desk);
    stage.marker(&mut conductor, &mut desk, 10, 10.0);
    let blocked = rusqlite::Connection::open(stage.record()).unwrap();
    blocked.execute_batch("BEGIN IMMEDIATE").unwrap();
    stage.marker(&mut conductor, &mut desk, 10, 20.0);
    // The try, and that the disk is in trouble.
    assert_eq!(desk.recorder.as_ref().unwrap().waiting(), 2);
    drop(blocked);
    ended_by_another(&stage);
    // Tried again by itself, before anything else is said.
    desk.save_again();
    conductor.pass(At::from_secs_f64(25.0), &mut desk);
    assert_eq!(rewarded(&stage.store()), [1, 1], "{:?}", seen.0.borrow());
    stage.marker(&mut conductor, &mut desk, 10, 30.0);
    conductor.close(At::from_secs_f64(40.0), &mut desk);
    assert_eq!(rewarded(&stage.store()), [1, 2]);
    assert_eq!(stage.reps(), [10.0, 20.0, 30.0]);
}

#[test]
fn a_session_of_its_own_begins_with_the_step_worked_on() {
    let mut stage = stage();
    stage.plan = crate::plan::Plan::parse(
        "plan.toml",
        concat!(include_str!("../../../tests/plans/looks.toml"), "[[step]]\nname = 'touches'\n"),
    )
    .unwrap();
    let (mut desk, _) = desk(&stage);
    let mut conductor = Conductor::new(stage.plan.clone());
    stage.marker(&mut conductor, &mut desk, 10, 10.0);
    conductor.take(At::from_secs_f64(15.0), command(Command::StepUp), None, &mut desk);
    ended_by_another(&stage);
    stage.marker(&mut conductor, &mut desk, 10, 20.0);
    let rows = stage.store().sessions(&Filter::default()).unwrap();
    assert_eq!((rows[0].start_step, rows[1].start_step), (1, 2));
}

#[test]
fn a_session_that_somebody_is_in_is_told_and_not_offered() {
    let stage = stage();
    let (mut desk, _) = desk(&stage);
    let mut conductor = Conductor::new(stage.plan.clone());
    stage.marker(&mut conductor, &mut desk, 10, 10.0);
    let other = stage.store();
    let found = Unfinished::find(&other, &stage.plan, stage.clock.utc()).unwrap();
    assert!(found.resumable.is_none());
    assert_eq!(found.elsewhere.len(), 1);
    assert_eq!(found.elsewhere[0].animal, "Pepino");
    // Of what is cut off, one program has it; the next is told.
    drop(desk);
    let third = stage.store();
    let found = Unfinished::find(&other, &stage.plan, stage.clock.utc()).unwrap();
    assert!(found.resumable.is_some() && found.elsewhere.is_empty());
    let found = Unfinished::find(&third, &stage.plan, stage.clock.utc()).unwrap();
    assert!(found.resumable.is_none() && found.elsewhere.len() == 1);
}

#[test]
fn what_was_cut_off_is_offered_with_word_of_a_plan_that_was_changed_since() {
    let mut stage = stage();
    stage.cut_off();
    let offered = |stage: &Stage| {
        let store = stage.store();
        let resumable = Unfinished::find(&store, &stage.plan, stage.clock.utc()).unwrap().resumable;
        let resumable = resumable.unwrap();
        let other_words = resumable.plan_of_other_words().is_some();
        (Wording::english().line(&resumable.offer()), other_words)
    };
    let (said, other_words) = offered(&stage);
    assert!(said.contains("begin for a new one") && !other_words, "{said}");
    assert!(said.contains("3 tries: 3 rewarded"), "{said}");
    stage.plan.limits.limited_hold = Some(Duration::from_secs(1));
    let (said, other_words) = offered(&stage);
    assert!(said.contains("The plan was changed since then") && !other_words, "{said}");
    assert!(said.contains("juniper begin for a new session by the plan as it is now"), "{said}");
    // Then even the words to go on by may be others.
    stage.plan.words.set(crate::plan::Role::Marker, vec!["good".into()]);
    assert!(offered(&stage).1);
}

#[test]
fn a_session_is_gone_on_with_by_the_plan_that_it_began_with() {
    let mut stage = stage();
    stage.cut_off();
    // The file was changed since.
    stage.plan.limits.limited_hold = Some(Duration::from_secs(1));
    stage.plan.start_step = 1;
    let mut desk = stage.desk();
    let store = desk.recorder.as_ref().unwrap().store();
    let found = Unfinished::find(store, &stage.plan, stage.clock.utc()).unwrap();
    let resumed = found.resumable.unwrap().go_on(At::from_secs_f64(2.0), &mut desk);
    let mut conductor = Conductor::new(stage.plan.clone());
    conductor.go_on_with(resumed.session);
    let from = At::from_secs_f64(2.0) + resumed.offset;
    conductor.take(from, command(Command::GoOn), None, &mut desk);
    conductor.take(
        from + Duration::from_secs(1),
        Input::said(Said::Cue, "signal"),
        None,
        &mut desk,
    );
    let marker = Input::said(Said::Rep(Details::default()), "yes");
    conductor.take(from + Duration::from_secs(5), marker, None, &mut desk);
    conductor.close(from + Duration::from_secs(9), &mut desk);
    drop(desk);
    assert_eq!(stage.reps().len(), 4);
}
