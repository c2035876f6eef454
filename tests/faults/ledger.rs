//! The tags that are written, those that were acknowledged, and what became of them.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::ExitCode;

use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::session::{Derived, Event, Input, Logged, WhyEnded};
use hushtally::store::{AnimalRef, EventId, NewSession, SessionId, Source, Store};
use jiff::Timestamp;

/// Events of one session.
pub(crate) const PER_SESSION: u64 = 25;

/// Session and content of event `n`; everything about it follows from its number.
pub(crate) fn event(n: u64) -> (SessionId, EventId, Logged) {
    let within = n % PER_SESSION;
    let at = At::after(std::time::Duration::from_millis(within * 700));
    let event = match within {
        0 => Event::Derived(Derived::Began { step: 1 }),
        _ if within == PER_SESSION - 1 => {
            Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded })
        }
        _ if within.is_multiple_of(5) => {
            Event::Input(Input::Noted { text: format!("note {n} {}", "so and so ".repeat(90)) })
        }
        _ => Event::Input(Input::said(Said::Rep(Details::default()), format!("yes {n}"))),
    };
    (session(n / PER_SESSION), EventId(key(n, 1)), Logged { at, event })
}

fn session(n: u64) -> SessionId {
    SessionId(key(n * PER_SESSION, 0))
}

fn key(n: u64, sort: u8) -> uuid::Uuid {
    let mut rest = [sort; 10];
    rest[2..].copy_from_slice(&n.to_be_bytes());
    uuid::Builder::from_unix_timestamp_millis(1_767_225_600_000 + n, &rest).into_uuid()
}

pub(crate) fn utc(n: u64) -> Timestamp {
    let micros = 1_767_225_600_000_000 + i64::try_from(n).unwrap() * 700_000;
    Timestamp::from_microsecond(micros).unwrap()
}

pub(crate) fn new_session(n: u64) -> NewSession {
    NewSession {
        id: session(n),
        animal: AnimalRef::Named { name: "Brindle".into(), species: "donkey".into() },
        behaviour: "lifts a hoof".into(),
        plan_file: "brindle.toml".into(),
        plan_text: "animal = \"Brindle\"\nspecies = \"donkey\"\nbehaviour = \"lifts a hoof\"\n\
                    [[step]]\nname = \"shifts its weight\"\n"
            .into(),
        start_step: 1,
        told: Default::default(),
        person: None,
        place: None,
        began: utc(n * PER_SESSION).to_zoned_datetime(jiff::tz::TimeZone::UTC),
        source: Source::Simulated,
        source_name: None,
        made_by: "faults".into(),
        sitting: None,
    }
}

/// What was done and what was lost.
#[derive(Debug, Default)]
pub(crate) struct FaultCounts {
    pub(crate) kill_points: u32,
    pub(crate) kills_in_calls: u32,
    pub(crate) io_faults: u32,
    pub(crate) power_cuts: u32,
    pub(crate) torn_logs: u32,
    pub(crate) two_program_rounds: u32,
    pub(crate) kills_at_syncs: u32,
    pub(crate) full_disks: u32,
    pub(crate) read_only_disks: u32,
    pub(crate) acknowledged: u64,
    pub(crate) lost_tags: u64,
    pub(crate) forgets: u32,
    /// Of them, names that were an animal's too: refused first, then forgotten beside it.
    pub(crate) forgets_of_animals: u32,
    pub(crate) unreadable_sessions: u64,
    pub(crate) names_left: u64,
    pub(crate) hidden_tries: u64,
    pub(crate) false_verify_faults: u64,
    pub(crate) skipped: Vec<String>,
    pub(crate) wrong: Vec<String>,
}

impl FaultCounts {
    /// Looks for every acknowledged event, and, if thorough, for anything half-done.
    pub(crate) fn look(&mut self, db: &Path, acked: &BTreeSet<u64>, thorough: bool, how: &str) {
        let store = match Store::open(db) {
            Ok(store) => store,
            Err(error) => {
                self.lost_tags += acked.len() as u64;
                self.wrong.push(format!("{how}: cannot be opened: {error}"));
                return;
            }
        };
        let last = acked.last().copied().unwrap_or(0) + PER_SESSION;
        for n in (0..=last).step_by(PER_SESSION as usize) {
            let stored = match store.events(event(n).0) {
                Ok(stored) => stored,
                Err(hushtally::store::StoreError::NoSession(_)) => Vec::new(),
                Err(error) => {
                    self.wrong.push(format!("{how}: {error}"));
                    Vec::new()
                }
            };
            // By key: a tag that was refused and written later stands behind those that came after it.
            for number in (n..n + PER_SESSION).filter(|number| acked.contains(number)) {
                let (_, id, logged) = event(number);
                if !stored.iter().any(|s| s.id == id && s.logged().as_ref() == Some(&logged)) {
                    self.lost_tags += 1;
                    self.wrong
                        .push(format!("{how}: tag {number} was acknowledged and is not there"));
                }
            }
        }
        if thorough {
            match store.verify("another version") {
                Ok(verdict) if verdict.is_sound() => {}
                Ok(verdict) => self.wrong.push(format!("{how}: {verdict:?}")),
                Err(error) => self.wrong.push(format!("{how}: {error}")),
            }
        }
    }

    pub(crate) fn report(&self, json: bool) -> ExitCode {
        for skipped in &self.skipped {
            eprintln!("skipped: {skipped}");
        }
        for wrong in self.wrong.iter().take(40) {
            eprintln!("wrong: {}", wrong.chars().take(300).collect::<String>());
        }
        let figures = [
            ("kill_points", u64::from(self.kill_points)),
            ("kill_points_in_system_calls", u64::from(self.kills_in_calls)),
            ("io_faults", u64::from(self.io_faults)),
            ("power_cuts", u64::from(self.power_cuts)),
            ("torn_logs", u64::from(self.torn_logs)),
            ("full_disks", u64::from(self.full_disks)),
            ("read_only_disks", u64::from(self.read_only_disks)),
            ("acknowledged_tags", self.acknowledged),
            ("lost_tags", self.lost_tags),
            ("forgets", u64::from(self.forgets)),
            ("forgets_of_animals", u64::from(self.forgets_of_animals)),
            ("unreadable_sessions", self.unreadable_sessions),
            ("names_left", self.names_left),
            ("two_program_rounds", u64::from(self.two_program_rounds)),
            ("hidden_tries", self.hidden_tries),
            ("kills_at_syncs", u64::from(self.kills_at_syncs)),
            ("false_verify_faults", self.false_verify_faults),
            ("other_faults", self.wrong.len() as u64),
        ];
        if json {
            let object: serde_json::Map<_, _> =
                figures.iter().map(|(name, value)| ((*name).to_owned(), (*value).into())).collect();
            println!("{}", serde_json::Value::Object(object));
        } else {
            for (name, value) in figures {
                println!("{value:>9}  {}", name.replace('_', " "));
            }
        }
        let fine = self.lost_tags == 0 && self.wrong.is_empty();
        let (word, passed) = if fine { ("ok", 1) } else { ("FAILED", 0) };
        if !json {
            println!("test faults ... {word}");
            println!(
                "test result: {word}. {passed} passed; {} failed; 0 ignored; 0 measured; 0 filtered out",
                1 - passed
            );
        }
        if fine { ExitCode::SUCCESS } else { ExitCode::FAILURE }
    }
}
