//! What the record knows reaches the session, is kept with it, and stays the same whatever becomes of the record.

use std::time::Duration;

use jiff::civil::date;

use super::*;
use crate::at::At;
use crate::clock::{Clock, FakeHands};
use crate::interpret::{Details, Said};
use crate::plan::Command;
use crate::run::{Conductor, Desk, Origin, Plain, Recorder, Unfinished};
use crate::session::{Input, NudgeKind, Session};
use crate::store::{Change, Edit, EventId, Filter, Forget, MarkKind, SessionId, Source, Target};

/// A tenth of 1.5 x 78 x 0.09^0.75 kcal a day may be treats, some 1.9 (Hand-Rearing Birds, table B.2).
const PLAN: &str = "animal = 'Pepino'\nspecies = 'cockatiel'\nbehaviour = 'rests a foot'\n\
    [[step]]\nname = 'looks'\n[[step]]\nname = 'touches'\n[[step]]\nname = 'rests'\n\
    [rewards.high]\nwhat = 'seed'\nkcal_per_piece = 0.1\n\
    [body]\nweight_g = 90\nkind = 'other_bird'\nactivity = 1.5\n";

struct Days {
    folder: tempfile::TempDir,
    clock: Clock,
    hands: FakeHands,
    text: String,
    person: Option<&'static str>,
}

impl Days {
    fn at(utc: &str) -> Self {
        let (clock, hands) = Clock::fake(utc.parse().unwrap());
        let folder = tempfile::tempdir().unwrap();
        Days { folder, clock, hands, text: PLAN.into(), person: None }
    }

    fn store(&self) -> Store {
        Store::open(&self.folder.path().join("record.db")).unwrap()
    }

    fn plan(&self) -> Plan {
        Plan::parse("plan.toml", &self.text).unwrap()
    }

    fn desk(&self) -> Desk {
        let mut desk = Desk::new(Box::new(Plain::new(std::io::sink())), self.clock.clone());
        let origin = Origin {
            plan: self.plan(),
            plan_file: "plan.toml".into(),
            plan_text: self.text.clone(),
            source: Source::Live,
            source_name: None,
            person: self.person.map(str::to_owned),
            place: None,
        };
        desk.recorder = Some(Recorder::new(self.store(), self.clock.clone(), origin));
        desk
    }

    /// A session as the program has it: this many rewarded tries and then misses, five seconds apart.
    fn session(&self, rewarded: u32, missed: u32) -> (SessionId, Session) {
        let (mut desk, mut conductor) = (self.desk(), Conductor::new(self.plan()));
        let id = self.tries(&mut conductor, &mut desk, rewarded, missed);
        conductor.close(At::from_secs_f64(f64::from(5 * (rewarded + missed + 1))), &mut desk);
        (id, conductor.session().clone())
    }

    fn tries(
        &self,
        conductor: &mut Conductor,
        desk: &mut Desk,
        rewarded: u32,
        missed: u32,
    ) -> SessionId {
        for n in 0..rewarded + missed {
            self.hands.advance(Duration::from_secs(5));
            let said = if n < rewarded {
                Said::Rep(Details::default())
            } else {
                Said::Miss(Details::default())
            };
            let at = At::from_secs_f64(f64::from(5 * (n + 1)));
            conductor.take(at, Input::said(said, "word"), None, desk);
        }
        desk.recorder.as_ref().unwrap().session().unwrap()
    }

    fn sound(&self) {
        let store = self.store();
        let verdict = store.verify(crate::MADE_BY).unwrap();
        assert!(verdict.is_sound() && verdict.remarks.is_empty(), "{verdict:?}");
    }

    fn nudges(&self, session: SessionId) -> Vec<String> {
        let marks = self.store().marks(&Filter::session(session), &[MarkKind::Nudge]).unwrap();
        marks.into_iter().map(|row| row.mark.name).collect()
    }
}

fn budget_low() -> String {
    NudgeKind::BudgetLow.name().to_owned()
}

#[test]
fn the_twentieth_session_knows_the_animal_and_the_first_does_not() {
    let days = Days::at("2026-01-02T12:00:00Z");
    let (_, first) = days.session(8, 2);
    assert_eq!(*first.prior(), Prior::default());
    for _ in 1..19 {
        days.hands.advance(Duration::from_secs(86_400));
        days.session(8, 2);
    }
    days.hands.advance(Duration::from_secs(86_400));
    let (id, twentieth) = days.session(8, 2);
    let prior = twentieth.prior();
    assert_eq!(prior.sessions.len(), Prior::SESSIONS);
    let usual = &prior.sessions[9];
    assert_eq!((usual.rewards, usual.steps[0].tries, usual.steps[0].met), (8, 10, 8));
    assert_eq!(usual.steps[0].gaps.iter().map(Vec::len).sum::<usize>(), 9);
    // What it was told is what is kept, and what it is replayed with.
    assert_eq!(days.store().told(id).unwrap(), *prior);
    assert_eq!(days.store().resume(id).unwrap(), twentieth);
    days.sound();
}

