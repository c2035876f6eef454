//! The command line: a file a verb.

mod asides;
mod big;
mod devices;
mod draft;
mod failure;
mod forget;
mod help;
mod history;
mod keep;
mod keys;
mod learn;
mod listen;
mod midi;
mod nudges;
mod places;
#[cfg(test)]
mod reach;
mod recap;
mod replay;
mod report;
mod review;
mod screen;
mod settle;
mod shelf;
mod shell;
mod sound;
mod soundcheck;
mod words;

use std::borrow::Cow;
use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

use crate::clock::Clock;
use crate::private::remove_leftovers;
use crate::terminal::{self, tell, visible};
pub use failure::{Class, Failure};

/// Listens to a few short words while you train an animal, keeps the record, watches the pace,
/// whispers when something needs you, and reads the session back. Works without a network.
#[derive(Debug, Parser)]
#[command(
    name = "hushtally",
    version,
    about,
    after_help = "\
Examples:
  hushtally soundcheck                           microphone, earphone and voice, first of all
  hushtally listen                               everything by voice, from choosing the animal on
  hushtally listen pepino.toml                   train, and speak your words
  hushtally replay session.wav pepino.toml       hear a recording
  hushtally replay film.mp4 pepino.toml --json   one JSON object a line
  hushtally backup training-copy.db              keep a copy somewhere safe
  hushtally plan next Pepino                     what to do in the next session
  hushtally progress Pepino                      how it goes over weeks
  hushtally review                               see, correct and compare sessions

Exit codes: 0 all went well; 1 something failed; 2 usage error or a wrong plan;
3 no speech model; 4 no sound device; 5 the record could not be saved."
)]
pub struct Cli {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    /// Listen to a session as it happens
    Listen(listen::ListenArgs),
    /// Set up microphone, earphone, words and voice, by voice, in about three minutes
    Soundcheck(soundcheck::SoundcheckArgs),
    /// Hear a session from a recording (WAV, FLAC, MP3, Ogg, or the sound of MP4)
    Replay(replay::ReplayArgs),
    /// Print the latest session and read it aloud
    Recap(recap::RecapArgs),
    /// Look at sessions in the browser, correct them, settle unsure tags by voice, place films
    Review(review::ReviewArgs),
    /// Write a report of a session or an animal, to hand on
    Report(report::ReportArgs),
    /// Tell all that can be said; check, learn and measure words
    Words(words::WordsArgs),
    /// Play the quiet sounds one by one, and say what each means
    Nudges(nudges::NudgesArgs),
    /// Say what to do next; write and change plans
    Plan(history::plan::PlanArgs),
    /// List animals; give one another name
    Animals(history::animals::AnimalsArgs),
    /// List sessions, or a calendar of them
    Sessions(history::sessions::SessionsArgs),
    /// Show one session rep by rep
    Session(history::session::SessionArgs),
    /// Show how a behaviour goes over weeks
    Progress(history::progress::ProgressArgs),
    /// Log weight, food, coat, sides, soreness and illness; show alarms
    Body(history::body::BodyArgs),
    /// Log a natural behaviour that was rewarded outside sessions
    Capture(history::capture::CaptureArgs),
    /// Log a test of a cue
    Probe(history::probe::ProbeArgs),
    /// Write a note for whoever trains next
    Handover(history::handover::HandoverArgs),
    /// Write the record out as CSV, JSON Lines or Parquet
    Export(history::exchange::ExportArgs),
    /// Take in earlier notes from a CSV
    Import(history::exchange::ImportArgs),
    /// Write twelve weeks of two invented animals to a new file, to try the views on
    DemoHistory(history::demo::DemoArgs),
    /// List microphones and outputs
    Devices,
    /// Print completions for your shell
    Completions(shell::CompletionsArgs),
    /// Print or write manual pages
    Man(shell::ManArgs),
    /// Copy the whole record into one file, also during a session
    Backup(keep::BackupArgs),
    /// Put a backup in the place of the record
    Restore(keep::RestoreArgs),
    /// Check the record
    Verify(keep::VerifyArgs),
    /// Remove an animal, a person's name or days for good
    Forget(forget::ForgetArgs),
}

impl Verb {
    /// Whether a wrong clock would do harm.
    fn asks_the_time(&self) -> bool {
        !matches!(
            self,
            Verb::Completions(_) | Verb::Man(_) | Verb::Devices | Verb::Backup(_) | Verb::Verify(_)
        )
    }
}

/// The program: reads the command line, runs the verb, reports how it went.
pub fn main() -> ExitCode {
    let parsed = help::fitted(Cli::command()).try_get_matches();
    let cli = match parsed.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => {
            let text = error.render().to_string();
            // The name of a file may come from anybody, and stands in the message.
            if matches!(visible(&text), Cow::Borrowed(_)) {
                error.exit();
            }
            tell!("{}", text.trim_end());
            return ExitCode::from(Class::Usage as u8);
        }
    };
    let done = run(cli);
    terminal::drain();
    let done = done.and_then(|()| match terminal::trouble() {
        None => Ok(()),
        Some(error) => Err(Failure::new(
            Class::Failed,
            anyhow::Error::from(error).context("not everything could be printed"),
        )),
    });
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            let code = failure.report();
            terminal::drain();
            code
        }
    }
}

/// Runs the verb.
///
/// # Errors
/// A [`Failure`] that says what to do.
fn run(cli: Cli) -> Result<(), Failure> {
    terminal::keep_errors_to_us();
    remove_leftovers();
    if cli.verb.asks_the_time() {
        Clock::check().map_err(|error| Failure::new(Class::Failed, error))?;
    }
    match cli.verb {
        Verb::Listen(args) => listen::run(&args),
        Verb::Soundcheck(args) => soundcheck::run(&args),
        Verb::Replay(args) => replay::run(&args),
        Verb::Recap(args) => recap::run(&args),
        Verb::Review(args) => review::run(&args),
        Verb::Report(args) => report::run(&args),
        Verb::Words(args) => words::run(&args),
        Verb::Nudges(args) => nudges::run(&args),
        Verb::Plan(args) => history::plan::run(&args),
        Verb::Animals(args) => history::animals::run(&args),
        Verb::Sessions(args) => history::sessions::run(&args),
        Verb::Session(args) => history::session::run(&args),
        Verb::Progress(args) => history::progress::run(&args),
        Verb::Body(args) => history::body::run(&args),
        Verb::Capture(args) => history::capture::run(&args),
        Verb::Probe(args) => history::probe::run(&args),
        Verb::Handover(args) => history::handover::run(&args),
        Verb::Export(args) => history::exchange::export(&args),
        Verb::Import(args) => history::exchange::import(&args),
        Verb::DemoHistory(args) => history::demo::run(&args),
        Verb::Devices => devices::run(),
        Verb::Completions(args) => shell::completions(&args),
        Verb::Man(args) => shell::man(&args),
        Verb::Backup(args) => keep::backup(&args),
        Verb::Restore(args) => keep::restore(&args),
        Verb::Verify(args) => keep::verify(&args),
        Verb::Forget(args) => forget::run(&args),
    }
}
