//! `hushtally animals`

use clap::Args;
use minijinja::context;
use serde::Serialize;

use super::sessions::{short, unique};
use super::{View, Who, chart, print_json};
use crate::cli::Failure;
use crate::clock::Clock;
use crate::terminal::{say, say_part};
use crate::wording::{filled, text as said};

#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  hushtally animals                          every animal, with sessions and names it had
  hushtally animals --rename Pepino Pip      a new name; the old one still finds it
  hushtally animals --json")]
pub(crate) struct AnimalsArgs {
    /// Give an animal another name
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    rename: Option<Vec<String>>,
    /// Its species, when two have one name
    #[arg(long, requires = "rename")]
    species: Option<String>,
    #[command(flatten)]
    view: View,
}

#[derive(Serialize)]
struct Shown {
    id: String,
    name: String,
    species: String,
    note: Option<String>,
    names: Vec<String>,
    sessions: u64,
    latest: Option<String>,
}

pub(crate) fn run(args: &AnimalsArgs) -> Result<(), Failure> {
    if let Some([old, new]) = args.rename.as_deref() {
        let store = args.view.writable()?;
        let who = Who { animal: old.clone(), species: args.species.clone() };
        store.rename_animal(who.find(&store)?.id, new, Clock::real().utc())?;
        if !args.view.json {
            say!("{}", filled("screen.renamed", context! { old, new }));
            return Ok(());
        }
    }
    let store = args.view.store()?;
    let animals: Vec<Shown> = store
        .animals()?
        .into_iter()
        .map(|row| Shown {
            id: row.id.to_string(),
            name: row.name,
            species: row.species,
            note: row.note,
            names: row.names,
            sessions: row.sessions,
            latest: row.latest.map(|latest| latest.to_string()),
        })
        .collect();
    if args.view.json {
        return print_json(&animals);
    }
    say_part!("{}", text(&animals));
    Ok(())
}

fn text(animals: &[Shown]) -> String {
    if animals.is_empty() {
        return said("screen.no_animal") + "\n";
    }
    let mut rows = vec![
        ["name", "species", "sessions", "latest", "about"]
            .map(|head| said(&format!("screen.animals_{head}")))
            .to_vec(),
    ];
    let key = unique(animals.iter().map(|animal| animal.id.as_str()));
    for animal in animals {
        let twice = animals.iter().filter(|other| other.name == animal.name).count() > 1;
        let mut about: Vec<String> = animal.note.iter().cloned().collect();
        let former: Vec<&str> =
            animal.names.iter().filter(|name| **name != animal.name).map(String::as_str).collect();
        if !former.is_empty() {
            about.push(filled("screen.was_called", context! { names => former.join(", ") }));
        }
        if twice {
            about.push(filled("screen.one_of_several", context! { key => short(&animal.id, key) }));
        }
        let latest =
            animal.latest.as_deref().and_then(|latest| latest.get(..10)).unwrap_or_default();
        rows.push(vec![
            animal.name.clone(),
            animal.species.clone(),
            animal.sessions.to_string(),
            latest.to_owned(),
            about.join("; "),
        ]);
    }
    chart::table(&rows, 2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn animals_of_one_name_are_told_apart() {
        let animal = |id: &str, species: &str, names: &[&str]| Shown {
            id: id.into(),
            name: "Pip".into(),
            species: species.into(),
            note: None,
            names: names.iter().map(|name| (*name).to_owned()).collect(),
            sessions: 3,
            latest: Some("2026-01-02T17:00:00Z".into()),
        };
        let both =
            [animal("k1", "cockatiel", &["Pepino", "Pip"]), animal("k2", "cockatiel", &["Pip"])];
        insta::assert_snapshot!(text(&both), @r"
        Pip, cockatiel
            sessions 3; latest 2026-01-02; was called Pepino; one of several of this
            name, key k1
        Pip, cockatiel
            sessions 3; latest 2026-01-02; one of several of this name, key k2
        ");
    }
}
