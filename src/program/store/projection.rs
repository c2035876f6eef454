//! Tables that follow from the log: brought up to date where they are behind, or rebuilt.

use std::collections::BTreeMap;
use std::time::Duration;

use rusqlite::types::ToSqlOutput;
use rusqlite::types::ValueRef::{self, Blob, Integer, Null};
use rusqlite::{Connection, OptionalExtension, params, params_from_iter};

use super::append::{Stored, read};
use super::feed::replay;
use super::fold::{Folded, fold};
use super::{SessionId, Store, StoreError, told};
use crate::plan::{Plan, RewardValue};
use crate::session::{MissedBecause, Outcome, Session};

/// Sessions brought up to date in one go, so that a live program never waits long for its turn.
const AT_ONCE: usize = 100;

const OVERLAY_OFF: &str = "
    DROP VIEW IF EXISTS temp.rep; DROP VIEW IF EXISTS temp.mark; DROP VIEW IF EXISTS temp.session_summary;
    DROP TABLE IF EXISTS temp.behind; DROP TABLE IF EXISTS temp.fresh_rep;
    DROP TABLE IF EXISTS temp.fresh_mark; DROP TABLE IF EXISTS temp.fresh_session_summary;";
const OVERLAY_ON: &str = "
    CREATE TABLE temp.behind (session INTEGER PRIMARY KEY);
    CREATE TABLE temp.fresh_rep AS SELECT * FROM main.rep LIMIT 0;
    CREATE TABLE temp.fresh_mark AS SELECT * FROM main.mark LIMIT 0;
    CREATE TABLE temp.fresh_session_summary AS SELECT * FROM main.session_summary LIMIT 0;
    CREATE TEMP VIEW rep AS SELECT * FROM main.rep WHERE session NOT IN (SELECT session FROM temp.behind)
        UNION ALL SELECT * FROM temp.fresh_rep;
    CREATE TEMP VIEW mark AS SELECT * FROM main.mark WHERE session NOT IN (SELECT session FROM temp.behind)
        UNION ALL SELECT * FROM temp.fresh_mark;
    CREATE TEMP VIEW session_summary AS SELECT * FROM main.session_summary
        WHERE session NOT IN (SELECT session FROM temp.behind)
        UNION ALL SELECT * FROM temp.fresh_session_summary;";

/// Plans already read, by their number. Hundreds of sessions share one.
#[derive(Debug, Default)]
pub(super) struct Plans(BTreeMap<i64, Plan>);

impl Plans {
    pub(super) fn get(
        &mut self,
        conn: &Connection,
        no: i64,
        session: SessionId,
    ) -> Result<&Plan, StoreError> {
        use std::collections::btree_map::Entry;
        match self.0.entry(no) {
            Entry::Occupied(known) => Ok(known.into_mut()),
            Entry::Vacant(place) => {
                let mut statement =
                    conn.prepare_cached("SELECT file, text FROM plan_version WHERE no = ?1")?;
                let (file, text): (String, String) =
                    statement.query_row([no], |row| Ok((row.get(0)?, row.get(1)?)))?;
                let plan = Plan::parse(&file, &text)
                    .map_err(|source| StoreError::Plan { session, source })?;
                Ok(place.insert(plan))
            }
        }
    }
}

/// A session replayed, and how many events that took.
pub(super) struct Fresh {
    pub(super) folded: Folded,
    pub(super) events: usize,
}

impl Store {
    /// What a session amounts to, from its events.
    ///
    /// # Errors
    /// The session is unknown, or its plan or an event cannot be read.
    pub fn fold(&self, session: SessionId) -> Result<Folded, StoreError> {
        let no = super::session::no(&self.conn, session)?;
        Ok(fresh(&self.conn, no, &mut Plans::default())?.folded)
    }

    /// The same, with the events that it follows from, as of one moment.
    ///
    /// # Errors
    /// As for [`Store::fold`].
    pub fn read_through(&self, session: SessionId) -> Result<(Folded, Vec<Stored>), StoreError> {
        let one_moment = self.conn.unchecked_transaction()?;
        read_through(&one_moment, super::session::no(&one_moment, session)?)
    }