#[test]
fn a_day_of_treats_counts_for_every_session_of_the_day_whatever_was_trained() {
    let mut days = Days::at("2026-01-02T12:00:00Z");
    let (alone, _) = days.session(10, 0);
    assert!(!days.nudges(alone).contains(&budget_low()));
    days.hands.advance(Duration::from_secs(600));
    days.text = PLAN.replace("rests a foot", "turns");
    // Of another behaviour: 1.0 kcal were given already, and of some 1.9 that the day allows 1.6 after six more.
    let (after, session) = days.session(7, 0);
    approx::assert_abs_diff_eq!(session.prior().kcal_today, 1.0, epsilon = 1e-9);
    assert!(session.prior().sessions.is_empty());
    assert!(days.nudges(after).contains(&budget_low()), "{:?}", days.nudges(after));
    // The next day it may have as much again.
    days.hands.advance(Duration::from_secs(86_400));
    assert_eq!(days.session(7, 0).1.prior().kcal_today, 0.0);
    days.sound();
}

#[test]
fn what_a_session_was_told_stays_when_the_sessions_before_it_change() {
    let days = Days::at("2026-01-02T12:00:00Z");
    let (first, _) = days.session(10, 0);
    days.hands.advance(Duration::from_secs(600));
    let (second, told) = days.session(7, 3);
    assert!(days.nudges(second).contains(&budget_low()));
    // The first is corrected afterwards: three of its tries were none.
    let store = days.store();
    for row in store.reps(&Filter::session(first)).unwrap().iter().take(3) {
        let change = Change::Remove { target: Target::Event(row.event.unwrap()) };
        let edit = Edit { change, by: None, why: None };
        let id = EventId(days.clock.new_id());
        store.edit(first, &edit, id, days.clock.utc()).unwrap();
    }
    assert!(store.rebuild().unwrap().is_empty());
    assert_eq!(store.resume(second).unwrap(), told);
    days.sound();
    // The next one is told of it as it is now.
    days.hands.advance(Duration::from_secs(600));
    let (_, third) = days.session(1, 0);
    assert_eq!(third.prior().sessions[0].rewards, 7);
    approx::assert_abs_diff_eq!(third.prior().kcal_today, 0.7 + 0.7, epsilon = 1e-9);
    days.sound();
}

#[test]
fn a_session_that_was_cut_off_goes_on_knowing_what_it_was_told() {
    let days = Days::at("2026-01-02T12:00:00Z");
    days.session(10, 0);
    days.hands.advance(Duration::from_secs(600));
    {
        let (mut desk, mut conductor) = (days.desk(), Conductor::new(days.plan()));
        days.tries(&mut conductor, &mut desk, 3, 0);
    }
    let mut desk = days.desk();
    let store = desk.recorder.as_ref().unwrap().store();
    let found = Unfinished::find(store, &days.plan(), days.clock.utc()).unwrap();
    let resumed = found.resumable.unwrap().go_on(At::from_secs_f64(1.0), &mut desk);
    assert_eq!(resumed.session.prior().sessions.len(), 1);
    approx::assert_abs_diff_eq!(resumed.session.prior().kcal_today, 1.0, epsilon = 1e-9);
}

#[test]
fn a_session_begins_at_the_step_that_the_plan_for_it_says() {
    let days = Days::at("2026-01-02T12:00:00Z");
    let mut begun = Vec::new();
    for _ in 0..4 {
        let store = days.store();
        let now = ZonedDateTime::new(days.clock.utc(), jiff::tz::TimeZone::system());
        let outset = Outset::of_record(&store, &days.plan(), None, &now).unwrap();
        // The same as `plan next` says of the whole record.
        if let Ok(animal) = store.find_animal("Pepino", None) {
            let known = Known::read(&store, &animal).unwrap();
            let body = body::read(&known.body, now.date());
            let next = next::plan(&known.history, &days.plan(), &body, now.date());
            assert_eq!((outset.step, outset.moves), (next.work.step, next.work.moves));
        }
        days.session(30, 0);
        let rows = store.sessions(&Filter::default()).unwrap();
        assert_eq!(rows.last().unwrap().start_step, outset.step);
        begun.push(outset.step);
        days.hands.advance(Duration::from_secs(86_400));
    }
    assert_eq!(begun, [1, 2, 3, 3]);
    days.sound();
}

