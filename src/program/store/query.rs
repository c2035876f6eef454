//! Views: sessions and reps that a filter lets through, in order of time.

use jiff::ZonedDateTime;
use jiff::civil::Date;
use jiff::tz::{Offset, TimeZone};
use rusqlite::types::Value;

use super::row::{REP_COLUMNS, SESSION_COLUMNS};
use super::{
    AnimalId, MarkKind, MarkRow, RepRow, SessionId, SessionRow, Source, Store, StoreError, row,
};

/// Which sessions; what is not named is not asked for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Filter {
    /// One session.
    pub session: Option<SessionId>,
    /// One animal, by its key.
    pub animal: Option<AnimalId>,
    /// One behaviour.
    pub behaviour: Option<String>,
    /// First local date.
    pub from: Option<Date>,
    /// Last local date.
    pub to: Option<Date>,
    /// One trainer.
    pub person: Option<String>,
    /// One place.
    pub place: Option<String>,
    /// One way of recording.
    pub source: Option<Source>,
    /// The sessions of one sitting, by the first of them.
    pub sitting: Option<SessionId>,
    /// Leave out sessions without an end.
    pub finished: bool,
    /// Leave out what never began: something heard while no session was under way, that waits to be settled.
    pub begun: bool,
    /// Only this many of the latest.
    pub latest: Option<u32>,
}

impl Filter {
    /// Every session of one animal.
    pub fn animal(id: AnimalId) -> Self {
        Filter { animal: Some(id), ..Filter::default() }
    }

    /// The latest session that was begun.
    pub fn latest() -> Self {
        Filter { latest: Some(1), begun: true, ..Filter::default() }
    }

    /// One session.
    pub fn session(id: SessionId) -> Self {
        Filter { session: Some(id), ..Filter::default() }
    }

    /// The numbers of these sessions as a query, with its values.
    pub(super) fn numbers(&self) -> (String, Vec<Value>) {
        let mut clauses: Vec<&str> = Vec::new();
        let mut values: Vec<Value> = Vec::new();
        let mut ask = |clause: &'static str, value: Value| {
            clauses.push(clause);
            values.push(value);
        };
        let text = |text: &str| Value::Text(text.to_owned());
        if let Some(id) = self.session {
            ask("f.id = ?", Value::Blob(id.0.as_bytes().to_vec()));
        }
        if let Some(id) = self.animal {
            ask(
                "f.animal = (SELECT no FROM animal WHERE id = ?)",
                Value::Blob(id.0.as_bytes().to_vec()),
            );
        }
        if let Some(behaviour) = &self.behaviour {
            ask("f.behaviour = ?", text(behaviour));
        }
        if let Some(from) = self.from {
            ask("f.day >= ?", text(&from.to_string()));
        }
        if let Some(to) = self.to {
            ask("f.day <= ?", text(&to.to_string()));
        }
        if let Some(person) = &self.person {
            ask("f.person = ?", text(person));
        }
        if let Some(place) = &self.place {
            ask("f.place = ?", text(place));
        }
        if let Some(first) = self.sitting {
            ask("coalesce(f.sitting, f.id) = ?", Value::Blob(first.0.as_bytes().to_vec()));
        }
        if let Some(source) = self.source {
            ask("f.source = ?", text(source.name()));
        }
        if self.finished {
            clauses.push(
                "EXISTS (SELECT 1 FROM event e WHERE e.session = f.no AND e.kind = 'finished')",
            );
        }
        if self.begun {
            clauses.push(
                "(EXISTS (SELECT 1 FROM rep r WHERE r.session = f.no)
                  OR EXISTS (SELECT 1 FROM event e WHERE e.session = f.no AND e.kind = 'began'))",
            );
        }
        let mut sql = "SELECT f.no FROM session f".to_owned();
        if !clauses.is_empty() {
            sql = format!("{sql} WHERE {}", clauses.join(" AND "));
        }
        if let Some(latest) = self.latest {
            sql.push_str(" ORDER BY f.began_us DESC, f.no DESC LIMIT ?");
            values.push(Value::Integer(latest.into()));
        }
        (sql, values)
    }
}

