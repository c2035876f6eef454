//! Chains in the record, on the page, in the export, and in what is advised.

use anyhow::Result;
use hushtally::clock::Clock;
use hushtally::interpret::Grammar;
use hushtally::plan::Plan;
use hushtally::session::Input;
use hushtally::store::export::{Format, Names, Table};
use hushtally::store::{Change, Edit, EventId, Filter, RepEdit, Store, Target};

use super::demo;
use super::pages::page_of;

/// Three links, trained whole.
const RING: &str = r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "brings the ring"
training = "whole"
[[links]]
name = "picks it up"
[[links]]
name = "carries it"
[[links]]
name = "lets go"
[prompts]
order = "most_to_least"
levels = ["touch", "point"]
"#;

#[tokio::test]
async fn links_stand_in_the_record_on_the_page_and_in_the_advice() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("record.db");
    let store = Store::open(&file)?;
    let (clock, _hands) = Clock::fake("2026-03-01T07:30:00Z".parse()?);
    let grammar = Grammar::new(&Plan::parse("ring.toml", RING)?.words);
    let tags: Vec<(f64, Input)> =
        ["yes two touch", "yes", "miss two", "yes two point", "yes three"]
            .iter()
            .enumerate()
            .flat_map(|(index, words)| {
                let parts: Vec<&str> = words.split(' ').collect();
                let read = grammar.parse(&parts).unwrap_or_default();
                read.into_iter()
                    .map(move |one| (5.0 * index as f64 + 5.0, Input::said(one.said, *words)))
            })
            .collect();
    let session = demo::put(&store, &clock, RING, 1, &tags)?;
    let links = |store: &Store| -> Result<Vec<String>> {
        let reps = store.reps(&Filter::session(session))?;
        Ok(reps.iter().map(|row| row.rep.links.to_string()).collect())
    };
    let expected = [
        "independent prompted:1 independent",
        "independent independent independent",
        "independent failed not_reached",
        "independent prompted:2 independent",
        "independent independent prompted",
    ];
    assert_eq!(links(&store)?, expected);
    assert!(store.verify("0.1.0")?.is_sound());
    let mut csv = Vec::new();
    store.export(Table::Reps, &Filter::default(), Format::Csv, Names::Kept, &mut csv)?;
    let csv = String::from_utf8(csv)?;
    assert!(csv.lines().next().is_some_and(|head| head.trim_end().ends_with(",links")), "{csv}");
    assert!(expected.iter().all(|links| csv.contains(links)), "{csv}");
    // By hand: link 1 went by itself in 5 of 5 tries, link 2 in 2, link 3 in 3, together 10 of 15.
    let animal = store.find_animal("Pepino", None)?.id;
    let page = page_of(&file, &format!("animal/{animal}")).await?;
    for part in ["Links over sessions", "5 of 5", "2 of 5", "3 of 5", "67 %"] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert!(page.contains("Work on link 2, carries it"), "{page}");
    // A correction of a link is laid over the try, which meets the criterion then or no more.
    let event = store.reps(&Filter::session(session))?[1].event.unwrap();
    let to = RepEdit { step: Some(3), ..RepEdit::default() };
    let change = Change::Revise { target: Target::Event(event), to };
    let edit = Edit { change, by: None, why: None };
    store.edit(session, &edit, EventId(clock.new_id()), clock.utc())?;
    assert_eq!(links(&store)?[1], "independent independent prompted");
    assert!(!store.reps(&Filter::session(session))?[1].rep.met_criterion());
    Ok(())
}
