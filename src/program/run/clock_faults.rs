//! The time of day is set back and forth, changes for summer, or an hour goes by asleep, while a session is
//! recorded or waits to be gone on with: durations and order stay right, and no tag is lost.

use std::time::Duration;

use jiff::Timestamp;
use tempfile::TempDir;

use super::*;
use crate::at::At;
use crate::clock::{Clock, FakeHands};
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::session::Input;
use crate::store::{Filter, Source, Store};

const PLAN: &str = include_str!("../../../tests/plans/looks.toml");

/// A session under way, on a clock with hands.
pub(super) struct Stage {
    folder: TempDir,
    pub(super) clock: Clock,
    hands: FakeHands,
    pub(super) plan: Plan,
}

impl Stage {
    pub(super) fn at(utc: &str) -> Self {
        let (clock, hands) = Clock::fake(utc.parse().unwrap());
        let plan = Plan::parse("plan.toml", PLAN).unwrap();
        Stage { folder: tempfile::tempdir().unwrap(), clock, hands, plan }
    }

    pub(super) fn plan_text(&self) -> &'static str {
        PLAN
    }

    pub(super) fn store(&self) -> Store {
        Store::open(&self.record()).unwrap()
    }

    pub(super) fn record(&self) -> std::path::PathBuf {
        self.folder.path().join("record.db")
    }

    /// A desk that records.
    pub(super) fn desk(&self) -> Desk {
        let mut desk = Desk::new(Box::new(Plain::new(std::io::sink())), self.clock.clone());
        let origin = Origin {
            plan: self.plan.clone(),
            plan_file: "plan.toml".into(),
            plan_text: PLAN.into(),
            source: Source::Live,
            source_name: None,
            person: None,
            place: None,
        };
        desk.recorder = Some(Recorder::new(self.store(), self.clock.clone(), origin));
        desk
    }

    /// Waits this many seconds, then a marker comes in at this session time.
    pub(super) fn marker(&self, conductor: &mut Conductor, desk: &mut Desk, wait: u64, at: f64) {
        self.hands.advance(Duration::from_secs(wait));
        let said = Said::Rep(Details::default());
        conductor.take(At::from_secs_f64(at), Input::said(said, "yes"), None, desk);
    }

    /// Three markers at 10, 20 and 30 s, cut off without an end.
    pub(super) fn cut_off(&self) {
        let (mut desk, mut conductor) = (self.desk(), Conductor::new(self.plan.clone()));
        for n in 1..=3 {
            self.marker(&mut conductor, &mut desk, 10, f64::from(n) * 10.0);
        }
    }

    fn resumable(&self) -> Option<Resumable> {
        Unfinished::find(&self.store(), &self.plan, self.clock.utc()).unwrap().resumable
    }

    /// Goes on 2 s into the new sound, pays one marker 5 s later and finishes. When the session went on.
    fn go_on(&self) -> At {
        let mut desk = self.desk();
        let resumed = self.resumable().unwrap().go_on(At::from_secs_f64(2.0), &mut desk);
        let mut conductor = Conductor::new(self.plan.clone());
        conductor.go_on_with(resumed.session);
        let from = At::from_secs_f64(2.0) + resumed.offset;
        let go_on = Input::said(Said::Command { command: Command::GoOn }, "go on");
        conductor.take(from, go_on, None, &mut desk);
        self.marker(&mut conductor, &mut desk, 5, (from + Duration::from_secs(5)).as_secs_f64());
        conductor.close(from + Duration::from_secs(10), &mut desk);
        from
    }

    /// Session times of the reps in the record, in the order of the record.
    pub(super) fn reps(&self) -> Vec<f64> {
        let store = self.store();
        let verdict = store.verify("hushtally test").unwrap();
        assert!(verdict.is_sound(), "{verdict:?}");
        store.reps(&Filter::default()).unwrap().iter().map(|row| row.rep.at.as_secs_f64()).collect()
    }
}

fn utc(text: &str) -> Timestamp {
    text.parse().unwrap()
}

#[test]
fn a_clock_set_back_and_forth_in_mid_session_moves_no_tag() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    let (mut desk, mut conductor) = (stage.desk(), Conductor::new(stage.plan.clone()));
    let steps = ["2026-01-02T09:00:00Z", "2027-01-02T12:00:00Z", "1971-01-01T00:00:00Z"];
    for (n, step) in (1..).zip(steps.iter().cycle().take(60)) {
        stage.marker(&mut conductor, &mut desk, 10, f64::from(n) * 10.0);
        stage.hands.set_utc(utc(step));
    }
    conductor.close(At::from_secs_f64(610.0), &mut desk);
    let expected: Vec<f64> = (1..=60).map(|n| f64::from(n) * 10.0).collect();
    assert_eq!(stage.reps(), expected);
    let store = stage.store();
    let sessions = store.sessions(&Filter::default()).unwrap();
    assert_eq!(sessions.len(), 1);
    let events = store.events(sessions[0].id).unwrap();
    assert!(events.windows(2).all(|pair| pair[0].at <= pair[1].at), "order of the record");
}

#[test]
fn a_session_cut_off_is_gone_on_with_although_the_clock_was_set_back() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    stage.cut_off();
    for back in ["2026-01-02T09:00:00Z", "2020-01-01T00:00:00Z"] {
        stage.hands.set_utc(utc(back));
        assert!(stage.resumable().is_some(), "{back}");
    }
    let from = stage.go_on();
    assert!(from.as_secs_f64() >= 30.0, "session time went back to {from}");
    let reps = stage.reps();
    assert_eq!(reps.len(), 4);
    assert!(reps.is_sorted(), "{reps:?}");
}

#[test]
fn an_hour_between_counts_as_a_pause_of_an_hour() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    stage.cut_off();
    stage.hands.advance(Duration::from_secs(3_600));
    let from = stage.go_on();
    assert!((from.as_secs_f64() - 3_630.0).abs() < 0.01, "{from}");
    assert_eq!(stage.reps(), [10.0, 20.0, 30.0, 3_635.0]);
    let store = stage.store();
    let id = store.sessions(&Filter::default()).unwrap()[0].id;
    let active = store.fold(id).unwrap().summary.active_s;
    assert!(active < 60.0, "{active} s active: the hour was counted as training");
}

#[test]
fn the_change_to_and_from_summer_time_changes_nothing() {
    // In Berlin clocks go from 3 to 2 at 01:00 UTC on 25 October 2026, and from 2 to 3 on 29 March.
    for before in ["2026-10-25T00:58:00Z", "2026-03-29T00:58:00Z"] {
        let stage = Stage::at(before);
        stage.cut_off();
        stage.hands.advance(Duration::from_secs(300));
        let from = stage.go_on();
        assert!((from.as_secs_f64() - 330.0).abs() < 0.01, "{before}: {from}");
        assert_eq!(stage.reps(), [10.0, 20.0, 30.0, 335.0], "{before}");
    }
}

#[test]
fn a_clock_set_far_forth_leaves_the_session_to_the_review_and_loses_nothing() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    stage.cut_off();
    stage.hands.set_utc(utc("2026-03-02T12:00:00Z"));
    assert!(stage.resumable().is_none());
    assert_eq!(stage.reps(), [10.0, 20.0, 30.0]);
    // Once the clock is right again, it can be gone on with.
    stage.hands.set_utc(utc("2026-01-02T12:05:00Z"));
    assert!(stage.resumable().is_some());
}
