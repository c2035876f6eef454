//! The record as tables for other programs: CSV, JSON Lines and Parquet. Every column has a unit and a meaning, which
//! [`Table::columns`] lists. Rows are written as they are read, so that size does not matter.

mod columns;
mod csv_rows;
mod json_rows;
mod parquet_rows;

use std::collections::BTreeMap;
use std::io::{self, Write};

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Row;
use rusqlite::types::{Value, ValueRef};

pub use columns::{Column, Table};

use super::{Filter, Store, StoreError};
use columns::Kind;

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values with a header line (RFC 4180).
    Csv,
    /// One JSON object a line.
    JsonLines,
    /// Apache Parquet.
    Parquet,
}

/// What becomes of names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Names {
    /// They stay.
    Kept,
    /// Animals and persons become numbers, places and files too; free text is left out.
    Hidden,
}

/// Why an export stopped.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The database could not be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The output could not be written.
    #[error("the export cannot be written: {0}")]
    Output(#[from] io::Error),
}

impl From<rusqlite::Error> for ExportError {
    fn from(error: rusqlite::Error) -> Self {
        ExportError::Store(error.into())
    }
}

/// One value, ready to be written.
#[derive(Debug, Clone, PartialEq)]
enum Cell {
    Nothing,
    Text(String),
    Whole(i64),
    Number(f64),
    Bool(bool),
    Utc(Timestamp),
    Day(Date),
    Json(String),
}

trait Rows {
    fn row(&mut self, columns: &[&Column], cells: &[Cell]) -> io::Result<()>;
    fn end(&mut self) -> io::Result<()>;
}

impl Store {
    /// Writes a table out, in order of time; gives the number of rows.
    ///
    /// # Errors
    /// The database cannot be read, or the output not be written.
    pub fn export(
        &self,
        table: Table,
        filter: &Filter,
        format: Format,
        names: Names,
        out: &mut (dyn Write + Send),
    ) -> Result<u64, ExportError> {
        self.bring_up_to_date()?;
        let columns: Vec<&Column> = table
            .columns()
            .iter()
            .filter(|column| {
                names == Names::Kept || !matches!(column.kind, Kind::FreeText | Kind::Json)
            })
            .collect();
        let mut rows: Box<dyn Rows + '_> = match format {
            Format::Csv => Box::new(csv_rows::CsvRows::begin(out, &columns)?),
            Format::JsonLines => Box::new(json_rows::JsonRows::begin(out)),
            Format::Parquet => {
                Box::new(parquet_rows::ParquetRows::begin(out, table.name(), &columns)?)
            }
        };
        let chosen: Vec<&str> = columns.iter().map(|column| column.sql).collect();
        let (from, values) = table.source(filter);
        let mut statement = self.conn.prepare(&format!("SELECT {} {from}", chosen.join(", ")))?;
        let mut found = statement.query(rusqlite::params_from_iter(values))?;
        let mut numbers = Numbers::default();
        let mut written = 0;
        let mut cells = Vec::with_capacity(columns.len());
        while let Some(row) = found.next()? {
            cells.clear();
            for (index, column) in columns.iter().enumerate() {
                let hide = names == Names::Hidden;
                cells.push(cell(row, index, column, hide.then_some(&mut numbers))?);
            }
            rows.row(&columns, &cells)?;
            written += 1;
        }
        rows.end()?;
        Ok(written)
    }
}

/// Numbers in place of names, in the order in which they turn up.
#[derive(Debug, Default)]
struct Numbers(BTreeMap<(&'static str, String), usize>);

impl Numbers {
    fn of(&mut self, what: &'static str, name: &str) -> String {
        let next = self.0.keys().filter(|(kind, _)| *kind == what).count() + 1;
        let number = self.0.entry((what, name.to_owned())).or_insert(next);
        format!("{what} {number}")
    }
}

fn cell(
    row: &Row,
    index: usize,
    column: &Column,
    hide: Option<&mut Numbers>,
) -> Result<Cell, ExportError> {
    let value = row.get_ref(index)?;
    if matches!(value, ValueRef::Null) {
        return Ok(Cell::Nothing);
    }
    let text = || -> Result<String, ExportError> {
        Ok(value.as_str().map_err(rusqlite::Error::from)?.to_owned())
    };
    let whole = || value.as_i64().map_err(rusqlite::Error::from);
    Ok(match column.kind {
        Kind::Text | Kind::FreeText => Cell::Text(text()?),
        Kind::Name(what) => match hide {
            Some(numbers) => Cell::Text(numbers.of(what, &text()?)),
            None => Cell::Text(text()?),
        },
        Kind::Whole => Cell::Whole(whole()?),
        Kind::Number => Cell::Number(value.as_f64().map_err(rusqlite::Error::from)?),
        Kind::Bool => Cell::Bool(whole()? != 0),
        Kind::Seconds => Cell::Number(
            std::time::Duration::from_nanos(u64::try_from(whole()?).unwrap_or(0)).as_secs_f64(),
        ),
        Kind::Utc => Cell::Utc(super::session::moment(whole()?)),
        Kind::Day => {
            let day = text()?;
            Cell::Day(day.parse().map_err(|error| {
                StoreError::Refused(format!("a stored date reads {day:?}: {error}"))
            })?)
        }
        Kind::Id => Cell::Text(super::EventId::of(value)?.to_string()),
        Kind::Json => Cell::Json(text()?),
    })
}

/// A value of a filter, for the columns' own use.
type Values = Vec<Value>;
