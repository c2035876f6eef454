//! `hushtally demo-history FILE`
//!
//! The picture in README is Pepino's page of it: `hushtally review --db FILE`, a window of 900 x 1020, saved as
//! `demo/review.png`.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use minijinja::context;
use serde::Serialize;

use super::invented;
use super::{now, print_json, wrong};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::store::Store;
use crate::terminal::say;
use crate::wording::filled;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally demo-history demo.db
  hushtally progress Pepino --db demo.db
  hushtally plan next Brindle --db demo.db

Pepino and Brindle are invented, and so is every session: a simulated animal made them. They are written
to a file of their own, so that they never mix with yours, and every view says that they are invented.")]
pub(crate) struct DemoArgs {
    /// The record to make; one that is there already is left alone
    file: PathBuf,
    /// Another number, other sessions
    #[arg(long, default_value_t = 7)]
    seed: u64,
    /// The day after the last one (today unless named)
    #[arg(long, value_name = "DATE")]
    until: Option<Date>,
    /// Print the counts as JSON
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Made {
    sessions: usize,
    reps: usize,
    entries: usize,
    invented: bool,
}

pub(crate) fn run(args: &DemoArgs) -> Result<(), Failure> {
    if args.file.exists() {
        return Err(wrong(format!(
            "{} is there already; name a new file, so that nothing invented gets into a real record",
            args.file.display()
        )));
    }
    let today = args.until.unwrap_or_else(|| now(&Clock::real()).date());
    let store = Store::open(&args.file)?;
    let made = invented::write(&store, args.seed, today, &TimeZone::system())?;
    if args.json {
        let invented::Written { sessions, reps, entries } = made;
        return print_json(&Made { sessions, reps, entries, invented: true });
    }
    let invented::Written { sessions, reps, entries } = made;
    let file = args.file.display().to_string();
    say!("{}", filled("screen.invented", context! { sessions, reps, entries, file }));
    Ok(())
}
