//! Checks everything that can be checked: the file, the links, the log, and that what is shown follows from
//! the log.

use std::thread;

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::append::{Content, Stored, encode};
use super::compare::differing;
use super::feed::{Feed, is_end, is_said, is_try};
use super::fold::fold_and;
use super::projection::{Fresh, Plans, as_begun};
use super::{SessionId, Source, Store, StoreError, told};
use crate::at::At;
use crate::session::{Event, Output};

/// What a check found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verdict {
    /// Damage: something that was kept may be missing.
    pub faults: Vec<String>,
    /// What must not be, although all that was said is there: views that do not follow from the log, nudges that do
    /// not follow from what was said, and what stands behind an end. No backup is needed for any of it.
    pub differences: Vec<String>,
    /// What is worth knowing and loses nothing.
    pub remarks: Vec<String>,
    /// Sessions looked at.
    pub sessions: u64,
    /// Events looked at.
    pub events: u64,
}

impl Verdict {
    fn add(&mut self, part: Verdict) {
        self.faults.extend(part.faults);
        self.differences.extend(part.differences);
        self.remarks.extend(part.remarks);
        self.sessions += part.sessions;
        self.events += part.events;
    }

    /// Whether all is well.
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty() && self.differences.is_empty()
    }
}

/// A session to be looked at.
struct Subject {
    no: i64,
    id: SessionId,
    made_by: String,
    source: Option<Source>,
    stale: bool,
}

impl Store {
    /// Checks the whole database. `made_by` is this program's version: what another version made may
    /// give other nudges when replayed, which is remarked on and is not a fault.
    ///
    /// # Errors
    /// The database cannot be read at all.
    pub fn verify(&self, made_by: &str) -> Result<Verdict, StoreError> {
        // Nothing is written to a file that may be damaged.
        let behind =
            !self.read_only && self.stale(i64::MIN).map_or(true, |behind| !behind.is_empty());
        let mut verdict = Verdict::default();
        if behind {
            let (found, readable) = self.check_file()?;
            verdict = found;
            if !readable {
                return Ok(verdict);
            }
            self.refresh()?;
        }
        // The file and the sessions beside each other, each by a connection of its own.
        let path = self.path.as_path();
        let workers = thread::available_parallelism().map_or(1, usize::from);
        let (file, parts) = thread::scope(|scope| {
            let check_file = || Store::open_any_format(path)?.check_file();
            let file = (!behind).then(|| scope.spawn(check_file));
            let parts: Vec<_> = (0..workers)
                .map(|part| {
                    let walk = move || {
                        Store::open_any_format(path)?.check_sessions(made_by, part, workers)
                    };
                    scope.spawn(walk)
                })
                .collect();
            (file.map(joined), parts.into_iter().map(joined).collect::<Vec<_>>())
        });
        if let Some(file) = file {
            let (found, readable) = file?;
            verdict = found;
            if !readable {
                return Ok(verdict);
            }
        }
        for part in parts {
            verdict.add(part?);
        }
        Ok(verdict)
    }

    /// The file, its links, its plans, and whether every event is there. Also whether the file is whole enough to
    /// look at its sessions.
    fn check_file(&self) -> Result<(Verdict, bool), StoreError> {
        let mut verdict = Verdict::default();
        for fault in texts(&self.conn, "PRAGMA integrity_check")? {
            if fault != "ok" {
                verdict.faults.push(format!("the file is damaged: {fault}"));
            }
        }
        if !verdict.is_sound() {
            return Ok((verdict, false));
        }
        for table in texts(&self.conn, "SELECT \"table\" FROM pragma_foreign_key_check")? {
            verdict.faults.push(format!("a row of {table} points to one that is not there"));
        }
        self.check_plans(&mut verdict)?;
        self.check_told(&mut verdict)?;
        self.check_order(&mut verdict)?;
        Ok((verdict, true))
    }

