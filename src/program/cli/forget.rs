//! `hushtally forget`: removing an animal, a person or days for good.

use std::fs;
use std::io::{self, BufRead, IsTerminal};
use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::civil::Date;

use super::{Class, Failure, draft, keep, places};
use crate::given;
use crate::store::{Forget, Name, Store};
use crate::terminal::{say, say_part};

/// Bytes that settings or a plan may have to be looked through.
const LARGEST: u64 = 1 << 20;

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally forget animal Pepino                     with all sessions, weights, notes and plans
  hushtally forget person Ada                        the name; the animals' record stays
  hushtally forget days 2026-01-02                   everything of that day
  hushtally forget days 2026-01-02 2026-01-09 --yes  of a week, without asking

What is forgotten cannot be brought back: the file is rewritten without it, and copies that this program
put beside the record are removed. A name goes where it stands as a word of its own, in every spelling of it; what
cannot be forgotten is said, and then nothing is called forgotten. Backups that you made elsewhere are not touched: delete them yourself.")]
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
        /// What animals and species are called stays, where it is the same name
        #[arg(long)]
        keep_animals: bool,
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
    if store.finish_forgetting()? {
        say!("what an earlier forgetting had left undone is done now");
    }
    let (what, question) = match &args.what {
        What::Animal { name, species } => {
            let animal = store.find_animal(name, species.as_deref())?;
            let question = format!(
                "{} ({}) with {} sessions, and its weights, notes and plans",
                animal.name, animal.species, animal.sessions
            );
            (Forget::Animal(animal.id), question)
        }
        What::Person { name, keep_animals: false } => {
            (Forget::Person(name.clone()), format!("the name {name:?} wherever it stands"))
        }
        What::Person { name, keep_animals: true } => (
            Forget::PersonNotAnimal(name.clone()),
            format!("the name {name:?} wherever it is not an animal's"),
        ),
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
    let forgotten = store.forget(&what)?;
    let left = match &what {
        Forget::Person(name) | Forget::PersonNotAnimal(name) => {
            Name::new(name).map_or(Ok(Vec::new()), |name| elsewhere(&name, args))?
        }
        _ => Vec::new(),
    };
    say!(
        "{}: {} sessions, {} entries, names in {} places, {} copies beside the record",
        if left.is_empty() { "forgotten for good" } else { "taken out of the record" },
        forgotten.sessions,
        forgotten.entries,
        forgotten.texts,
        forgotten.copies.len()
    );
    say!("backups that you made are not touched: delete them, or forget in them with --db FILE");
    if left.is_empty() {
        return Ok(());
    }
    let error = anyhow::anyhow!("the name still stands here: {}", left.join("; "));
    Err(Failure::new(Class::Failed, error))
}

/// Takes the name out of what lies beside the record; where it still stands, in words.
fn elsewhere(name: &Name, args: &ForgetArgs) -> Result<Vec<String>, Failure> {
    let mut left = Vec::new();
    let learnt = places::learnt_store(args.db.as_deref())?;
    for (file, whose) in learnt.whose()? {
        match whose {
            Ok(Some(person)) if name.is(&person) => {
                learnt.forget(Some(&person))?;
                if file.exists() {
                    left.push(format!("{}: delete it", file.display()));
                } else {
                    say!("the sounds learnt from {person:?} are forgotten");
                }
            }
            Ok(Some(person)) if name.is_in(&person) => left.push(format!(
                "sounds learnt from {person:?}: forget {person:?} too, if that is the same person"
            )),
            Ok(_) => {}
            Err(error) => left.push(format!("nobody can tell: {error}, or delete the file")),
        }
    }
    let settings = places::settings_file()?;
    let text = given::text(&settings, LARGEST).unwrap_or_default();
    let lines = text.lines().enumerate().filter(|(_, line)| {
        // A line of settings is a key and a value; only values can name somebody.
        let value = line.split_once('=').map_or(*line, |(_, value)| value);
        name.is_in(value)
    });
    left.extend(lines.map(|(index, _)| {
        format!("line {} of the settings in {}: change it there", index + 1, settings.display())
    }));
    let plans = places::plans_folder(None, &places::settings().unwrap_or_default())?;
    let half_made = draft::file(&plans);
    for file in fs::read_dir(plans).into_iter().flatten().flatten().map(|entry| entry.path()) {
        let plan = file == half_made || file.extension().is_some_and(|ending| ending == "toml");
        if plan && given::text(&file, LARGEST).is_ok_and(|text| name.is_in(&text)) {
            say!("your plan {} has the word in it: look whether it is the person", file.display());
        }
    }
    Ok(left)
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