    /// The engine as the last event of a session left it, by the plan that the session began with and what it was told
    /// then: ready to go on after an interruption. See [`Store::take_up`].
    ///
    /// # Errors
    /// As for [`Store::fold`].
    pub fn resume(&self, session: SessionId) -> Result<Session, StoreError> {
        let stored = self.plan_of(session)?;
        let mut plan = Plan::parse(&stored.file, &stored.text)
            .map_err(|source| StoreError::Plan { session, source })?;
        plan.start_step = stored.start_step;
        let fresh = Session::with_prior(plan, self.told(session)?);
        Ok(replay(fresh, &self.events(session)?))
    }

    /// Brings tables and views up to date with the events. Views do so by themselves.
    /// Gives the sessions whose plan or events this program cannot read: their log is safe, but no view
    /// shows their reps.
    ///
    /// # Errors
    /// The database cannot be read or written.
    pub fn refresh(&self) -> Result<Vec<StoreError>, StoreError> {
        let mut plans = Plans::default();
        let mut unreadable = Vec::new();
        let mut after = i64::MIN;
        loop {
            let behind = self.stale(after)?;
            let Some(last) = behind.last() else { return Ok(unreadable) };
            after = *last;
            let tx = self.write()?;
            for no in behind {
                match renew(&tx, no, &mut plans) {
                    Err(error) if error.is_of_one_session() => {
                        unreadable.push(error);
                    }
                    other => other?,
                }
            }
            tx.commit()?;
        }
    }

    /// Empties the tables that follow from the log and rebuilds them.
    ///
    /// # Errors
    /// As for [`Store::refresh`].
    pub fn rebuild(&self) -> Result<Vec<StoreError>, StoreError> {
        let tx = self.write()?;
        tx.execute_batch(
            "DELETE FROM rep; DELETE FROM mark; DELETE FROM session_summary;
             INSERT OR IGNORE INTO stale (session) SELECT no FROM session;",
        )?;
        tx.commit()?;
        self.refresh()
    }

    /// Brings the session's own rows up to date; call it when the session has ended.
    ///
    /// # Errors
    /// The session is unknown or cannot be read, or the database cannot be written.
    pub fn finish(&self, session: SessionId) -> Result<Folded, StoreError> {
        let tx = self.write()?;
        let no = super::session::no(&tx, session)?;
        let fresh = fresh(&tx, no, &mut Plans::default())?;
        write(&tx, no, &fresh)?;
        tx.commit()?;
        self.let_go(session);
        Ok(fresh.folded)
    }

    /// Makes views show every event, also where the tables cannot be written: then rows of sessions that
    /// are behind are put into temporary tables, which views of the same names lay over the others.
    pub(super) fn bring_up_to_date(&self) -> Result<(), StoreError> {
        if !self.read_only {
            for unreadable in self.refresh()? {
                tracing::warn!("left out of the views: {unreadable}");
            }
            return Ok(());
        }
        self.conn.execute_batch(OVERLAY_OFF)?;
        let mut after = i64::MIN;
        let mut plans = Plans::default();
        loop {
            let behind = self.stale(after)?;
            let Some(last) = behind.last() else { return Ok(()) };
            if after == i64::MIN {
                self.conn.execute_batch(OVERLAY_ON)?;
            }
            after = *last;
            for no in behind {
                self.conn.execute("INSERT INTO temp.behind (session) VALUES (?1)", [no])?;
                match fresh(&self.conn, no, &mut plans) {
                    Ok(fresh) => put(&self.conn, "temp.fresh_", no, &fresh)?,
                    Err(error) if error.is_of_one_session() => {
                        tracing::warn!("left out of the views: {error}");
                    }
                    Err(error) => return Err(error),
                }
            }
        }
    }

