//! Rows as JSON Lines.

use std::io::{self, Write};

use super::{Cell, Column, Rows};

pub(super) struct JsonRows<'a>(io::BufWriter<&'a mut dyn Write>);

impl<'a> JsonRows<'a> {
    pub(super) fn begin(out: &'a mut dyn Write) -> Self {
        JsonRows(io::BufWriter::new(out))
    }
}

impl Rows for JsonRows<'_> {
    fn row(&mut self, columns: &[&Column], cells: &[Cell]) -> io::Result<()> {
        let mut first = true;
        for (column, cell) in columns.iter().zip(cells) {
            if *cell == Cell::Nothing {
                continue;
            }
            write!(self.0, "{}\"{}\":", if first { '{' } else { ',' }, column.name)?;
            first = false;
            match cell {
                Cell::Nothing => {}
                Cell::Text(text) => serde_json::to_writer(&mut self.0, text)?,
                Cell::Json(text) => self.0.write_all(text.as_bytes())?,
                Cell::Whole(number) => write!(self.0, "{number}")?,
                Cell::Number(number) => serde_json::to_writer(&mut self.0, number)?,
                Cell::Bool(yes) => write!(self.0, "{yes}")?,
                Cell::Utc(moment) => write!(self.0, "\"{moment}\"")?,
                Cell::Day(day) => write!(self.0, "\"{day}\"")?,
            }
        }
        self.0.write_all(if first { b"{}\n" } else { b"}\n" })
    }

    fn end(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}
