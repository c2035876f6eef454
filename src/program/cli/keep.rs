//! `hushtally backup`, `restore` and `verify`: keeping the record safe.

use std::path::{Path, PathBuf};

use clap::Args;
use minijinja::context;

use super::{Class, Failure, places};
use crate::clock::Clock;
use crate::store::{Copied, Store, Verdict};
use crate::terminal::say;
use crate::wording::filled;

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
    let copied = Store::open_existing(&path)?.backup(&args.to)?;
    say!("{}: {}", args.to.display(), held(&copied));
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
    say!("{}: {}", path.display(), held(&restored.copied));
    if let Some(kept) = restored.kept {
        say!("what was there before is kept: {}", kept.display());
    }
    Ok(())
}

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally verify                          the record in use
  hushtally verify --db training-copy.db    a backup
  hushtally verify --rebuild                rebuilds what is shown from what was said, then looks

Looks at the file, at the order of events, and whether everything that is shown follows from them. The exit
code is 5 when something is wrong. \"Damaged\" means that something may be missing; \"differs\" that all that
was said is there, so that no backup is needed for it.")]
pub(super) struct VerifyArgs {
    /// Rebuild what is shown from what was said; that loses nothing
    #[arg(long)]
    rebuild: bool,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB")]
    db: Option<PathBuf>,
}

pub(super) fn verify(args: &VerifyArgs) -> Result<(), Failure> {
    let path = places::record_path(args.db.as_deref())?;
    there(&path, "there is no record yet")?;
    let store = Store::open_existing(&path)?;
    if args.rebuild {
        store.rebuild()?;
    }
    let verdict = store.verify(crate::MADE_BY)?;
    for remark in &verdict.remarks {
        say!("worth knowing: {remark}");
    }
    for difference in &verdict.differences {
        say!("differs: {difference}");
    }
    for fault in &verdict.faults {
        say!("damaged: {fault}");
    }
    if let Some(advice) = advice(&path, &verdict) {
        return Err(Failure::new(Class::Record, anyhow::anyhow!(advice)));
    }
    let (sessions, events) = (verdict.sessions, verdict.events);
    let values = context! { file => path.display().to_string(), sessions, events };
    say!("{}", filled("screen.record_is_sound", values));
    Ok(())
}

/// What helps, and never loses more than it saves.
fn advice(path: &Path, verdict: &Verdict) -> Option<String> {
    let (record, damage) = (path.display(), verdict.faults.len());
    if damage > 0 {
        return Some(format!(
            "{record} is damaged in {damage} places; nothing was changed. Keep this file: what came after your last \
             backup is in it alone. Look at a backup with `hushtally verify --db FILE`; `hushtally restore FILE` puts \
             it in place and keeps this one beside it"
        ));
    }
    (!verdict.differences.is_empty()).then(|| {
        format!(
            "{record} differs in {} places from what follows from what was said; all that was said is there. Restore \
             no backup for this: what came after it would be gone. `hushtally verify --rebuild` rebuilds what is \
             shown",
            verdict.differences.len()
        )
    })
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