    /// The next sessions that are behind, by number.
    pub(super) fn stale(&self, after: i64) -> Result<Vec<i64>, StoreError> {
        let mut statement = self.conn.prepare_cached(
            "SELECT session FROM stale WHERE session > ?1 ORDER BY session LIMIT ?2",
        )?;
        let rows = statement.query_map(params![after, AT_ONCE as i64], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// Goes through the events of session `no`.
pub(super) fn fresh(conn: &Connection, no: i64, plans: &mut Plans) -> Result<Fresh, StoreError> {
    let (folded, events) = gone_through(conn, no, plans)?;
    Ok(Fresh { folded, events: events.len() })
}

/// What session `no` amounts to, and its events.
pub(super) fn read_through(
    conn: &Connection,
    no: i64,
) -> Result<(Folded, Vec<Stored>), StoreError> {
    gone_through(conn, no, &mut Plans::default())
}

/// The same, with plans that are read already.
pub(super) fn gone_through(
    conn: &Connection,
    no: i64,
    plans: &mut Plans,
) -> Result<(Folded, Vec<Stored>), StoreError> {
    let (session, events) = as_begun(conn, no, plans)?;
    Ok((fold(session, events.iter()), events))
}

/// Session `no` as it was when it began, and the events that followed.
pub(super) fn as_begun(
    conn: &Connection,
    no: i64,
    plans: &mut Plans,
) -> Result<(Session, Vec<Stored>), StoreError> {
    let mut statement =
        conn.prepare_cached("SELECT id, plan, start_step FROM session WHERE no = ?1")?;
    let (id, plan, start_step) =
        statement.query_row([no], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let mut plan = plans.get(conn, plan, id)?.clone();
    plan.start_step = start_step;
    Ok((Session::with_prior(plan, told::read(conn, no, id)?), read(conn, no, id)?))
}

fn renew(conn: &Connection, no: i64, plans: &mut Plans) -> Result<(), StoreError> {
    let mut statement = conn.prepare_cached("SELECT 1 FROM stale WHERE session = ?1")?;
    // Another program may have done it in the meantime.
    if statement.query_row([no], |_| Ok(())).optional()?.is_none() {
        return Ok(());
    }
    write(conn, no, &fresh(conn, no, plans)?)
}

pub(super) fn write(conn: &Connection, no: i64, fresh: &Fresh) -> Result<(), StoreError> {
    for clear in [
        "DELETE FROM rep WHERE session = ?1",
        "DELETE FROM mark WHERE session = ?1",
        "DELETE FROM session_summary WHERE session = ?1",
        "DELETE FROM stale WHERE session = ?1",
    ] {
        conn.prepare_cached(clear)?.execute([no])?;
    }
    put(conn, "main.", no, fresh)
}

/// The tables that follow from the log, with their columns.
pub(super) const REP: (&str, &str) = (
    "rep",
    "session, number, at_ns, active_ns, working, step, outcome, side, latency_ns, duration_ns, event, edited,
     value_named, links",
);
pub(super) const MARK: (&str, &str) =
    ("mark", "session, number, at_ns, active_ns, kind, name, event");
pub(super) const SUMMARY: (&str, &str) = (
    "session_summary",
    "session, events, active_ns, rewarded, missed, low, high, jackpot, last_step, best_step, latency_median_ns,
     longest_hold_ns, unsure, edits, main_nudge, ended_well, ended, declining_ns",
);

/// Puts a session's rows into tables whose names begin with `into`.
pub(super) fn put(conn: &Connection, into: &str, no: i64, fresh: &Fresh) -> Result<(), StoreError> {
    let insert = |(table, columns): (&str, &str)| {
        let places = vec!["?"; columns.split(',').count()].join(", ");
        conn.prepare_cached(&format!("INSERT INTO {into}{table} ({columns}) VALUES ({places})"))
    };
    let mut statement = insert(REP)?;
    let links = link_texts(&fresh.folded);
    for row in rep_rows(no, &fresh.folded, &links) {
        statement.execute(params_from_iter(row.map(ToSqlOutput::Borrowed)))?;
    }
    let mut statement = insert(MARK)?;
    for row in mark_rows(no, &fresh.folded) {
        statement.execute(params_from_iter(row.map(ToSqlOutput::Borrowed)))?;
    }
    let row = summary_row(no, fresh);
    insert(SUMMARY)?.execute(params_from_iter(row.map(ToSqlOutput::Borrowed)))?;
    Ok(())
}

/// How the links of each try went, as [`REP`] has them; empty for what is not a chain.
pub(super) fn link_texts(folded: &Folded) -> Vec<String> {
    folded.reps.iter().map(|one| one.rep.links.to_string()).collect()
}

/// Rows of [`REP`], in order; `links` are their [`link_texts`].
pub(super) fn rep_rows<'a>(
    no: i64,
    folded: &'a Folded,
    links: &'a [String],
) -> impl Iterator<Item = [ValueRef<'a>; 14]> {
    (1_i64..).zip(folded.reps.iter().zip(links)).map(move |(number, (one, links))| {
        let rep = &one.rep;
        [
            Integer(no),
            Integer(number),
            Integer(nanos(rep.at.elapsed())),
            Integer(nanos(rep.active)),
            Integer(rep.working.into()),
            Integer(rep.step.into()),
            text(outcome_name(rep.outcome)),
            rep.side.map_or(Null, |side| text(super::row::side_name(side))),
            integer(rep.latency.map(nanos)),
            integer(rep.duration.map(nanos)),
            one.event.as_ref().map_or(Null, |id| Blob(id.0.as_bytes())),
            Integer(one.edited.into()),
            Integer(rep.value_named.into()),
            if links.is_empty() { Null } else { text(links) },
        ]
    })
}

/// Rows of [`MARK`], in order.
pub(super) fn mark_rows(no: i64, folded: &Folded) -> impl Iterator<Item = [ValueRef<'_>; 7]> {
    (1_i64..).zip(&folded.marks).map(move |(number, mark)| {
        [
            Integer(no),
            Integer(number),
            Integer(nanos(mark.at.elapsed())),
            Integer(nanos(mark.active)),
            text(mark.kind.name()),
            text(&mark.name),
            Blob(mark.event.0.as_bytes()),
        ]
    })
}

/// The row of [`SUMMARY`].
pub(super) fn summary_row(no: i64, fresh: &Fresh) -> [ValueRef<'_>; 18] {
    let Fresh { folded, events } = fresh;
    let sum = &folded.summary;
    let [low, high, jackpot] = sum.paid.map(count).map(Integer);
    let span = |seconds: f64| nanos(Duration::try_from_secs_f64(seconds).unwrap_or_default());
    [
        Integer(no),
        Integer(count(*events)),
        Integer(nanos(folded.active)),
        Integer(sum.tries.rewarded.into()),
        Integer(sum.tries.missed.into()),
        low,
        high,
        jackpot,
        Integer(sum.step.into()),
        integer(sum.best_step.map(i64::from)),
        integer(sum.latency_median_s.map(span)),
        integer(sum.longest_hold_s.map(span)),
        Integer(count(sum.unsure)),
        Integer(count(folded.edits)),
        sum.main_nudge.map_or(Null, |nudge| text(nudge.name())),
        Integer(sum.ended_well.into()),
        folded.ended.map_or(Null, |why| text(super::row::ended_name(why))),
        integer(folded.declining_since.map(nanos)),
    ]
}

fn text(text: &str) -> ValueRef<'_> {
    ValueRef::Text(text.as_bytes())
}

fn integer(number: Option<i64>) -> ValueRef<'static> {
    number.map_or(Null, Integer)
}

fn count(number: usize) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

fn nanos(span: Duration) -> i64 {
    i64::try_from(span.as_nanos()).unwrap_or(i64::MAX)
}

fn outcome_name(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Rewarded(RewardValue::Low) => "low",
        Outcome::Rewarded(RewardValue::High) => "high",
        Outcome::Rewarded(RewardValue::Jackpot) => "jackpot",
        Outcome::Missed(MissedBecause::Said) => "missed",
        Outcome::Missed(MissedBecause::HoldRanOut) => "hold_ran_out",
    }
}