#[test]
fn a_step_asked_for_by_its_number_is_the_one_that_the_session_begins_at() {
    let days = Days::at("2026-01-02T12:00:00Z");
    days.session(30, 0);
    days.hands.advance(Duration::from_secs(86_400));
    let (mut desk, mut conductor) = (days.desk(), Conductor::new(days.plan()));
    conductor.make_ready(&mut desk);
    assert_eq!(conductor.session().working(), 2);
    for (asked, given) in [(9, 3), (1, 1), (3, 3)] {
        conductor.start_at(asked, &mut desk);
        assert_eq!(conductor.session().working(), given);
    }
    days.tries(&mut conductor, &mut desk, 2, 0);
    // In the session too; there it is an event.
    let command = Said::Command { command: Command::WorkOn(1) };
    conductor.take(At::from_secs_f64(15.0), Input::said(command, "step one"), None, &mut desk);
    assert_eq!(conductor.session().working(), 1);
    conductor.start_at(2, &mut desk);
    assert_eq!(conductor.session().working(), 1, "a session is under way");
    conductor.close(At::from_secs_f64(20.0), &mut desk);
    let row = days.store().sessions(&Filter::default()).unwrap().pop().unwrap();
    assert_eq!((row.start_step, row.last_step), (3, 1));
    days.sound();
}

#[test]
fn a_step_that_was_taken_out_of_the_plan_says_nothing_and_the_others_keep_their_past() {
    let mut days = Days::at("2026-01-02T12:00:00Z");
    days.session(30, 0);
    days.hands.advance(Duration::from_secs(86_400));
    days.session(10, 10);
    days.hands.advance(Duration::from_secs(86_400));
    days.text = PLAN.replace("[[step]]\nname = 'looks'\n", "");
    let (_, session) = days.session(1, 0);
    let steps: Vec<Vec<u8>> = session
        .prior()
        .sessions
        .iter()
        .map(|past| past.steps.iter().map(|step| step.step).collect())
        .collect();
    assert_eq!(steps, [vec![], vec![1]]);
}

#[test]
fn the_pace_of_another_trainer_is_left_out_when_ones_own_is_known() {
    let mut days = Days::at("2026-01-02T12:00:00Z");
    for (person, rewarded) in [("Ada", 4), ("Ben", 6), ("Ben", 7), ("Ben", 8), ("Ada", 5)] {
        days.person = Some(person);
        days.session(rewarded, 0);
        days.hands.advance(Duration::from_secs(86_400));
    }
    let told_of = |days: &Days| -> Vec<u32> {
        let now = ZonedDateTime::new(days.clock.utc(), jiff::tz::TimeZone::system());
        let outset = Outset::of_record(&days.store(), &days.plan(), days.person, &now).unwrap();
        outset.told.prior.sessions.iter().map(|past| past.rewards).collect()
    };
    days.person = Some("Ben");
    assert_eq!(told_of(&days), [6, 7, 8]);
    // Two of her own are too few.
    days.person = Some("Ada");
    assert_eq!(told_of(&days), [4, 6, 7, 8, 5]);
    days.person = None;
    assert_eq!(told_of(&days), [4, 6, 7, 8, 5]);
}

/// Every piece of text in it, keys aside.
fn texts(value: &serde_json::Value, found: &mut Vec<String>) {
    use serde_json::Value;
    match value {
        Value::String(text) => found.push(text.clone()),
        Value::Array(values) => values.iter().for_each(|value| texts(value, found)),
        Value::Object(fields) => fields.values().for_each(|value| texts(value, found)),
        _ => {}
    }
}

#[test]
fn what_a_session_is_told_holds_numbers_only() {
    let days = Days::at("2026-01-02T12:00:00Z");
    days.session(8, 2);
    let (_, session) = days.session(8, 2);
    let mut found = Vec::new();
    texts(&serde_json::to_value(session.prior()).unwrap(), &mut found);
    for past in &session.prior().sessions {
        texts(&serde_json::to_value(past).unwrap(), &mut found);
    }
    assert_eq!(
        found,
        Vec::<String>::new(),
        "a text may name somebody: forgetting would have to reach it"
    );
}

#[test]
fn what_others_were_told_of_a_forgotten_day_goes_with_it() {
    let days = Days::at("2026-01-02T12:00:00Z");
    // Twelve tries in a row, so that its numbers are found among no others.
    let (first, _) = days.session(12, 0);
    days.hands.advance(Duration::from_secs(86_400));
    let (second, _) = days.session(3, 0);
    let store = days.store();
    assert_eq!(store.told(second).unwrap().sessions[0].rewards, 12);
    let backup = days.folder.path().join("backup.db");
    store.backup(&backup).unwrap();
    let day = date(2026, 1, 2);
    store.forget(&Forget::Days { from: day, to: day }).unwrap();
    assert!(store.told(second).unwrap().sessions.is_empty());
    assert_eq!(store.reps(&Filter::session(second)).unwrap().len(), 3);
    assert!(matches!(store.told(first), Err(StoreError::NoSession(_))));
    let verdict = store.verify(crate::MADE_BY).unwrap();
    assert!(verdict.is_sound(), "{verdict:?}");
    // A copy keeps what it kept.
    drop(store);
    let copy = Store::open(&backup).unwrap();
    assert_eq!(copy.told(second).unwrap().sessions[0].rewards, 12);
    assert!(copy.verify(crate::MADE_BY).unwrap().is_sound());
}
