//! One behaviour's sessions in the numbers of the present plan.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{AnimalHistory, Ladder, Session, Try};
use crate::plan::RewardValue;

/// Sessions of one behaviour, their steps renumbered to the present plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Course<'a> {
    /// The present steps.
    pub present: &'a Ladder,
    /// Sessions in order of time.
    pub sessions: Vec<Trained<'a>>,
    /// Steps of older plans that are no longer in the present one, with their rewarded tries.
    pub gone: BTreeMap<String, u32>,
}

/// A session with its tries renumbered.
#[derive(Debug, Clone, PartialEq)]
pub struct Trained<'a> {
    /// The session as it was.
    pub session: &'a Session,
    /// Days since the first session of the behaviour, by real time elapsed.
    pub at_days: f64,
    /// Its tries.
    pub tries: Vec<Placed>,
    /// Step worked on at the end; `None` when it is no longer in the plan.
    pub last_step: Option<u8>,
}

/// What one person trained of a session: all of it, or from one handing over to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Part<'a> {
    /// Who, where that was said.
    pub person: Option<&'a str>,
    /// The session as it was.
    pub session: &'a Session,
    /// Whether it is all of the session.
    pub whole: bool,
    /// Days since the first session of the behaviour.
    pub at_days: f64,
    /// Its tries.
    pub tries: &'a [Placed],
    /// Its length in seconds, pauses left out.
    pub active_s: f64,
    /// Step worked on at its end; `None` when it is no longer in the plan.
    pub last_step: Option<u8>,
}

impl Trained<'_> {
    /// By who trained. A person who had no try in a session that was handed over has no part in it.
    pub fn parts(&self) -> Vec<Part<'_>> {
        let session = self.session;
        let whole = session.handed_over.is_empty();
        let starts = std::iter::once((0.0, session.person.as_deref())).chain(
            session.handed_over.iter().map(|(after_s, person)| (*after_s, Some(person.as_str()))),
        );
        let ends = session.handed_over.iter().map(|(after_s, _)| *after_s).chain([f64::INFINITY]);
        let before = |s: f64| self.tries.partition_point(|one| one.was.active_s < s);
        let parts = starts.zip(ends).filter_map(|((from, person), to)| {
            let tries = self.tries.get(before(from)..before(to)).unwrap_or_default();
            let is_last = to.is_infinite();
            let last = tries.last().and_then(|one| one.working);
            (whole || !tries.is_empty()).then(|| Part {
                person,
                session,
                whole,
                at_days: self.at_days,
                tries,
                active_s: (to.min(session.active_s) - from).max(0.0),
                last_step: if is_last { self.last_step } else { last },
            })
        });
        parts.collect()
    }
}

/// A try in the numbers of the present plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Step worked on; `None` when it is no longer in the plan.
    pub working: Option<u8>,
    /// Step reached, likewise.
    pub step: Option<u8>,
    /// Seconds since the try before it, or since the start.
    pub took_s: f64,
    /// Whether it met the criterion of its day.
    pub met: bool,
    /// The try itself.
    pub was: Try,
}

impl Placed {
    /// What it was paid.
    pub fn paid(&self) -> Option<RewardValue> {
        self.was.paid
    }
}

impl<'a> Course<'a> {
    /// Lays the sessions of `behaviour` over the present steps.
    pub fn new(history: &'a AnimalHistory, behaviour: &'a str, present: &'a Ladder) -> Self {
        let mut maps: BTreeMap<i64, Vec<Option<u8>>> = BTreeMap::new();
        let mut gone = BTreeMap::new();
        let first = history.of(behaviour).next().map(|session| session.began);
        let mut sessions = Vec::new();
        for session in history.of(behaviour) {
            let ladder = history.ladder(session.version).unwrap_or(present);
            let map = maps.entry(session.version).or_insert_with(|| ladder.onto(present));
            let place = |number: u8| map.get(usize::from(number.max(1)) - 1).copied().flatten();
            let mut before = 0.0;
            let mut tries = Vec::with_capacity(session.tries.len());
            for one in &session.tries {
                // A try of a chain may have reached none.
                let step = Some(one.step).filter(|step| *step > 0).and_then(place);
                if step.is_none() && one.step > 0 && one.paid.is_some() {
                    let name = ladder.rung(one.step).map_or("a step", |rung| &rung.name);
                    *gone.entry(name.to_owned()).or_insert(0) += 1;
                }
                let took_s = (one.active_s - before).max(0.0);
                before = one.active_s.max(before);
                let working = place(one.working);
                tries.push(Placed { working, step, took_s, met: one.met(), was: *one });
            }
            let since =
                first.map_or(0.0, |first| session.began.duration_since(first).as_secs_f64());
            sessions.push(Trained {
                session,
                at_days: since / 86_400.0,
                tries,
                last_step: place(session.last_step),
            });
        }
        Course { present, sessions, gone }
    }

    /// Steps of the present plan by number, from 1.
    pub fn numbers(&self) -> impl Iterator<Item = u8> + use<> {
        1..=u8::try_from(self.present.rungs.len()).unwrap_or(u8::MAX)
    }

    /// The step worked on at the end of the latest session that ended on a step of the present plan.
    pub fn working(&self) -> Option<u8> {
        self.sessions.iter().rev().find_map(|trained| trained.last_step)
    }

    /// Local date of the latest session.
    pub fn latest_day(&self) -> Option<Date> {
        self.sessions.last().map(|trained| trained.session.day)
    }
}
