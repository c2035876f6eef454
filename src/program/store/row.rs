//! Rows of the views, as values.

use std::time::Duration;

use jiff::Timestamp;
use rusqlite::Row;
use rusqlite::types::{FromSqlError, Type};

use super::{AnimalId, EventId, Mark, MarkKind, SessionId, Source};
use crate::at::At;
use crate::chain::LinkScores;
use crate::plan::{RewardValue, Side};
use crate::session::{MissedBecause, NudgeKind, Outcome, Rep, Tries, WhyEnded};

/// One session in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionRow {
    /// Its key.
    pub id: SessionId,
    /// The animal's key.
    pub animal_id: AnimalId,
    /// The animal's present name.
    pub animal: String,
    /// Species.
    pub species: String,
    /// What was trained.
    pub behaviour: String,
    /// Number of the plan's text in this database: another number, another text.
    pub plan_version: i64,
    /// Who trained.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// When it began.
    pub began: Timestamp,
    /// Name of the time zone it was in.
    pub zone: String,
    /// Seconds east of UTC at the start.
    pub offset_s: i32,
    /// Local date of the start.
    pub day: jiff::civil::Date,
    /// How it was recorded.
    pub source: Source,
    /// Step worked on at the start.
    pub start_step: u8,
    /// Step worked on at the end.
    pub last_step: u8,
    /// Highest step that was rewarded.
    pub best_step: Option<u8>,
    /// Length, pauses left out.
    pub active: Duration,
    /// Tries rewarded.
    pub rewarded: u32,
    /// Tries missed.
    pub missed: u32,
    /// Rewards by value: low, high, jackpot.
    pub paid: [u32; 3],
    /// Median time from cue to marker.
    pub latency_median: Option<Duration>,
    /// Longest rewarded hold.
    pub longest_hold: Option<Duration>,
    /// Doubts that wait to be settled.
    pub unsure: u32,
    /// Edits that count.
    pub edits: u32,
    /// Most important nudge.
    pub main_nudge: Option<NudgeKind>,
    /// Whether the last rep was rewarded.
    pub ended_well: bool,
    /// Why it ended; `None` while it has not.
    pub ended: Option<WhyEnded>,
    /// Active time at which it began to decline, by what stood at the end: what was seen, or the trainer's word.
    pub declining: Option<Duration>,
    /// The first session of its sitting; `None` where it stands alone.
    pub sitting: Option<SessionId>,
}

impl SessionRow {
    /// Tries, of them rewarded and missed.
    pub fn tries(&self) -> Tries {
        Tries { rewarded: self.rewarded, missed: self.missed }
    }
}

/// One rep of one session.
#[derive(Debug, Clone, PartialEq)]
pub struct RepRow {
    /// Its session.
    pub session: SessionId,
    /// Its place in the session, from 1 in order of time.
    pub number: u32,
    /// The rep.
    pub rep: Rep,
    /// Its event, or the edit that added it.
    pub event: Option<EventId>,
    /// Whether an edit touched it.
    pub edited: bool,
}

/// Something that happened in a session and is not a rep.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkRow {
    /// Its session.
    pub session: SessionId,
    /// What.
    pub mark: Mark,
}

pub(super) const SESSION_COLUMNS: &str = "s.id, a.id, a.name, a.species, s.behaviour, s.plan, s.person,
    s.place, s.began_us, s.zone, s.offset_s, s.day, s.source, s.start_step, m.last_step, m.best_step,
    m.active_ns, m.rewarded, m.missed, m.low, m.high, m.jackpot, m.latency_median_ns,
    m.longest_hold_ns, m.unsure, m.edits, m.main_nudge, m.ended_well, m.ended, m.declining_ns,
    coalesce(s.sitting, (SELECT s.id FROM session o WHERE o.sitting = s.id LIMIT 1))";

