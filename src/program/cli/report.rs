//! `hushtally report SESSION|ANIMAL`

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, anyhow};
use clap::Args;
use jiff::civil::Date;
use minijinja::context;

use super::places::session_named;
use super::{Class, Failure, places};
use crate::clock::Clock;
use crate::history::length;
use crate::known::Known;
use crate::new_file::{self, Existing};
use crate::plan::Plan;
use crate::private::PassingFolder;
use crate::review::animal_view::Shown;
use crate::review::chart::Scale;
use crate::review::{animal_view, report, session_view};
use crate::store::{Filter, SessionId, Store};
use crate::terminal::say;
use crate::wording::filled;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally report latest -o monday.html                  the latest session
  hushtally report Pepino --from 2026-03-01 -o march.pdf  an animal over a period, as PDF
  hushtally report Pepino --hide-names -o case.html       to hand on
  hushtally report Pepino --ratio -o march.html           equal heights are equal factors

A PDF is made by Chromium or Chrome, when one is installed.")]
pub(super) struct ReportArgs {
    /// A session's key, "latest", or an animal's name
    what: String,
    /// Where to put it; a name that ends in .pdf makes a PDF
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Write over a file that is there already
    #[arg(long)]
    overwrite: bool,
    /// Leave out names and notes
    #[arg(long)]
    hide_names: bool,
    /// Which behaviour of the animal; its latest when not given
    #[arg(long)]
    behaviour: Option<String>,
    /// First day
    #[arg(long, value_name = "YYYY-MM-DD")]
    from: Option<Date>,
    /// Last day
    #[arg(long, value_name = "YYYY-MM-DD")]
    to: Option<Date>,
    /// Draw an animal's days on a ratio scale: equal heights are equal factors
    #[arg(long)]
    ratio: bool,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

pub(super) fn run(args: &ReportArgs) -> Result<(), Failure> {
    let store = places::record_to_look(args.db.as_deref())?;
    let session = args.what == "latest" || args.what.parse::<SessionId>().is_ok();
    let page = if session { of_session(&store, args)? } else { of_animal(&store, args)? };
    let is_pdf = args.output.extension().is_some_and(|ending| ending == "pdf");
    let file = if is_pdf { pdf(&page)? } else { page.into_bytes() };
    new_file::write(&args.output, &file, Existing::asked(args.overwrite), Some(store.path()))?;
    let file = args.output.display().to_string();
    say!("{}", filled("screen.report_in", context! { file }));
    Ok(())
}

/// The page about an animal and a behaviour, all of its time.
pub(super) fn animal_page(store: &Store, animal: &str, behaviour: &str) -> Result<String, Failure> {
    let args = ReportArgs {
        what: animal.to_owned(),
        output: PathBuf::new(),
        overwrite: false,
        hide_names: false,
        behaviour: Some(behaviour.to_owned()),
        from: None,
        to: None,
        ratio: false,
        db: None,
    };
    of_animal(store, &args)
}

fn of_session(store: &Store, args: &ReportArgs) -> Result<String, Failure> {
    let id = session_named(store, &args.what)?;
    let row = store.sessions(&Filter::session(id))?.pop();
    let row = row.ok_or(crate::store::StoreError::NoSession(id))?;
    let version = store.plan_of(id)?;
    let plan = Plan::parse(&version.file, &version.text)?;
    let (folded, events) = store.read_through(id)?;
    let view = session_view::session(&row, &plan, &folded, &events);
    Ok(report::of_session(view, args.hide_names, Clock::real().utc())
        .map_err(anyhow::Error::from)?)
}

fn of_animal(store: &Store, args: &ReportArgs) -> Result<String, Failure> {
    let animal = store.find_animal(&args.what, None)?;
    let behaviour = match &args.behaviour {
        Some(behaviour) => Some(behaviour.clone()),
        None => store
            .sessions(&Filter { animal: Some(animal.id), ..Filter::latest() })?
            .pop()
            .map(|row| row.behaviour),
    };
    let filter = Filter { behaviour, from: args.from, to: args.to, ..Filter::animal(animal.id) };
    let known = Known::read(store, &animal)?;
    let plan = filter.behaviour.as_ref().and_then(|name| known.plans.get(name));
    let shown = Shown {
        history: &known.history,
        plan: plan.map(|(_, plan)| plan),
        scale: if args.ratio { Scale::Ratio } else { Scale::Linear },
    };
    let (sessions, reps) = (store.sessions(&filter)?, store.reps(&filter)?);
    let view = animal_view::animal(&sessions, &reps, shown).ok_or_else(|| {
        Failure::new(Class::Failed, anyhow!("{} has no session in this period", args.what))
    })?;
    let view = match shown.plan {
        Some(plan) => {
            view.with_length(&length::advise(&known.history, &plan.behaviour, &plan.limits))
        }
        None => view,
    };
    Ok(report::of_animal(view, args.hide_names, Clock::real().utc())
        .map_err(anyhow::Error::from)?)
}

/// Prints the page into a PDF through a headless browser. What the browser reads and writes meanwhile lies in a
/// private folder, and its command line names nothing else.
fn pdf(page: &str) -> Result<Vec<u8>, Failure> {
    let folder = PassingFolder::new("report").context("a temporary folder cannot be made")?;
    let (html, printed) = (folder.path().join("report.html"), folder.path().join("report.pdf"));
    fs::write(&html, page).context("the temporary file cannot be written")?;
    // Chromium has no sandbox for root, and in many containers for nobody.
    let sandboxes: &[bool] = if is_root(folder.path()) { &[false] } else { &[true, false] };
    for browser in ["chromium", "chromium-browser", "google-chrome"] {
        for sandbox in sandboxes {
            let mut print = print_command(browser, folder.path(), &html, &printed);
            if !sandbox {
                print.arg("--no-sandbox");
            }
            match print.status() {
                Ok(status) if status.success() && printed.is_file() => {
                    return Ok(fs::read(&printed).context("the printed report cannot be read")?);
                }
                Ok(_) if *sandbox => {}
                Ok(_) => {
                    return Err(anyhow!(
                        "{browser} could not print the report; write it to an .html file, open that in any browser, \
                         and print it from there"
                    )
                    .into());
                }
                Err(_) => break,
            }
        }
    }
    Err(anyhow!("no Chromium or Chrome is here to make a PDF; write the report to an .html file, and print that from any browser").into())
}

/// Whether we are root: what we made just now is then root's.
#[cfg(unix)]
fn is_root(made: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(made).is_ok_and(|folder| folder.uid() == 0)
}

#[cfg(not(unix))]
fn is_root(_: &Path) -> bool {
    false
}

/// A browser that prints our own page, and does nothing else: the page itself forbids every script, and no network is
/// reached, so that it may go without its sandbox where it has none.
fn print_command(browser: &str, folder: &Path, html: &Path, printed: &Path) -> Command {
    let mut print = Command::new(browser);
    print
        .args(["--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .args(["--host-resolver-rules=MAP * ~NOTFOUND"])
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .arg(format!("--print-to-pdf={}", printed.display()))
        .arg(html)
        .env("TMPDIR", folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    print
}
