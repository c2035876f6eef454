//! The cells of one line, by the names of their columns.

use csv::StringRecord;

use super::LineError;
use super::line::{COLUMNS, Places};
use crate::at::At;

/// What stands in a line, and where.
pub(super) struct Fields<'a> {
    pub(super) places: Places,
    /// Whether texts may have an apostrophe before them for the sake of spreadsheets.
    pub(super) armed: bool,
    pub(super) record: &'a StringRecord,
    pub(super) line: u64,
}

impl Fields<'_> {
    pub(super) fn text(&self, column: &'static str) -> Option<String> {
        let index = COLUMNS.iter().position(|name| *name == column)?;
        let text = self.record.get(self.places[index]?)?;
        // The export puts an apostrophe before what a spreadsheet would take for a formula.
        let armed = |rest: &&str| rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']);
        let text = text.strip_prefix('\'').filter(|text| self.armed && armed(text)).unwrap_or(text);
        (!text.is_empty()).then(|| text.to_owned())
    }

    pub(super) fn needed(&self, column: &'static str, expected: &str) -> Result<String, LineError> {
        self.text(column).ok_or_else(|| self.wrong(column, "", expected))
    }

    pub(super) fn seconds(&self, column: &'static str) -> Result<Option<At>, LineError> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let seconds = text.parse::<f64>().ok().filter(|seconds| (0.0..=86_400.0).contains(seconds));
        let expected = "seconds, 0 to 86400, with a point before decimals";
        seconds.map(At::from_secs_f64).map(Some).ok_or_else(|| self.wrong(column, &text, expected))
    }

    pub(super) fn step(&self, column: &'static str) -> Result<Option<u8>, LineError> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let step = text.parse::<u8>().ok().filter(|step| (1..=50).contains(step));
        step.map(Some).ok_or_else(|| self.wrong(column, &text, "a step, 1 to 50"))
    }

    pub(super) fn yes_or_no(&self, column: &'static str) -> Result<Option<bool>, LineError> {
        match self.text(column).map(|text| text.to_ascii_lowercase()).as_deref() {
            None => Ok(None),
            Some("false") => Ok(Some(false)),
            Some("true") => Ok(Some(true)),
            Some(other) => Err(self.wrong(column, other, "true, false or nothing")),
        }
    }

    pub(super) fn wrong(&self, column: &'static str, found: &str, expected: &str) -> LineError {
        LineError { line: self.line, column, found: found.into(), expected: expected.into() }
    }
}