pub(super) fn session(row: &Row) -> rusqlite::Result<SessionRow> {
    let named = |index: usize| row.get_ref(index).and_then(|v| Ok(v.as_str_or_null()?));
    Ok(SessionRow {
        id: row.get(0)?,
        animal_id: row.get(1)?,
        animal: row.get(2)?,
        species: row.get(3)?,
        behaviour: row.get(4)?,
        plan_version: row.get(5)?,
        person: row.get(6)?,
        place: row.get(7)?,
        began: super::session::moment(row.get(8)?),
        zone: row.get(9)?,
        offset_s: row.get(10)?,
        day: row.get_ref(11)?.as_str()?.parse().map_err(|e| strange(11, e))?,
        source: named(12)?.and_then(Source::of_name).ok_or_else(|| unknown(12))?,
        start_step: row.get(13)?,
        last_step: row.get(14)?,
        best_step: row.get(15)?,
        active: span(row.get(16)?),
        rewarded: row.get(17)?,
        missed: row.get(18)?,
        paid: [row.get(19)?, row.get(20)?, row.get(21)?],
        latency_median: row.get::<_, Option<i64>>(22)?.map(span),
        longest_hold: row.get::<_, Option<i64>>(23)?.map(span),
        unsure: row.get(24)?,
        edits: row.get(25)?,
        main_nudge: named(26)?
            .and_then(|name| NudgeKind::ALL.into_iter().find(|n| n.name() == name)),
        ended_well: row.get(27)?,
        ended: named(28)?.and_then(|name| ENDED.into_iter().find(|why| ended_name(*why) == name)),
        declining: row.get::<_, Option<i64>>(29)?.map(span),
        sitting: row.get(30)?,
    })
}

pub(super) const REP_COLUMNS: &str = "r.number, r.at_ns, r.active_ns, r.working, r.step,
    r.outcome, r.side, r.latency_ns, r.duration_ns, r.event, r.edited, r.value_named, r.links";

pub(super) fn rep(row: &Row, session: SessionId) -> rusqlite::Result<RepRow> {
    Ok(RepRow {
        session,
        number: row.get(0)?,
        rep: Rep {
            input: None,
            at: At::after(span(row.get(1)?)),
            active: span(row.get(2)?),
            working: row.get(3)?,
            step: row.get(4)?,
            outcome: match row.get_ref(5)?.as_str()? {
                "low" => Outcome::Rewarded(RewardValue::Low),
                "high" => Outcome::Rewarded(RewardValue::High),
                "jackpot" => Outcome::Rewarded(RewardValue::Jackpot),
                "missed" => Outcome::Missed(MissedBecause::Said),
                "hold_ran_out" => Outcome::Missed(MissedBecause::HoldRanOut),
                _ => return Err(unknown(5)),
            },
            value_named: row.get(11)?,
            side: match row.get_ref(6)?.as_str_or_null()? {
                None => None,
                Some("left") => Some(Side::Left),
                Some("right") => Some(Side::Right),
                Some(_) => return Err(unknown(6)),
            },
            latency: row.get::<_, Option<i64>>(7)?.map(span),
            duration: row.get::<_, Option<i64>>(8)?.map(span),
            links: match row.get_ref(12)?.as_str_or_null()? {
                None => LinkScores::default(),
                Some(links) => links.parse().map_err(|_| unknown(12))?,
            },
        },
        event: row.get(9)?,
        edited: row.get(10)?,
    })
}

pub(super) fn mark(row: &Row) -> rusqlite::Result<MarkRow> {
    let kind = row.get_ref(3)?.as_str()?;
    Ok(MarkRow {
        session: row.get(0)?,
        mark: Mark {
            at: At::after(span(row.get(1)?)),
            active: span(row.get(2)?),
            kind: MarkKind::ALL
                .into_iter()
                .find(|known| known.name() == kind)
                .ok_or_else(|| unknown(3))?,
            name: row.get(4)?,
            event: row.get(5)?,
        },
    })
}

pub(super) fn side_name(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
    }
}

const ENDED: [WhyEnded; 2] = [WhyEnded::Said, WhyEnded::SoundEnded];

pub(super) fn ended_name(why: WhyEnded) -> &'static str {
    match why {
        WhyEnded::Said => "said",
        WhyEnded::SoundEnded => "sound_ended",
    }
}

pub(super) fn span(nanos: i64) -> Duration {
    Duration::from_nanos(u64::try_from(nanos).unwrap_or(0))
}

fn unknown(index: usize) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(
        index,
        Type::Text,
        Box::new(FromSqlError::InvalidType),
    )
}

fn strange(index: usize, error: jiff::Error) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(index, Type::Text, Box::new(error))
}
