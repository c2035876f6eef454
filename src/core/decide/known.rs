//! What is known of a step, session by session: numbers only, no names and no dates, so that it can be kept with the
//! session that was told of it.

use serde::{Deserialize, Serialize};

use super::LEAST_TRIES;
use crate::plan::Advice;
use crate::stats::faded::{Faded, fade};

/// This many of the latest sessions on a step are kept with their counts.
pub const SESSIONS: usize = 40;
/// After this many days without it, a session that meets it again shows that it was retained (common practice, no
/// source).
const RETAINED_DAYS: u32 = 5;

/// What is known of a step.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Known {
    /// The step, counted from 1.
    pub step: u8,
    /// Its tries up to the first sign of decline of each session, older ones weighing less.
    pub faded: Faded,
    /// Of the latest sessions on it, oldest first: tries that met the criterion, and all.
    pub sessions: Vec<(u32, u32)>,
    /// Days since it was last worked on; zero in a session that works on it, `None` before the first.
    pub rested_days: Option<u32>,
    /// Latest sessions in a row that reached what the plan raises at.
    pub held_sessions: u32,
    /// Days that they span.
    pub held_days: u32,
    /// Whether one of them came after days without it.
    pub retained: bool,
    /// Whether what its goal is about was ever measured.
    pub measured: bool,
}

/// One more session at a step: its tries up to the first sign of decline, taken in one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OneMore {
    faded: Faded,
    met: u32,
    tries: u32,
    measured: bool,
}

impl OneMore {
    /// With one more try: whether it met the criterion, and whether what the goal is about was measured.
    #[must_use]
    pub fn and(self, met: bool, measured: bool, advice: &Advice) -> Self {
        OneMore {
            faded: self.faded.and(met, fade(advice.tries)),
            met: self.met + u32::from(met),
            tries: self.tries + 1,
            measured: self.measured || measured,
        }
    }

    /// How often the step is met now, by the tries of the sessions before as well.
    pub fn faded(self) -> Faded {
        self.faded
    }
}

impl Known {
    /// Of a step that nobody tried.
    pub fn of(step: u8) -> Self {
        Known { step, ..Known::default() }
    }

    /// With one more session: for each of its tries at this step, in order of time and up to the first sign of decline,
    /// whether it met the criterion; `measured` tells whether what the goal is about was measured in one of them.
    /// A session without such a try changes nothing.
    #[must_use]
    pub fn with(
        self,
        met: impl IntoIterator<Item = bool>,
        measured: bool,
        advice: &Advice,
    ) -> Self {
        let session = met
            .into_iter()
            .fold(self.one_more(), |session, met| session.and(met, measured, advice));
        self.with_one_more(session, advice)
    }

    /// One more session, before its first try.
    pub fn one_more(&self) -> OneMore {
        OneMore { faded: self.faded, met: 0, tries: 0, measured: false }
    }

    /// With one more session, as far as it has come; it was begun by [`Known::one_more`] of the same.
    #[must_use]
    pub fn with_one_more(mut self, session: OneMore, advice: &Advice) -> Self {
        let OneMore { faded, met, tries, measured } = session;
        if tries > 0 {
            self.faded = faded;
            self.count(met, tries, measured, advice);
        }
        self
    }

    /// With a session of which only the counts are known.
    #[must_use]
    pub fn with_counts(mut self, met: u32, tries: u32, advice: &Advice) -> Self {
        if tries > 0 {
            self.faded = self.faded.and_counts(met, tries, fade(advice.tries));
            self.count(met.min(tries), tries, false, advice);
        }
        self
    }

    fn count(&mut self, met: u32, tries: u32, measured: bool, advice: &Advice) {
        let days = self.rested_days.unwrap_or(0);
        let reached = tries >= LEAST_TRIES.min(advice.tries.max(1))
            && f64::from(met) >= advice.raise_at * f64::from(tries);
        if reached && self.held_sessions > 0 {
            self.held_sessions += 1;
            self.held_days = self.held_days.saturating_add(days);
            self.retained |= days >= RETAINED_DAYS;
        } else {
            (self.held_sessions, self.held_days) = (u32::from(reached), 0);
            self.retained = false;
        }
        self.measured |= measured;
        self.rested_days = Some(0);
        self.sessions.push((met, tries));
        if self.sessions.len() > SESSIONS {
            self.sessions.remove(0);
        }
    }

    /// This many days after the latest session on it.
    #[must_use]
    pub fn rested(mut self, days: u32) -> Self {
        self.rested_days = self.rested_days.map(|_| days);
        self
    }
}
