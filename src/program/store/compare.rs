//! Whether what is shown of a session is what follows from its log.

use rusqlite::Connection;
use rusqlite::types::ValueRef;

use super::StoreError;
use super::projection::{Fresh, MARK, REP, SUMMARY, link_texts, mark_rows, rep_rows, summary_row};

/// The tables whose rows of session `no` are others than those that follow from its log.
pub(super) fn differing(
    conn: &Connection,
    no: i64,
    fresh: &Fresh,
) -> Result<Vec<&'static str>, StoreError> {
    let mut found = Vec::new();
    let links = link_texts(&fresh.folded);
    if !same(conn, REP, "number", no, rep_rows(no, &fresh.folded, &links))? {
        found.push(REP.0);
    }
    if !same(conn, MARK, "number", no, mark_rows(no, &fresh.folded))? {
        found.push(MARK.0);
    }
    if !same(conn, SUMMARY, "session", no, std::iter::once(summary_row(no, fresh)))? {
        found.push(SUMMARY.0);
    }
    Ok(found)
}

/// Whether these are the very rows of the table, in this order.
fn same<'a, const COLUMNS: usize>(
    conn: &Connection,
    (table, columns): (&str, &str),
    order: &str,
    no: i64,
    rows: impl Iterator<Item = [ValueRef<'a>; COLUMNS]>,
) -> Result<bool, StoreError> {
    // A view of the same name may lie over the table.
    let sql = format!("SELECT {columns} FROM main.{table} WHERE session = ?1 ORDER BY {order}");
    let mut statement = conn.prepare_cached(&sql)?;
    let mut stored = statement.query([no])?;
    for row in rows {
        let Some(found) = stored.next()? else { return Ok(false) };
        for (column, value) in row.into_iter().enumerate() {
            if found.get_ref(column)? != value {
                return Ok(false);
            }
        }
    }
    Ok(stored.next()?.is_none())
}
