//! What the history's tests share: sessions in a few words.

use jiff::{ToSpan, ZonedDateTime};

use super::{AnimalHistory, Ladder, Session, Try};
use crate::plan::{Plan, RewardValue};

pub(super) const PLAN: &str = concat!(
    include_str!("../../../tests/plans/foot.toml"),
    "dimension = \"duration\"\ngoal = 5.0\n"
);

pub(super) fn plan() -> Plan {
    Plan::parse("pepino.toml", PLAN).unwrap()
}

/// A session `day` days after the second of January: `met` tries met step `working`, then the rest missed,
/// five seconds apart.
pub(super) fn session(day: i32, working: u8, met: u32, tries: u32) -> Session {
    let first: ZonedDateTime = "2026-01-02T17:00:00+01:00[Europe/Berlin]".parse().unwrap();
    let began = first.checked_add(day.days()).unwrap();
    let one = |i: u32| Try {
        active_s: 5.0 * f64::from(i + 1),
        working,
        step: working,
        paid: (i < met).then_some(RewardValue::High),
        side: None,
        latency_s: None,
        duration_s: None,
        links: crate::chain::LinkScores::default(),
    };
    Session {
        id: format!("s{day}"),
        behaviour: "rests a foot on the nail file".into(),
        version: 1,
        person: None,
        handed_over: Vec::new(),
        place: None,
        began: began.timestamp(),
        day: began.date(),
        clock: began.time(),
        last_step: working,
        active_s: 5.0 * f64::from(tries),
        declined_s: None,
        ended_well: met == tries,
        cues: 0,
        unsure: 0,
        simulated: true,
        tries: (0..tries).map(one).collect(),
    }
}

pub(super) fn history(sessions: Vec<Session>) -> AnimalHistory {
    AnimalHistory::new("Pepino", "cockatiel", vec![Ladder::of(1, &plan())], sessions)
}

/// Numbers that look like chance and are the same every time (Lehmer 1951; the constants of Park & Miller 1988,
/// Comm ACM 31:1192).
pub(super) struct Chance(pub(super) u64);

impl Chance {
    /// Between 0 and 1.
    pub(super) fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }
}
