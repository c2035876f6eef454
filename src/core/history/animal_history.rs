//! What the history is told: sessions of one animal with their tries.

use jiff::Timestamp;
use jiff::civil::{Date, Time};

use super::Ladder;
use crate::chain::LinkScores;
use crate::plan::{RewardValue, Side};
use crate::session::Tries;

/// One animal's sessions, in order of time, with the plans they were trained by.
#[derive(Debug, Clone, PartialEq)]
pub struct AnimalHistory {
    /// The animal's present name.
    pub animal: String,
    /// Its species.
    pub species: String,
    /// Plan versions that sessions refer to.
    pub ladders: Vec<Ladder>,
    /// Sessions in order of time.
    pub sessions: Vec<Session>,
}

/// One session.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Its key, as the user may type it.
    pub id: String,
    /// What was trained.
    pub behaviour: String,
    /// Version of the plan.
    pub version: i64,
    /// Who trained.
    pub person: Option<String>,
    /// Who took over in mid-session, and after how many seconds, in order of time.
    pub handed_over: Vec<(f64, String)>,
    /// Where.
    pub place: Option<String>,
    /// When it began.
    pub began: Timestamp,
    /// Local date of the start, where it was; a session across midnight keeps it.
    pub day: Date,
    /// Local time of the start.
    pub clock: Time,
    /// Step worked on at the end, counted from 1 in its own plan.
    pub last_step: u8,
    /// Length in seconds, pauses left out.
    pub active_s: f64,
    /// Seconds after which it declined, by what was seen or the trainer's word, as it stood at the end: what came later
    /// says nothing of the step. `None` when all of it was good.
    pub declined_s: Option<f64>,
    /// Whether the last try was rewarded.
    pub ended_well: bool,
    /// Cues given, answered or not; counted in recent sessions only.
    pub cues: u32,
    /// Doubts that wait for the review.
    pub unsure: u32,
    /// Made by the simulated animal.
    pub simulated: bool,
    /// Tries in order of time.
    pub tries: Vec<Try>,
}

/// One try.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Try {
    /// Seconds since the start, pauses left out.
    pub active_s: f64,
    /// Step worked on, counted from 1 in the session's own plan.
    pub working: u8,
    /// Step reached, likewise.
    pub step: u8,
    /// What it was paid; `None` for a miss.
    pub paid: Option<RewardValue>,
    /// Side, when said.
    pub side: Option<Side>,
    /// Seconds from cue to marker.
    pub latency_s: Option<f64>,
    /// Seconds from start word to marker.
    pub duration_s: Option<f64>,
    /// How each link of a chain went, in the session's own plan; none where the behaviour is not a chain.
    pub links: LinkScores,
}

impl Session {
    /// Whether this try came before any decline.
    pub fn is_fresh(&self, one: &Try) -> bool {
        self.declined_s.is_none_or(|until| one.active_s <= until)
    }

    /// Its tries, of them rewarded and missed.
    pub fn counted(&self) -> Tries {
        Tries::count(self.tries.iter().map(|one| one.paid.is_some()))
    }
}

impl Try {
    /// Rewarded at the step worked on, or beyond it.
    pub fn met(&self) -> bool {
        self.paid.is_some() && self.step >= self.working
    }
}

impl AnimalHistory {
    /// Puts the sessions in order.
    pub fn new(
        animal: &str,
        species: &str,
        ladders: Vec<Ladder>,
        mut sessions: Vec<Session>,
    ) -> Self {
        sessions.sort_by_key(|session| session.began);
        AnimalHistory { animal: animal.into(), species: species.into(), ladders, sessions }
    }

    /// Behaviours in the order in which they were last trained, latest first.
    pub fn behaviours(&self) -> Vec<&str> {
        let mut names: Vec<&str> = Vec::new();
        for session in self.sessions.iter().rev() {
            if !names.contains(&session.behaviour.as_str()) {
                names.push(&session.behaviour);
            }
        }
        names
    }

    /// Sessions of one behaviour, in order of time.
    pub fn of<'a>(&'a self, behaviour: &'a str) -> impl DoubleEndedIterator<Item = &'a Session> {
        self.sessions.iter().filter(move |session| session.behaviour == behaviour)
    }

    /// The plan's steps as a session knew them.
    pub fn ladder(&self, version: i64) -> Option<&Ladder> {
        self.ladders.iter().find(|ladder| ladder.version == version)
    }
}
