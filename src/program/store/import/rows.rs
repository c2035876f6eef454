//! Files of lines: CSV, JSON Lines and Parquet, each a line at a time as texts under the names of columns.

use std::fs::File;
use std::io::{BufRead, Read};
use std::panic::AssertUnwindSafe;

use csv::StringRecord;
use jiff::{Span, Timestamp, civil};
use parquet::file::reader::SerializedFileReader;
use parquet::record::{Field, Row};
use serde_json::Value;

use super::limit::{LONGEST, Limit, Limited};
use super::line::{COLUMNS, FOLLOW};
use super::{ImportError, LineError};

/// A file of lines.
pub(super) trait Lines {
    /// The names of the columns.
    fn headers(&mut self) -> Result<StringRecord, ImportError>;

    /// The next line's cells and number; `None` at the end. A line that cannot be read is reported, and the next one can
    /// still be.
    fn next(&mut self, into: &mut StringRecord) -> Result<Option<u64>, NoLine>;

    /// Whether texts may have an apostrophe before them for the sake of spreadsheets.
    fn armed(&self) -> bool {
        false
    }
}

/// Why there is no line.
pub(super) enum NoLine {
    This(LineError),
    Any(ImportError),
}

pub(super) struct CsvLines<'a> {
    csv: csv::Reader<Limited<'a>>,
    limit: Limit,
}

impl<'a> CsvLines<'a> {
    pub(super) fn new(file: &'a mut dyn Read) -> Self {
        let (file, limit) = Limited::new(file);
        let mut csv = csv::ReaderBuilder::new();
        CsvLines { csv: csv.flexible(true).trim(csv::Trim::All).from_reader(file), limit }
    }
}

impl Lines for CsvLines<'_> {
    fn headers(&mut self) -> Result<StringRecord, ImportError> {
        Ok(self.csv.headers().map_err(ImportError::Unreadable)?.clone())
    }

    fn next(&mut self, into: &mut StringRecord) -> Result<Option<u64>, NoLine> {
        self.limit.next_record();
        match self.csv.read_record(into) {
            Ok(true) => Ok(Some(into.position().map_or(0, csv::Position::line))),
            Ok(false) => Ok(None),
            Err(error) => match (error.kind(), error.position()) {
                (csv::ErrorKind::Utf8 { .. }, Some(position)) => {
                    let expected = "UTF-8: save the file as \"CSV UTF-8\"";
                    Err(no_line(position.line(), "bytes that are not text", expected))
                }
                _ => Err(NoLine::Any(ImportError::Unreadable(error))),
            },
        }
    }

    fn armed(&self) -> bool {
        true
    }
}

fn no_line(line: u64, found: &str, expected: &str) -> NoLine {
    NoLine::This(LineError { line, column: "", found: found.into(), expected: expected.into() })
}

/// The columns of a file that names them in each line, and one for what has another name.
fn all_headers() -> StringRecord {
    COLUMNS.iter().chain(&FOLLOW).copied().chain(["another column"]).collect()
}

pub(super) struct JsonLines<'a> {
    file: &'a mut dyn BufRead,
    line: u64,
}

impl<'a> JsonLines<'a> {
    pub(super) fn new(file: &'a mut dyn BufRead) -> Self {
        JsonLines { file, line: 0 }
    }
}

