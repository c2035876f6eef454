//! Rows as one Apache Parquet file: every column optional, moments as UTC timestamps in microseconds, days as
//! dates.

use std::io::{self, Write};
use std::sync::Arc;

use jiff::civil::Date;
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int32Type, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::parser::parse_message_type;

use super::{Cell, Column, Kind, Rows};

/// Rows held in memory before they are written as one row group.
const GROUP: usize = 65_536;

/// The values of one column; what is absent is only in the levels.
struct Held {
    values: Values,
    /// 1 where there is a value, 0 where there is none.
    present: Vec<i16>,
}

enum Values {
    Text(Vec<ByteArray>),
    Whole(Vec<i64>),
    Number(Vec<f64>),
    Bool(Vec<bool>),
    Day(Vec<i32>),
}

pub(super) struct ParquetRows<'a> {
    writer: SerializedFileWriter<&'a mut (dyn Write + Send)>,
    held: Vec<Held>,
}

impl<'a> ParquetRows<'a> {
    pub(super) fn begin(
        out: &'a mut (dyn Write + Send),
        table: &str,
        columns: &[&Column],
    ) -> io::Result<Self> {
        let fields: Vec<String> = columns.iter().map(|column| field(column)).collect();
        let schema = format!("message {table} {{ {} }}", fields.join(" "));
        let schema = parse_message_type(&schema).map_err(io::Error::other)?;
        // What a column says goes along with it.
        let about = columns.iter().map(|column| {
            let unit = if column.unit.is_empty() { "" } else { ", in " };
            KeyValue::new(column.name.to_owned(), format!("{}{unit}{}", column.about, column.unit))
        });
        let properties =
            WriterProperties::builder().set_key_value_metadata(Some(about.collect())).build();
        let writer = SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties))
            .map_err(io::Error::other)?;
        let held = columns.iter().map(|column| Held::empty(column.kind)).collect();
        Ok(ParquetRows { writer, held })
    }

    fn write_group(&mut self) -> Result<(), ParquetError> {
        if self.held.first().is_none_or(|column| column.present.is_empty()) {
            return Ok(());
        }
        let mut group = self.writer.next_row_group()?;
        for column in &mut self.held {
            if let Some(mut writer) = group.next_column()? {
                column.write(&mut writer)?;
                writer.close()?;
            }
        }
        group.close()?;
        Ok(())
    }
}

impl Rows for ParquetRows<'_> {
    fn row(&mut self, _columns: &[&Column], cells: &[Cell]) -> io::Result<()> {
        for (column, cell) in self.held.iter_mut().zip(cells) {
            column.push(cell)?;
        }
        if self.held.first().is_some_and(|column| column.present.len() == GROUP) {
            self.write_group().map_err(io::Error::other)?;
        }
        Ok(())
    }

    fn end(&mut self) -> io::Result<()> {
        self.write_group().map_err(io::Error::other)?;
        self.writer.finish().map_err(io::Error::other)?;
        Ok(())
    }
}

fn field(column: &Column) -> String {
    let kind = match column.kind {
        Kind::Text | Kind::FreeText | Kind::Name(_) | Kind::Id => "BYTE_ARRAY {} (UTF8)",
        Kind::Json => "BYTE_ARRAY {} (JSON)",
        Kind::Whole => "INT64 {}",
        Kind::Utc => "INT64 {} (TIMESTAMP(MICROS,true))",
        Kind::Number | Kind::Seconds => "DOUBLE {}",
        Kind::Bool => "BOOLEAN {}",
        Kind::Day => "INT32 {} (DATE)",
    };
    format!("OPTIONAL {};", kind.replace("{}", column.name))
}

/// A date as Parquet counts it: whole days since 1970-01-01.
fn since_1970(day: Date) -> i32 {
    let days = day.duration_since(jiff::civil::date(1970, 1, 1)).as_hours() / 24;
    i32::try_from(days).unwrap_or(i32::MAX)
}

impl Held {
    fn empty(kind: Kind) -> Self {
        let values = match kind {
            Kind::Text | Kind::FreeText | Kind::Name(_) | Kind::Id | Kind::Json => {
                Values::Text(Vec::new())
            }
            Kind::Whole | Kind::Utc => Values::Whole(Vec::new()),
            Kind::Number | Kind::Seconds => Values::Number(Vec::new()),
            Kind::Bool => Values::Bool(Vec::new()),
            Kind::Day => Values::Day(Vec::new()),
        };
        Held { values, present: Vec::new() }
    }

    fn push(&mut self, cell: &Cell) -> io::Result<()> {
        self.present.push(i16::from(*cell != Cell::Nothing));
        match (&mut self.values, cell) {
            (_, Cell::Nothing) => {}
            (Values::Text(all), Cell::Text(text) | Cell::Json(text)) => {
                all.push(text.as_str().into());
            }
            (Values::Whole(all), Cell::Whole(number)) => all.push(*number),
            (Values::Whole(all), Cell::Utc(moment)) => all.push(moment.as_microsecond()),
            (Values::Number(all), Cell::Number(number)) => all.push(*number),
            (Values::Bool(all), Cell::Bool(yes)) => all.push(*yes),
            (Values::Day(all), Cell::Day(day)) => all.push(since_1970(*day)),
            (_, other) => {
                return Err(io::Error::other(format!("{other:?} does not fit its column")));
            }
        }
        Ok(())
    }

    /// Writes what is held, and forgets it.
    fn write(&mut self, writer: &mut SerializedColumnWriter<'_>) -> Result<(), ParquetError> {
        let present = std::mem::take(&mut self.present);
        let present = Some(present.as_slice());
        match &mut self.values {
            Values::Text(all) => {
                let all = std::mem::take(all);
                writer.typed::<ByteArrayType>().write_batch(&all, present, None)?
            }
            Values::Whole(all) => {
                let all = std::mem::take(all);
                writer.typed::<Int64Type>().write_batch(&all, present, None)?
            }
            Values::Number(all) => {
                let all = std::mem::take(all);
                writer.typed::<DoubleType>().write_batch(&all, present, None)?
            }
            Values::Bool(all) => {
                let all = std::mem::take(all);
                writer.typed::<BoolType>().write_batch(&all, present, None)?
            }
            Values::Day(all) => {
                let all = std::mem::take(all);
                writer.typed::<Int32Type>().write_batch(&all, present, None)?
            }
        };
        Ok(())
    }
}
