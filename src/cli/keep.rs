//! `hushtally backup`, `restore` and `verify`: keeping the record safe.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Class, Failure, places};
use crate::clock::Clock;
use crate::store::{Copied, Store};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally backup /media/stick/training.db     one whole file, also while a session is going on
  hushtally backup \"backup-$(date +%F).db\"      a new one every day

The copy is checked before it gets its name. It is not encrypted: whoever has it can read it.")]
pub(super) struct BackupArgs {
    /// The new file; one that exists is never written over
    to: PathBuf,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

pub(super) fn backup(args: &BackupArgs) -> Result<(), Failure> {
    let path = places::record_path(args.db.as_deref())?;
    there(&path, "there is nothing to back up yet")?;
    let copied = Store::open(&path)?.backup(&args.to)?;
    println!("{}: {}", args.to.display(), held(&copied));
    Ok(())
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally restore /media/stick/training.db    the record becomes what the backup holds

The backup is checked first, and is left as it is. The record that was there is kept beside the new one;
its name is printed. Finish any session first.")]
pub(super) struct RestoreArgs {
    /// A file made by `hushtally backup`
    from: PathBuf,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

pub(super) fn restore(args: &RestoreArgs) -> Result<(), Failure> {
    there(&args.from, "give the file that `hushtally backup` made")?;
    let path = places::record_path(args.db.as_deref())?;
    let restored = Store::restore(&path, &args.from, Clock::real().utc())?;
    println!("{}: {}", path.display(), held(&restored.copied));
    if let Some(kept) = restored.kept {
        println!("what was there before is kept: {}", kept.display());
    }
    Ok(())
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally verify                          the record in use
  hushtally verify --db training-copy.db    a backup

Looks at the file, at the order of events, and whether everything that is shown follows from them. The exit
code is 5 when something is wrong.")]
pub(super) struct VerifyArgs {
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

pub(super) fn verify(args: &VerifyArgs) -> Result<(), Failure> {
    let path = places::record_path(args.db.as_deref())?;
    there(&path, "there is no record yet")?;
    let verdict = Store::open(&path)?.verify(places::MADE_BY)?;
    for remark in &verdict.remarks {
        println!("worth knowing: {remark}");
    }
    for fault in &verdict.faults {
        println!("wrong: {fault}");
    }
    if !verdict.is_sound() {
        let error = anyhow::anyhow!(
            "{} has {} faults; nothing was changed. Keep the file, and restore a backup: hushtally restore FILE",
            path.display(),
            verdict.faults.len()
        );
        return Err(Failure::new(Class::Record, error));
    }
    println!(
        "{} is sound: {} sessions, {} events",
        path.display(),
        verdict.sessions,
        verdict.events
    );
    Ok(())
}

/// Fails when the file is not there, so that a mistyped name does not make an empty record.
pub(super) fn there(path: &Path, hint: &str) -> Result<(), Failure> {
    if path.exists() {
        return Ok(());
    }
    let error = anyhow::anyhow!("{} is not there: {hint}", path.display());
    Err(Failure::new(Class::Record, error))
}

fn held(copied: &Copied) -> String {
    format!(
        "{} sessions, {} events, {:.1} MB, checked",
        copied.sessions,
        copied.events,
        copied.bytes as f64 / 1e6
    )
}
