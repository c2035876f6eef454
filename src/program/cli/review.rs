//! `hushtally review`, `hushtally review align FILM SESSION`; `hushtally review settle` has a file of its own

use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};
use clap::{Args, Subcommand};
use minijinja::context;

use super::places::session_named;
use super::replay::progress_bar;
use super::{Class, Failure, places, settle};
use crate::clock::Clock;
use crate::plan::Plan;
use crate::review::align::{Onset, align};
use crate::review::film;
use crate::review::web::{self, Review};
use crate::run::Signals;
use crate::store::{Change, Edit, EventId};
use crate::terminal::{self, say};
use crate::wording::{filled, text};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally review                            look at the record in your browser
  hushtally review --no-open                  only print the address
  hushtally review settle                     settle by voice what was heard doubtfully
  hushtally review align monday.mp4 latest    place a film of the latest session by its sound

The page is only for this computer: nothing is sent anywhere. It ends with Ctrl+C.")]
pub(super) struct ReviewArgs {
    #[command(subcommand)]
    verb: Option<ReviewVerb>,
    /// Port on this computer; any free one when not given
    #[arg(long, default_value_t = 0, hide_default_value = true)]
    port: u16,
    /// Do not open the browser
    #[arg(long)]
    no_open: bool,
    #[command(flatten)]
    places: places::PlaceArgs,
}

#[derive(Debug, Subcommand)]
enum ReviewVerb {
    /// Find where a film lies in the time of its session, by its sound, and keep that
    Align {
        /// The film, or any recording of the session
        film: PathBuf,
        /// The session: its key, or "latest"
        session: String,
        /// Print what was found as one JSON object
        #[arg(long)]
        json: bool,
    },
    /// Settle the unsure tags of a session by voice, one after the other
    Settle(settle::SettleArgs),
}

pub(super) fn run(args: &ReviewArgs) -> Result<(), Failure> {
    match &args.verb {
        Some(ReviewVerb::Align { film, session, json }) => place(args, film, session, *json),
        Some(ReviewVerb::Settle(settling)) => settle::run(settling, &args.places),
        None => serve(args),
    }
}

fn serve(args: &ReviewArgs) -> Result<(), Failure> {
    let store = places::existing_record(args.places.db.as_deref())?;
    let clock = Clock::real();
    let secret = clock.new_secret().context("the system gives no random numbers")?;
    let model = args.places.model.clone();
    let hear = move |film: &Path, plan: &Plan, progress: &mut dyn FnMut(u8)| {
        hear(model.as_deref(), film, plan, progress)
            .map_err(|failure| format!("{:#}.", failure.error))
    };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the program cannot wait for anything here")?;
    runtime.block_on(async {
        let mut signals = Signals::new()?;
        let listener = web::bind(args.port).await.with_context(|| {
            format!("port {} of this computer is taken; choose another with --port", args.port)
        })?;
        let port = listener.local_addr().context("the port has no address")?.port();
        let review = Review::new(store, clock, secret, port, Box::new(hear));
        let address = review.address();
        say!("{}", filled("screen.review_at", context! { address }));
        say!("{}", text("screen.review_ends"));
        if !args.no_open {
            match review.opening() {
                Ok(file) => open_browser(&file),
                Err(_) => say!("{}", text("screen.open_by_hand")),
            }
        }
        let stop = async move { signals.stop().await };
        web::serve(listener, review, stop).await.context("the review has stopped")
    })?;
    // A film that is being heard is not waited for.
    runtime.shutdown_timeout(std::time::Duration::from_secs(1));
    Ok(())
}

/// Asks the desktop to show the page; where there is none, the printed address is enough. Everybody on this computer
/// may read a command line, so the file leads to the page, and its name tells nothing.
fn open_browser(file: &Path) {
    let program = if cfg!(target_os = "macos") { "open" } else { "xdg-open" };
    let quiet = std::process::Stdio::null;
    let opened = std::process::Command::new(program)
        .arg(file)
        .stdin(quiet())
        .stdout(quiet())
        .stderr(quiet())
        .spawn();
    if opened.is_err() {
        say!("{}", text("screen.open_by_hand"));
    }
}

fn hear(
    model: Option<&Path>,
    path: &Path,
    plan: &Plan,
    progress: &mut dyn FnMut(u8),
) -> Result<Vec<Onset>, Failure> {
    let mut ears = places::ears(model, plan)?;
    let heard = film::hear(path, &mut ears, progress)?;
    ears.still_hear()?;
    Ok(heard)
}

fn place(args: &ReviewArgs, path: &Path, session: &str, json: bool) -> Result<(), Failure> {
    let store = places::record(args.places.db.as_deref())?;
    let id = session_named(&store, session)?;
    let version = store.plan_of(id)?;
    let plan = Plan::parse(&version.file, &version.text)?;
    let bar = progress_bar(json);
    let mut progress = |percent: u8| bar.set_position(u64::from(percent) * 10);
    let heard = hear(args.places.model.as_deref(), path, &plan, &mut progress)?;
    bar.finish_and_clear();
    let found = align(&film::logged(&store.events(id)?), &heard)
        .map_err(|error| Failure::new(Class::Failed, anyhow!("{}: {error}", path.display())))?;
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let (offset_s, drift_ppm, error_ms) = (found.offset_s, found.drift_ppm, found.error_ms);
    let change = Change::Film { name, offset_s, drift_ppm, error_ms: Some(error_ms) };
    let clock = Clock::real();
    let edit = Edit { change, by: None, why: None };
    store.edit(id, &edit, EventId(clock.new_id()), clock.utc())?;
    if json {
        terminal::json(&serde_json::to_string(&found).map_err(anyhow::Error::from)?);
    } else {
        let (matched, expected) = (found.matched, found.expected);
        let values = context! { offset_s, drift_ppm, error_ms, matched, expected };
        say!("{}", filled("screen.film_placed", values));
    }
    Ok(())
}
