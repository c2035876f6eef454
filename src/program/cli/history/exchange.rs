//! `hushtally export`, `hushtally import`

use std::io::{BufReader, BufWriter, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::{Args, ValueEnum};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::{View, Who, print_json, wrong};
use crate::cli::{Class, Failure};
use crate::given;
use crate::history::body::NotedSigns;
use crate::known::noted_signs;
use crate::new_file::{Existing, NewFile};
use crate::store::Filter;
use crate::store::export::{Format, Names, Table};
use crate::store::import::{ImportError, ImportOptions};
use crate::terminal::{Out, say, say_part, tell, unless_gone};
use crate::wording::Wording;

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
  hushtally import notes.csv
  hushtally import notes.csv --zone Europe/Berlin
  hushtally import reps.jsonl                    what `export reps` wrote elsewhere, also .parquet

The first line names the columns: animal and began are needed; outcome with at_s for reps; weight, weight_g, note,
species, behaviour, person, place, session, zone, step, working, side, latency_s, duration_s, active_s as you have
them. `hushtally export reps` writes such a file, with the lengths of its sessions, so that they come back as they
were; sessions without a rep, notes and weights come along in a backup only.
Every cell is taken in or its line is told, and as long as there is a fault, nothing is taken in.")]
pub(crate) struct ImportArgs {
    /// The file; one that ends in .jsonl or .parquet is read so, any other as CSV
    file: PathBuf,
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

pub(crate) fn import(args: &ImportArgs) -> Result<(), Failure> {
    let zone = match &args.zone {
        None => TimeZone::system(),
        Some(name) => TimeZone::get(name).map_err(|error| {
            wrong(format!("--zone {name}: {error}; write it like Europe/Berlin"))
        })?,
    };
    let file = given::open(&args.file)
        .with_context(|| format!("{} cannot be read", args.file.display()))
        .map_err(|error| Failure::new(Class::Usage, error))?;
    let options = ImportOptions {
        zone,
        file: args.file.to_string_lossy().into_owned(),
        made_by: env!("CARGO_PKG_VERSION").into(),
    };
    let store = args.view.writable()?;
    let before = noted_signs(&store)?;
    let done = match by_ending(&args.file) {
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
    say!(
        "Took in {} with {}, and {}; {} there already.",
        crate::history::counted(taken.sessions as usize, "session", "sessions"),
        crate::history::counted(taken.reps as usize, "try", "tries"),
        crate::history::counted(taken.entries as usize, "note or weight", "notes and weights"),
        crate::history::counted(taken.known as usize, "session was", "sessions were"),
    );
    for noted in &taken.signs {
        say!("{}", Wording::english().noted_signs(noted));
    }
    Ok(())
}
