//! `hushtally forget`: removing an animal, a person or days for good.

use std::io::{self, BufRead, IsTerminal};
use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::{Class, Failure, keep, places};
use crate::store::{Forget, Store};
use crate::terminal::{say, say_part};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally forget animal Pepino                     with all sessions, weights, notes and plans
  hushtally forget person Ada                        the name; the animals' record stays
  hushtally forget days 2026-01-02                   everything of that day
  hushtally forget days 2026-01-02 2026-01-09 --yes  of a week, without asking

What is forgotten cannot be brought back: the file is written anew without it, and copies that this program
put beside the record are removed. Backups that you made elsewhere are not touched: delete them yourself.")]
pub(super) struct ForgetArgs {
    #[command(subcommand)]
    what: What,
    /// Do not ask
    #[arg(long, global = true)]
    yes: bool,
    /// Another record (a database file)
    #[arg(long, value_name = "FILE", env = "HUSHTALLY_DB", global = true)]
    db: Option<PathBuf>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// An animal, with its sessions, entries and plans
    Animal {
        /// Its name, present or earlier
        name: String,
        /// Its species, when several animals have the name
        #[arg(long)]
        species: Option<String>,
    },
    /// A person's name, wherever it stands
    Person {
        /// The name
        name: String,
    },
    /// Every session and entry of these days
    Days {
        /// First day, as 2026-01-02
        from: Date,
        /// Last day; the first, when left out
        to: Option<Date>,
    },
}

pub(super) fn run(args: &ForgetArgs) -> Result<(), Failure> {
    let path = places::record_path(args.db.as_deref())?;
    keep::there(&path, "there is nothing to forget yet")?;
    let store = Store::open(&path)?;
    let (what, question) = match &args.what {
        What::Animal { name, species } => {
            let animal = store.find_animal(name, species.as_deref())?;
            let question = format!(
                "{} ({}) with {} sessions, and its weights, notes and plans",
                animal.name, animal.species, animal.sessions
            );
            (Forget::Animal(animal.id), question)
        }
        What::Person { name } => {
            (Forget::Person(name.clone()), format!("the name {name:?} wherever it stands"))
        }
        What::Days { from, to } => {
            let to = to.unwrap_or(*from);
            if to < *from {
                let error = anyhow::anyhow!("{to} is before {from}: the earlier day comes first");
                return Err(Failure::new(Class::Usage, error));
            }
            let question = format!("every session and entry from {from} to {to}");
            (Forget::Days { from: *from, to }, question)
        }
    };
    if !args.yes && !agreed(&question)? {
        say!("nothing was forgotten");
        return Ok(());
    }
    if let Forget::Person(name) = &what
        && places::learnt_store(args.db.as_deref())?.forget(Some(name))?
    {
        say!("the sounds learnt from {name:?} are forgotten");
    }
    let forgotten = store.forget(&what)?;
    say!(
        "forgotten for good: {} sessions, {} entries, names in {} places, {} copies beside the record",
        forgotten.sessions,
        forgotten.entries,
        forgotten.texts,
        forgotten.copies.len()
    );
    say!("backups that you made are not touched: delete them, or forget in them with --db FILE");
    Ok(())
}

/// Asks at the terminal. Without one there is nobody to ask.
fn agreed(question: &str) -> Result<bool, Failure> {
    if !io::stdin().is_terminal() {
        let error = anyhow::anyhow!(
            "this would forget {question}, and there is nobody here to ask: say --yes if it is meant"
        );
        return Err(Failure::new(Class::Usage, error));
    }
    say_part!("Forget {question}? This cannot be undone. Type yes: ");
    let mut answer = String::new();
    io::stdin().lock().read_line(&mut answer).map_err(anyhow::Error::from)?;
    Ok(answer.trim().eq_ignore_ascii_case("yes"))
}
