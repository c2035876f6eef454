//! When performance fell: the first nudge that said so, or the trainer's own word.

use std::collections::BTreeMap;
use std::time::Duration;

use super::{Filter, SessionId, Store, StoreError, row};

impl Store {
    /// For each session that declined, the active time at which it first showed: a nudge to end that was not
    /// given for the planned length or a high point, or "tired" or "worried" by the trainer.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn declines(&self, filter: &Filter) -> Result<BTreeMap<SessionId, Duration>, StoreError> {
        self.bring_up_to_date()?;
        let (numbers, values) = filter.numbers();
        let sql = format!(
            "SELECT s.id, min(m.active_ns) FROM session s JOIN mark m ON m.session = s.no
             WHERE s.no IN ({numbers}) AND (
                 (m.kind = 'mood' AND m.name IN ('worried', 'tired'))
                 OR (m.kind = 'nudge' AND m.name IN ('end_soon', 'end_now') AND EXISTS (
                     SELECT 1 FROM event e WHERE e.id = m.event
                         AND e.body ->> '$.reason.detector' NOT IN ('planned end', 'high point'))))
             GROUP BY s.no",
        );
        let mut statement = self.conn.prepare_cached(&sql)?;
        let rows = statement.query_map(rusqlite::params_from_iter(values), |found| {
            Ok((found.get(0)?, row::span(found.get(1)?)))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