impl Lines for JsonLines<'_> {
    fn headers(&mut self) -> Result<StringRecord, ImportError> {
        Ok(all_headers())
    }

    fn next(&mut self, into: &mut StringRecord) -> Result<Option<u64>, NoLine> {
        let unreadable =
            |error: std::io::Error| NoLine::Any(ImportError::NoLines(error.to_string()));
        let mut bytes = Vec::new();
        loop {
            bytes.clear();
            self.line += 1;
            let read = (&mut *self.file)
                .take(LONGEST as u64)
                .read_until(b'\n', &mut bytes)
                .map_err(unreadable)?;
            if read == 0 {
                return Ok(None);
            }
            if read == LONGEST && bytes.last() != Some(&b'\n') {
                return Err(NoLine::Any(ImportError::NoLines("a line is longer than 4 MB".into())));
            }
            if !bytes.trim_ascii().is_empty() {
                break;
            }
        }
        let Ok(Value::Object(fields)) = serde_json::from_slice(&bytes) else {
            let found = String::from_utf8_lossy(&bytes);
            return Err(no_line(self.line, found.trim_end(), "one JSON object"));
        };
        let mut cells = vec![String::new(); COLUMNS.len()];
        let mut other = String::new();
        for (name, value) in fields {
            let cell = match value {
                Value::Null => continue,
                Value::String(text) => text,
                Value::Bool(yes) => yes.to_string(),
                Value::Number(number) => number.to_string(),
                list => list.to_string(),
            };
            put(&mut cells, &mut other, &name, cell);
        }
        fill(into, &cells, &other);
        Ok(Some(self.line))
    }
}

fn put(cells: &mut [String], other: &mut String, name: &str, cell: String) {
    match COLUMNS.iter().position(|column| *column == name) {
        Some(column) => cells[column] = cell,
        None if FOLLOW.contains(&name) => {}
        None => *other = format!("{name}: {cell}"),
    }
}

fn fill(into: &mut StringRecord, cells: &[String], other: &str) {
    into.clear();
    cells.iter().for_each(|cell| into.push_field(cell));
    FOLLOW.iter().for_each(|_| into.push_field(""));
    into.push_field(other);
}

/// Rows of a Parquet file; its numbers count from 1. The library that reads it may stop at a corrupted file: that is an
/// error with words as any other.
pub(super) struct ParquetLines {
    rows: Box<dyn Iterator<Item = parquet::errors::Result<Row>>>,
    row: u64,
}

impl ParquetLines {
    pub(super) fn new(file: File) -> Result<Self, ImportError> {
        let open = || -> parquet::errors::Result<ParquetLines> {
            let reader = SerializedFileReader::new(file)?;
            Ok(ParquetLines { rows: Box::new(reader.into_iter()), row: 0 })
        };
        guarded(open)?.map_err(|error| ImportError::NoLines(error.to_string()))
    }
}

fn guarded<T>(read: impl FnOnce() -> T) -> Result<T, ImportError> {
    std::panic::catch_unwind(AssertUnwindSafe(read))
        .map_err(|_| ImportError::NoLines("it is not a whole Parquet file".into()))
}

impl Lines for ParquetLines {
    fn headers(&mut self) -> Result<StringRecord, ImportError> {
        Ok(all_headers())
    }

    fn next(&mut self, into: &mut StringRecord) -> Result<Option<u64>, NoLine> {
        let Some(row) = guarded(|| self.rows.next()).map_err(NoLine::Any)? else { return Ok(None) };
        let row = row.map_err(|error| NoLine::Any(ImportError::NoLines(error.to_string())))?;
        self.row += 1;
        let mut cells = vec![String::new(); COLUMNS.len()];
        let mut other = String::new();
        for (name, field) in row.get_column_iter() {
            let cell = match field {
                Field::Null => continue,
                Field::Str(text) => text.clone(),
                Field::TimestampMicros(micros) => Timestamp::from_microsecond(*micros)
                    .map_or_else(|e| e.to_string(), |t| t.to_string()),
                Field::TimestampMillis(millis) => Timestamp::from_millisecond(*millis)
                    .map_or_else(|e| e.to_string(), |t| t.to_string()),
                Field::Date(days) => Span::new()
                    .try_days(*days)
                    .and_then(|days| civil::date(1970, 1, 1).checked_add(days))
                    .map_or_else(|error| error.to_string(), |day| day.to_string()),
                Field::Double(number) => number.to_string(),
                number => number.to_string(),
            };
            put(&mut cells, &mut other, name, cell);
        }
        fill(into, &cells, &other);
        Ok(Some(self.row))
    }
}
