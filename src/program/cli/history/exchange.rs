//! `hushtally export`, `hushtally import`

use std::io::{BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueEnum};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::{View, Who, mapping, print_json, wrong};
use crate::cli::{Class, Failure};
use crate::given;
use crate::history::body::NotedSigns;
use crate::known::noted_signs;
use crate::new_file::{self, Existing, NewFile};
use crate::store::Filter;
use crate::store::export::{Format, Names, Table};
use crate::store::import::{ImportError, ImportOptions, taken_for};
use crate::terminal::{Out, say, say_part, tell, unless_gone};
use crate::wording::{Wording, filled};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally export reps > reps.csv
  hushtally export sessions --animal Pepino --out sessions.jsonl
  hushtally export reps --out reps.parquet
  hushtally export reps --hide-names            numbers in place of names, no free text
  hushtally export reps --columns               what each column says, with its unit")]
pub(crate) struct ExportArgs {
    /// Which table
    table: TableArg,
    /// How it is written; without it, as the ending of --out says, else CSV
    #[arg(long, value_enum)]
    format: Option<FormatArg>,
    /// The file to write, instead of the screen; .csv, .jsonl or .parquet decides how
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Write over a file that is there already
    #[arg(long, requires = "out")]
    overwrite: bool,
    /// Only this animal's
    #[arg(long, value_name = "NAME")]
    animal: Option<String>,
    /// Its species, when two have one name
    #[arg(long, requires = "animal")]
    species: Option<String>,
    /// From this date on
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,
    /// Up to this date
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,
    /// Numbers in place of names of animals, persons and places; no free text
    #[arg(long)]
    hide_names: bool,
    /// List the columns with unit and meaning instead
    #[arg(long)]
    columns: bool,
    #[command(flatten)]
    view: View,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum TableArg {
    /// A row a rep
    Reps,
    /// A row a session
    Sessions,
    /// A row for everything else that happened in a session
    Marks,
    /// A row an event, as it was logged
    Events,
    /// A row an entry of the journal
    Journal,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FormatArg {
    /// Comma-separated values with a header line
    Csv,
    /// One JSON object a line
    Jsonl,
    /// Apache Parquet
    Parquet,
}

#[derive(Serialize)]
struct ColumnShown {
    name: &'static str,
    unit: &'static str,
    about: &'static str,
}

pub(crate) fn export(args: &ExportArgs) -> Result<(), Failure> {
    let table = match args.table {
        TableArg::Reps => Table::Reps,
        TableArg::Sessions => Table::Sessions,
        TableArg::Marks => Table::Marks,
        TableArg::Events => Table::Events,
        TableArg::Journal => Table::Journal,
    };
    if args.columns {
        return columns(table, args.view.json);
    }
    let format = format(args)?;
    let store = args.view.store()?;
    let animal = match &args.animal {
        Some(name) => {
            let who = Who { animal: name.clone(), species: args.species.clone() };
            Some(who.find(&store)?.id)
        }
        None => None,
    };
    let filter = Filter { animal, from: args.from, to: args.to, ..Filter::default() };
    let names = if args.hide_names { Names::Hidden } else { Names::Kept };
    let export = |out: &mut (dyn Write + Send)| {
        store.export(table, &filter, format, names, out).map_err(anyhow::Error::from)
    };
    match &args.out {
        Some(path) => {
            let existing = Existing::asked(args.overwrite);
            let mut file = NewFile::begin(path, existing, Some(store.path()))?;
            let rows = export(&mut file)?;
            file.finish()?;
            tell!("{}", crate::history::counted(rows as usize, "row", "rows"));
        }
        None => {
            let mut out = BufWriter::new(Out::data());
            unless_gone(export(&mut out))?;
            unless_gone(out.flush()).context("the export cannot be written")?;
        }
    }
    Ok(())
}

/// What the ending of a file says of how it is written.
fn by_ending(file: &Path) -> Option<FormatArg> {
    match file.extension()?.to_str()?.to_ascii_lowercase().as_str() {
        "csv" => Some(FormatArg::Csv),
        "jsonl" | "ndjson" => Some(FormatArg::Jsonl),
        "parquet" => Some(FormatArg::Parquet),
        _ => None,
    }
}

/// The ending of the file decides, or `--format`; where both speak, they must agree.
fn format(args: &ExportArgs) -> Result<Format, Failure> {
    let by_ending = args.out.as_deref().and_then(by_ending);
    let asked = args.format.or(args.view.json.then_some(FormatArg::Jsonl));
    if let (Some(asked), Some(ending)) = (asked, by_ending)
        && asked != ending
    {
        let name = |format: FormatArg| {
            format.to_possible_value().map_or_else(String::new, |value| value.get_name().to_owned())
        };
        return Err(wrong(format!(
            "the file's ending says {}, and {} was asked for: choose another ending, or leave out the format",
            name(ending),
            name(asked)
        )));
    }
    Ok(match asked.or(by_ending).unwrap_or(FormatArg::Csv) {
        FormatArg::Csv => Format::Csv,
        FormatArg::Jsonl => Format::JsonLines,
        FormatArg::Parquet => Format::Parquet,
    })
}

fn columns(table: Table, json: bool) -> Result<(), Failure> {
    let columns: Vec<ColumnShown> = table
        .columns()
        .iter()
        .map(|column| ColumnShown { name: column.name, unit: column.unit, about: column.about })
        .collect();
    if json {
        return print_json(&columns);
    }
    let mut rows = vec![["column", "unit", "says"].map(str::to_owned).to_vec()];
    rows.extend(
        columns
            .iter()
            .map(|column| [column.name, column.unit, column.about].map(str::to_owned).to_vec()),
    );
    say_part!("{}", super::chart::table(&rows, 2));
    Ok(())
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally import notes.csv --dry-run           what would be made of it; nothing is kept
  hushtally import notes.csv
  hushtally import diary.csv --column tag=animal --column seen=note
  hushtally import --template notes.csv          a file to fill in
  hushtally import reps.jsonl                    what `export reps` wrote elsewhere, also .parquet

The first line names the columns, ours or usual ones: date,dog,notes works, and --column says what another is;
at a terminal what is not understood is asked.
animal and began are needed; outcome with at_s for reps; weight, weight_g, note,
species, behaviour, person, place, session, zone, step, working, side, latency_s, duration_s, active_s as you have
them. `hushtally export reps` writes such a file, with the lengths of its sessions, so that they come back as they
were; sessions without a rep, notes and weights come along in a backup only.
Every cell is taken in or its line is told, and as long as there is a fault, nothing is taken in.")]
pub(crate) struct ImportArgs {
    /// The file; one that ends in .jsonl or .parquet is read so, any other as CSV
    #[arg(required_unless_present = "template")]
    file: Option<PathBuf>,
    /// Write a file to fill in, and take in nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["file", "dry_run", "columns"])]
    template: Option<PathBuf>,
    /// Say what would be made, and keep nothing
    #[arg(long)]
    dry_run: bool,
    /// A column of the file, and which of ours it is: NAME=note
    #[arg(long = "column", value_name = "NAME=OURS", value_parser = column)]
    columns: Vec<(String, String)>,
    /// Time zone of times that have none
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    #[command(flatten)]
    view: View,
}

#[derive(Serialize)]
struct Taken {
    sessions: u64,
    reps: u64,
    entries: u64,
    known: u64,
    /// Notes among them that have words of injury or illness.
    signs: Vec<NotedSigns>,
}

fn column(text: &str) -> Result<(String, String), String> {
    let (name, ours) = text.split_once('=').ok_or("write it as NAME=note")?;
    Ok((name.trim().to_owned(), ours.trim().to_ascii_lowercase()))
}

/// What a file to take in may look like, for a spreadsheet.
const TEMPLATE: &str = "\
date,animal,species,note,weight,person,place
2026-01-02,Pepino,cockatiel,\"looked at the nail file, stayed calm\",92 g,,kitchen
2026-01-03 17:30:00,Pepino,cockatiel,,91.5 g,,
";

/// The first line of a table; empty where there is none.
fn heads(path: &Path) -> Result<Vec<String>, Failure> {
    let file = given::open(path).map_err(anyhow::Error::from)?;
    let heads = csv::ReaderBuilder::new().from_reader(file).headers().cloned();
    Ok(heads.unwrap_or_default().iter().map(str::to_owned).collect())
}

/// Asks about the columns that are not understood, says which were taken for which, and takes in the file.
///
/// # Errors
/// It cannot be read, or has lines that cannot be understood; the record cannot be written.
pub(crate) fn import(args: &ImportArgs) -> Result<(), Failure> {
    if let Some(template) = &args.template {
        new_file::write(template, TEMPLATE.as_bytes(), Existing::Kept, None)?;
        say!("{}", filled("screen.template", context! { file => template.display().to_string() }));
        return Ok(());
    }
    let path = args.file.as_deref().unwrap_or(Path::new(""));
    let zone = match &args.zone {
        None => TimeZone::system(),
        Some(name) => TimeZone::get(name).map_err(|error| {
            wrong(format!("--zone {name}: {error}; write it like Europe/Berlin"))
        })?,
    };
    let file = given::open(path)
        .with_context(|| format!("{} cannot be read", path.display()))
        .map_err(|error| Failure::new(Class::Usage, error))?;
    let is_csv = !matches!(by_ending(path), Some(FormatArg::Jsonl | FormatArg::Parquet));
    let heads = if is_csv { heads(path)? } else { Vec::new() };
    let columns = match args.view.json {
        true => args.columns.clone(),
        false => mapping::asked(&heads, &args.columns)?,
    };
    let options = ImportOptions {
        zone,
        file: path.to_string_lossy().into_owned(),
        made_by: env!("CARGO_PKG_VERSION").into(),
        columns,
        dry_run: args.dry_run,
    };
    let store = args.view.writable()?;
    let before = noted_signs(&store)?;
    let done = match by_ending(path) {
        Some(FormatArg::Jsonl) => store.import_json_lines(&mut BufReader::new(file), &options),
        Some(FormatArg::Parquet) => store.import_parquet(file, &options),
        _ => store.import_csv(&mut BufReader::new(file), &options),
    };
    let done = done.map_err(|error| match error {
        ImportError::Store(error) => Failure::from(error),
        other => Failure::new(Class::Usage, other),
    })?;
    let mut signs = noted_signs(&store)?;
    signs.retain(|noted| !before.contains(noted));
    let taken = Taken {
        sessions: done.sessions,
        reps: done.reps,
        entries: done.entries,
        known: done.known,
        signs,
    };
    if args.view.json {
        return print_json(&taken);
    }
    for (column, ours) in taken_for(&heads, &options.columns) {
        say!("{}", filled("screen.column_taken_for", context! { column, ours }));
    }
    let dry = args.dry_run;
    say!("{}", filled("screen.taken_in", context! { dry, ..Value::from(Serde(&taken)) }));
    for noted in &taken.signs {
        say!("{}", Wording::english().noted_signs(noted));
    }
    Ok(())
}