    /// Checks the sessions of one part, of as many parts as are checked side by side.
    pub(super) fn check_sessions(
        &self,
        made_by: &str,
        part: usize,
        parts: usize,
    ) -> Result<Verdict, StoreError> {
        let mut verdict = Verdict::default();
        // As of one moment, while others go on writing.
        let one_moment = self.conn.unchecked_transaction()?;
        let mut plans = Plans::default();
        let subjects = self.subjects()?;
        let [from, to] = [part, part + 1].map(|part| subjects.len() * part / parts);
        for subject in &subjects[from..to] {
            verdict.sessions += 1;
            match self.check_session(subject, made_by, &mut plans, &mut verdict) {
                Err(error) if error.is_of_one_session() => {
                    verdict.faults.push(error.to_string());
                }
                other => other?,
            }
        }
        one_moment.commit()?;
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

    fn check_told(&self, verdict: &mut Verdict) -> Result<(), StoreError> {
        let mut statement = self.conn.prepare("SELECT no, body, sha256 FROM past")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let body = row.get_ref(1)?.as_str().map_err(rusqlite::Error::from)?;
            let sum = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
            if Sha256::digest(body.as_bytes()).as_slice() != sum {
                let no: i64 = row.get(0)?;
                verdict.faults.push(format!(
                    "what sessions were told of an earlier one (number {no}) is not what was kept"
                ));
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
            "SELECT s.no, s.id, s.made_by, s.source,
                EXISTS (SELECT 1 FROM stale t WHERE t.session = s.no)
             FROM session s ORDER BY s.no",
        )?;
        let rows = statement.query_map([], |row| {
            Ok(Subject {
                no: row.get(0)?,
                id: row.get(1)?,
                made_by: row.get(2)?,
                source: Source::of_name(row.get_ref(3)?.as_str()?),
                stale: row.get(4)?,
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
        let (session, events) = as_begun(&self.conn, subject.no, plans)?;
        let end = events.iter().position(is_end).map_or(events.len(), |end| end + 1);
        let mut asked = Vec::new();
        // What stands behind an end moves it: such a session is replayed, up to its end alone.
        let moved = events[end..].iter().any(is_said);
        let before = moved.then(|| session.clone());
        // Earlier notes never had nudges.
        let live = subject.source != Some(Source::Import);
        let folded = fold_and(session, events.iter(), |_, outputs| {
            if live {
                take_down(outputs, &mut asked);
            }
        });
        if let Some(mut session) = before {
            asked.clear();
            let feed = Feed::of(events[..end].iter());
            for stored in &events[..end] {
                take_down(feed.give(&mut session, stored), &mut asked);
            }
        }
        let fresh = Fresh { folded, events: events.len() };
        for id in &fresh.folded.aimless {
            verdict.remarks.push(format!("edit {id} of session {} changes nothing", subject.id));
        }
        if !subject.stale {
            for table in differing(&self.conn, subject.no, &fresh)? {
                verdict.differences.push(format!(
                    "what is shown of session {} ({table}) does not follow from its log",
                    subject.id
                ));
            }
        }
        let id = subject.id;
        let behind = events[end..].iter().filter(|stored| is_said(stored));
        let (tries, others): (Vec<_>, Vec<_>) = behind.partition(|stored| is_try(stored));
        let (tries, others) = (tries.len(), others.len());
        if tries + others > 0 {
            verdict.differences.push(format!(
                "session {id} was ended by one program while another went on with it: {tries} tries and {others} \
                 other tags stand behind that end. They are shown with it all the same; look at it in the review"
            ));
        }
        if !live {
            return Ok(());
        }
        let said = format!("session {id} gives other nudges when replayed");
        let forgotten = told::forgotten(&self.conn, subject.no)?;
        match again(&asked, &events[..end]) {
            Again::Same => {}
            Again::CutOff { lacks } => verdict.remarks.push(format!(
                "session {id} was cut off between a tag and what followed from it: {lacks} such events were not \
                 written down any more. Everything that was said is there"
            )),
            _ if subject.made_by != made_by => {
                verdict.remarks.push(format!("{said}: it was made by version {}", subject.made_by));
            }
            Again::Otherwise if forgotten > 0 => verdict.remarks.push(format!(
                "{said}: {forgotten} of the earlier sessions that it was told of have been forgotten since"
            )),
            Again::Otherwise => verdict.differences.push(said),
            Again::OtherInputs => {
                verdict.faults.push(format!("{said}: something that was said may be missing"));
            }
        }
        Ok(())
    }
}

/// What a thread came to; its panic goes on here.
fn joined<T>(thread: thread::ScopedJoinHandle<'_, T>) -> T {
    thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
}

/// How the events of a session compare with those that the engine asks for when it replays them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Again {
    /// The very same.
    Same,
    /// Some that follow from the others were not written down: earlier programs wrote each by itself.
    CutOff {
        /// How many.
        lacks: usize,
    },
    /// Others follow from the same that was said.
    Otherwise,
    /// What was said does not come out again.
    OtherInputs,
}

/// Adds what the engine asks to be written down.
fn take_down(outputs: Vec<Output>, asked: &mut Vec<Said>) {
    for output in outputs {
        if let Output::Append(logged) = output {
            asked.push(Said::of(logged.at, &logged.event));
        }
    }
}

fn again(asked: &[Said], events: &[Stored]) -> Again {
    let stored = events.iter().filter_map(|stored| match &stored.content {
        Content::Event(event) => Some(Said::of(stored.at, event)),
        Content::Edit(_) => None,
    });
    let stored: Vec<Said> = stored.collect();
    if asked == stored {
        return Again::Same;
    }
    let inputs = |all: &[Said]| all.iter().filter(|one| one.came_in).cloned().collect::<Vec<_>>();
    if inputs(asked) != inputs(&stored) {
        return Again::OtherInputs;
    }
    match lacking(asked, &stored) {
        Some(0) => Again::Same,
        Some(lacks) => Again::CutOff { lacks },
        None => Again::Otherwise,
    }
}

/// How many of the events asked for are not stored; `None` when others are stored that were not asked for. An end may
/// stand alone in a session that never began, and a start without the tag that it was for.
fn lacking(asked: &[Said], stored: &[Said]) -> Option<usize> {
    let (mut rest, mut lacks) = (asked, 0);
    for one in stored {
        let Some(place) = rest.iter().position(|asked| asked == one) else {
            if matches!(one.kind, "began" | "finished") {
                continue;
            }
            return None;
        };
        lacks += place;
        rest = &rest[place + 1..];
    }
    Some(lacks + rest.len())
}

/// An event as it is compared.
#[derive(Debug, Clone, PartialEq)]
struct Said {
    at: At,
    came_in: bool,
    kind: &'static str,
    body: String,
}

impl Said {
    fn of(at: At, event: &Event) -> Said {
        // What cannot be written down was never stored either.
        let (kind, body) = encode(event).unwrap_or_default();
        Said { at, came_in: matches!(event, Event::Input(_)), kind, body }
    }
}

fn texts(conn: &Connection, sql: &str) -> Result<Vec<String>, StoreError> {
    let mut statement = conn.prepare(sql)?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
