//! Checks everything that can be checked: the file, the links, the log, and that what is shown follows from
//! the log.

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::append::{Content, Stored, encode, read};
use super::fold::feed;
use super::projection::{OVERLAY_OFF, OVERLAY_ON, Plans, fresh, put};
use super::{SessionId, Source, Store, StoreError};
use crate::session::{Derived, Event, Output, Session};

/// What a check found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verdict {
    /// What must not be: damage, or views that do not follow from the log.
    pub faults: Vec<String>,
    /// What is worth knowing and loses nothing.
    pub remarks: Vec<String>,
    /// Sessions looked at.
    pub sessions: u64,
    /// Events looked at.
    pub events: u64,
}

impl Verdict {
    /// Whether all is well.
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }
}

/// A session to be looked at.
struct Subject {
    no: i64,
    id: SessionId,
    plan: i64,
    start_step: u8,
    made_by: String,
    source: Option<Source>,
    stale: bool,
}

impl Store {
    /// Checks the whole database. `made_by` is this program's version: what another version made may
    /// give other nudges when gone through again, which is remarked on and is no fault.
    ///
    /// # Errors
    /// The database cannot be read at all.
    pub fn verify(&self, made_by: &str) -> Result<Verdict, StoreError> {
        let mut verdict = Verdict::default();
        for fault in texts(&self.conn, "PRAGMA integrity_check")? {
            if fault != "ok" {
                verdict.faults.push(format!("the file is damaged: {fault}"));
            }
        }
        if !verdict.is_sound() {
            return Ok(verdict);
        }
        for table in texts(&self.conn, "SELECT \"table\" FROM pragma_foreign_key_check")? {
            verdict.faults.push(format!("a row of {table} points to one that is not there"));
        }
        self.check_plans(&mut verdict)?;
        self.check_order(&mut verdict)?;
        if !self.read_only {
            self.refresh()?;
        }
        self.conn.execute_batch(OVERLAY_OFF)?;
        self.conn.execute_batch(OVERLAY_ON)?;
        // The views of the same names would hide the tables that are to be looked at.
        let mut plans = Plans::default();
        for subject in self.subjects()? {
            verdict.sessions += 1;
            match self.check_session(&subject, made_by, &mut plans, &mut verdict) {
                Err(error @ (StoreError::Plan { .. } | StoreError::Unreadable { .. })) => {
                    verdict.faults.push(error.to_string());
                }
                other => other?,
            }
        }
        self.conn.execute_batch(OVERLAY_OFF)?;
        Ok(verdict)
    }

    fn check_plans(&self, verdict: &mut Verdict) -> Result<(), StoreError> {
        let mut statement = self.conn.prepare("SELECT no, text, sha256 FROM plan_version")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let text = row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?;
            let sum = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
            if Sha256::digest(text.as_bytes()).as_slice() != sum {
                let no: i64 = row.get(0)?;
                verdict.faults.push(format!("the text of plan version {no} is not the one stored"));
            }
        }
        Ok(())
    }

    fn check_order(&self, verdict: &mut Verdict) -> Result<(), StoreError> {
        let mut statement = self.conn.prepare(
            "SELECT s.id, count(*), max(e.ordinal) + 1 FROM event e JOIN session s ON s.no = e.session
             GROUP BY e.session",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, count, next): (SessionId, i64, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
            verdict.events += u64::try_from(count).unwrap_or(0);
            if count != next {
                verdict.faults.push(format!("session {id} lacks {} events", next - count));
            }
        }
        Ok(())
    }

    fn subjects(&self) -> Result<Vec<Subject>, StoreError> {
        let mut statement = self.conn.prepare(
            "SELECT s.no, s.id, s.plan, s.start_step, s.made_by, s.source,
                EXISTS (SELECT 1 FROM stale t WHERE t.session = s.no)
             FROM session s ORDER BY s.no",
        )?;
        let rows = statement.query_map([], |row| {
            Ok(Subject {
                no: row.get(0)?,
                id: row.get(1)?,
                plan: row.get(2)?,
                start_step: row.get(3)?,
                made_by: row.get(4)?,
                source: Source::of_name(row.get_ref(5)?.as_str()?),
                stale: row.get(6)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn check_session(
        &self,
        subject: &Subject,
        made_by: &str,
        plans: &mut Plans,
        verdict: &mut Verdict,
    ) -> Result<(), StoreError> {
        let fresh = fresh(&self.conn, subject.no, plans)?;
        for id in &fresh.folded.aimless {
            verdict.remarks.push(format!("edit {id} of session {} changes nothing", subject.id));
        }
        if !subject.stale {
            put(&self.conn, "temp.fresh_", subject.no, &fresh)?;
            for table in ["rep", "mark", "session_summary"] {
                if self.differs(table, subject.no)? {
                    verdict.faults.push(format!(
                        "what is shown of session {} ({table}) does not follow from its log: rebuild",
                        subject.id
                    ));
                }
                self.conn.execute(&format!("DELETE FROM temp.fresh_{table}"), [])?;
            }
        }
        // Earlier notes never had nudges.
        if subject.source == Some(Source::Import) {
            return Ok(());
        }
        let mut plan = plans.get(&self.conn, subject.plan, subject.id)?.clone();
        plan.start_step = subject.start_step;
        let events = read(&self.conn, subject.no, subject.id)?;
        let end = events.iter().position(is_end).map_or(events.len(), |end| end + 1);
        let after = events[end..].iter().filter(|stored| stored.logged().is_some()).count();
        if after > 0 {
            verdict
                .remarks
                .push(format!("session {} has {after} events after its end", subject.id));
        }
        if !same_again(Session::new(plan), &events[..end]) {
            let said = format!("session {} gives other nudges when gone through again", subject.id);
            if subject.made_by == made_by {
                verdict.faults.push(said);
            } else {
                verdict.remarks.push(format!("{said}: it was made by version {}", subject.made_by));
            }
        }
        Ok(())
    }

    fn differs(&self, table: &str, no: i64) -> Result<bool, StoreError> {
        let sql = format!(
            "SELECT 1 FROM (SELECT * FROM main.{table} WHERE session = ?1 EXCEPT SELECT * FROM temp.fresh_{table})
             UNION ALL
             SELECT 1 FROM (SELECT * FROM temp.fresh_{table} EXCEPT SELECT * FROM main.{table} WHERE session = ?1)",
        );
        Ok(self.conn.prepare_cached(&sql)?.exists([no])?)
    }
}

/// Whether the engine asks for the very events that are stored.
fn same_again(mut session: Session, events: &[Stored]) -> bool {
    let mut again = Vec::new();
    for stored in events {
        for output in feed(&mut session, stored) {
            if let Output::Append(logged) = output {
                again.push((logged.at, encode(&logged.event).ok()));
            }
        }
    }
    let stored = events.iter().filter_map(|stored| match &stored.content {
        Content::Event(event) => Some((stored.at, encode(event).ok())),
        Content::Edit(_) => None,
    });
    let stored: Vec<_> = stored.collect();
    // The end may stand alone in a session that never began.
    let lone_end = events.last().is_some_and(is_end) && again.len() + 1 == stored.len();
    again == stored || (lone_end && again[..] == stored[..again.len()])
}

fn is_end(stored: &Stored) -> bool {
    matches!(&stored.content, Content::Event(Event::Derived(Derived::Finished { .. })))
}

fn texts(conn: &Connection, sql: &str) -> Result<Vec<String>, StoreError> {
    let mut statement = conn.prepare(sql)?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
