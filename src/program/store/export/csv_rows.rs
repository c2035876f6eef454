//! Rows as comma-separated values.

use std::io::{self, Write};

use super::{Cell, Column, Rows};

pub(super) struct CsvRows<'a>(csv::Writer<&'a mut dyn Write>);

impl<'a> CsvRows<'a> {
    pub(super) fn begin(out: &'a mut dyn Write, columns: &[&Column]) -> io::Result<Self> {
        let mut writer = csv::Writer::from_writer(out);
        writer.write_record(columns.iter().map(|column| column.name)).map_err(into_io)?;
        Ok(CsvRows(writer))
    }
}

impl Rows for CsvRows<'_> {
    fn row(&mut self, _columns: &[&Column], cells: &[Cell]) -> io::Result<()> {
        for cell in cells {
            let text = match cell {
                Cell::Nothing => String::new(),
                Cell::Text(text) | Cell::Json(text) => disarmed(text),
                Cell::Whole(number) => number.to_string(),
                Cell::Number(number) => number.to_string(),
                Cell::Bool(yes) => yes.to_string(),
                Cell::Utc(moment) => moment.to_string(),
                Cell::Day(day) => day.to_string(),
            };
            self.0.write_field(text).map_err(into_io)?;
        }
        self.0.write_record(None::<&[u8]>).map_err(into_io)
    }

    fn end(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// A text that a spreadsheet would take for a formula gets an apostrophe before it, which the import takes
/// off again.
fn disarmed(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn into_io(error: csv::Error) -> io::Error {
    io::Error::other(error)
}
