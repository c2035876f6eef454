//! The child: writes tags and says which were acknowledged.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};

use hushtally::store::{Filter, Store, StoreError};

use crate::ledger::{PER_SESSION, event, new_session, utc};

/// `DATABASE FIRST COUNT`: writes events from number FIRST on. Each that is acknowledged is reported in a line of
/// its own, `ack N`; each refusal as `err WHAT`, after which the same one is tried again twice.
///
/// `restore DATABASE BACKUP`: puts a backup in the place of a database. `view DATABASE`: says how many reps a
/// view shows.
pub(crate) fn main(args: &[String]) -> ExitCode {
    if args[0] == "restore" {
        let done = Store::restore(Path::new(&args[1]), Path::new(&args[2]), utc(0));
        if let Err(error) = done {
            say(&format!("err {}\n", one_line(&error)));
        }
        return ExitCode::SUCCESS;
    }
    if args[0] == "view" {
        let view = Store::open_read_only(Path::new(&args[1]));
        match view.and_then(|view| view.reps(&Filter::default())) {
            Ok(reps) => say(&format!("ack {}\n", reps.len())),
            Err(error) => say(&format!("err {}\n", one_line(&error))),
        }
        return ExitCode::SUCCESS;
    }
    let [db, first, count] = args else { return ExitCode::from(2) };
    let (Ok(first), Ok(count)) = (first.parse::<u64>(), count.parse::<u64>()) else {
        return ExitCode::from(2);
    };
    let mut store = None;
    for n in first..first + count {
        for _ in 0..3 {
            match write(&mut store, Path::new(db), n) {
                Ok(()) => {
                    say(&format!("ack {n}\n"));
                    break;
                }
                Err(error) => say(&format!("err {}\n", one_line(&error))),
            }
        }
    }
    ExitCode::SUCCESS
}

fn write(open: &mut Option<Store>, db: &Path, n: u64) -> Result<(), StoreError> {
    let store = match open {
        Some(store) => store,
        None => open.insert(Store::open(db)?),
    };
    let (session, id, logged) = event(n);
    match store.append(session, &logged, id, utc(n)) {
        Err(StoreError::NoSession(_)) => {
            store.begin_session(&new_session(n / PER_SESSION))?;
            store.append(session, &logged, id, utc(n))?;
        }
        other => other?,
    }
    if n % PER_SESSION == PER_SESSION - 1 {
        // Views may fail to keep up; the log is what counts.
        let _ = store.finish(session);
    }
    Ok(())
}

/// In one write, so that a line is there whole or not at all.
#[expect(clippy::disallowed_methods, reason = "a test stands outside the program")]
pub(crate) fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(line.as_bytes()).and_then(|()| out.flush());
}

fn one_line(error: &StoreError) -> String {
    let kind = format!("{error:?}");
    let kind = kind.split(['(', ' ', '{']).next().unwrap_or_default().to_owned();
    format!("{kind} {}", error.to_string().replace('\n', " "))
}

/// A child that writes events, with programs before it that hinder it.
pub(crate) fn command(before: &[String], db: &Path, first: u64, count: u64) -> Command {
    program(before, &[db.to_string_lossy().into_owned(), first.to_string(), count.to_string()])
}

/// The command of a child.
pub(crate) fn program(before: &[String], args: &[String]) -> Command {
    let own = std::env::current_exe().expect("a test knows its own binary");
    let mut words: Vec<String> = before.to_vec();
    words.extend([own.to_string_lossy().into_owned(), "child".into()]);
    words.extend(args.iter().cloned());
    let mut command = Command::new(&words[0]);
    command.args(&words[1..]).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// What a child said.
#[derive(Debug, Default)]
pub(crate) struct Said {
    pub(crate) acked: Vec<u64>,
    pub(crate) errors: Vec<String>,
}

impl Said {
    pub(crate) fn of(text: &str) -> Self {
        let mut said = Said::default();
        for line in text.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
            if let Some(n) = line.strip_prefix("ack ").and_then(|n| n.trim().parse().ok()) {
                said.acked.push(n);
            } else if let Some(error) = line.strip_prefix("err ") {
                said.errors.push(error.trim().to_owned());
            }
        }
        said
    }
}

/// Everything a child says until it ends.
pub(crate) fn listen(mut child: Child) -> Said {
    let mut bytes = Vec::new();
    if let Some(mut out) = child.stdout.take() {
        let _ = out.read_to_end(&mut bytes);
    }
    let _ = child.wait();
    Said::of(&String::from_utf8_lossy(&bytes))
}

/// A database in a new folder that goes away with the first value.
pub(crate) fn fresh() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let db = folder.path().join("home/hushtally.db");
    (folder, db)
}
