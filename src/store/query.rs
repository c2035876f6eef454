//! Views: sessions and reps that a filter lets through, in order of time.

use jiff::civil::Date;
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
    /// Leave out sessions without an end.
    pub finished: bool,
    /// Only the latest so many.
    pub latest: Option<u32>,
}

impl Filter {
    /// Every session of one animal.
    pub fn animal(id: AnimalId) -> Self {
        Filter { animal: Some(id), ..Filter::default() }
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
        if let Some(source) = self.source {
            ask("f.source = ?", text(source.name()));
        }
        if self.finished {
            clauses.push(
                "EXISTS (SELECT 1 FROM event e WHERE e.session = f.no AND e.kind = 'finished')",
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
        self.bring_up_to_date()?;
        let (numbers, values) = filter.numbers();
        let sql = format!(
            "SELECT {REP_COLUMNS} FROM session s JOIN rep r ON r.session = s.no
             WHERE s.no IN ({numbers}) ORDER BY s.began_us, s.no, r.number",
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let rows = statement.query_map(rusqlite::params_from_iter(values), row::rep)?;
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