impl Store {
    /// Sessions in order of time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn sessions(&self, filter: &Filter) -> Result<Vec<SessionRow>, StoreError> {
        self.bring_up_to_date()?;
        let (numbers, values) = filter.numbers();
        let sql = format!(
            "SELECT {SESSION_COLUMNS} FROM session s JOIN animal a ON a.no = s.animal
             JOIN session_summary m ON m.session = s.no
             WHERE s.no IN ({numbers}) ORDER BY s.began_us, s.no",
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let rows = statement.query_map(rusqlite::params_from_iter(values), row::session)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Reps in order of time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn reps(&self, filter: &Filter) -> Result<Vec<RepRow>, StoreError> {
        let mut reps = Vec::new();
        self.each_rep(filter, |rep| reps.push(rep))?;
        Ok(reps)
    }

    /// The same, one after the other: a hundred thousand need not be held at once.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn each_rep(
        &self,
        filter: &Filter,
        mut take: impl FnMut(RepRow),
    ) -> Result<(), StoreError> {
        self.bring_up_to_date()?;
        // Session by session they lie in order; asked for all at once they would have to be sorted, and half of the
        // time and the most memory of a long history went into that.
        let mut statement = self.conn.prepare_cached(&reps_of_one())?;
        // As of one moment, and the file is locked once.
        let alone = self.conn.is_autocommit();
        let _one_moment = alone.then(|| self.conn.unchecked_transaction()).transpose()?;
        for (no, id) in self.in_order(filter)? {
            let mut rows = statement.query([no])?;
            while let Some(found) = rows.next()? {
                take(row::rep(found, id)?);
            }
        }
        Ok(())
    }

    /// Number and key of each session, in order of time.
    fn in_order(&self, filter: &Filter) -> Result<Vec<(i64, SessionId)>, StoreError> {
        let (numbers, values) = filter.numbers();
        let sql = format!(
            "SELECT s.no, s.id FROM session s WHERE s.no IN ({numbers}) ORDER BY s.began_us, s.no"
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let rows = statement
            .query_map(rusqlite::params_from_iter(values), |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What else happened, of these kinds (all when none is named), in order of time.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn marks(&self, filter: &Filter, kinds: &[MarkKind]) -> Result<Vec<MarkRow>, StoreError> {
        self.bring_up_to_date()?;
        let (numbers, values) = filter.numbers();
        let names: Vec<String> = kinds.iter().map(|kind| format!("'{}'", kind.name())).collect();
        let only = if names.is_empty() {
            String::new()
        } else {
            format!("AND k.kind IN ({})", names.join(", "))
        };
        let sql = format!(
            "SELECT s.id, k.at_ns, k.active_ns, k.kind, k.name, k.event
             FROM session s JOIN mark k ON k.session = s.no
             WHERE s.no IN ({numbers}) {only} ORDER BY s.began_us, s.no, k.number",
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let rows = statement.query_map(rusqlite::params_from_iter(values), row::mark)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// A note of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct SessionNote {
    /// When it was written down, in the session's zone: live that is when it was said.
    pub when: ZonedDateTime,
    /// What it says.
    pub text: String,
}

impl Store {
    /// Every note of an animal's sessions, also those that were added later, in order of session.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn session_notes(&self, animal: AnimalId) -> Result<Vec<SessionNote>, StoreError> {
        self.bring_up_to_date()?;
        let mut statement = self.conn.prepare_cached(
            "SELECT k.name, e.utc_us, s.offset_s
             FROM mark k JOIN session s ON s.no = k.session JOIN event e ON e.id = k.event
             WHERE k.kind = 'note' AND s.animal = (SELECT no FROM animal WHERE id = ?1)
             ORDER BY s.began_us, s.no, k.number",
        )?;
        let rows = statement.query_map([animal], |row| {
            let offset = Offset::from_seconds(row.get(2)?).unwrap_or(Offset::UTC);
            let utc = super::session::moment(row.get(1)?);
            let when = ZonedDateTime::new(utc, TimeZone::fixed(offset));
            Ok(SessionNote { when, text: row.get(0)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// Tries of one session, in order.
pub(super) fn reps_of_one() -> String {
    format!("SELECT {REP_COLUMNS} FROM rep r WHERE r.session = ?1 ORDER BY r.number")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tries_are_read_as_they_lie_without_being_sorted() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("record.db")).unwrap();
        let sql = format!("EXPLAIN QUERY PLAN {}", reps_of_one());
        let mut statement = store.conn.prepare(&sql).unwrap();
        let steps = statement.query_map([1], |row| row.get::<_, String>(3)).unwrap();
        let steps: Vec<String> = steps.map(Result::unwrap).collect();
        assert!(
            !steps.is_empty() && steps.iter().all(|step| step.starts_with("SEARCH")),
            "{steps:?}"
        );
    }
}
