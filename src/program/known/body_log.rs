//! An animal's body log, as the history wants it: read from the record.

use jiff::Timestamp;
use jiff::civil::Date;

use crate::history::body::{self, Alarm, Body, Bounds, Fact, Noted, NotedSigns};
use crate::plan::Plan;
use crate::store::{AnimalId, AnimalRow, Entry, Filter, JournalFilter, Store, StoreError};
use crate::wording::Signs;

/// The body log of an animal, in order of time: its entries, and every note, of a session or not, that has words of
/// injury or illness.
///
/// # Errors
/// The database cannot be read.
pub fn body_log(store: &Store, animal: AnimalId) -> Result<Vec<Noted>, StoreError> {
    let signs = Signs::english();
    let noted = |text: String| {
        let words = signs.find(&text);
        (!words.is_empty()).then_some(Fact::Signs { text, words })
    };
    let mut log: Vec<(Timestamp, Noted)> = Vec::new();
    let filter = JournalFilter { animal: Some(animal), ..JournalFilter::default() };
    for row in store.journal(&filter)? {
        let fact = match row.entry {
            Entry::Weight { grams, .. } => Fact::Weight(grams),
            Entry::Sore { text } => Fact::Sore(text),
            Entry::Sides { text, .. } => Fact::Sides(text),
            Entry::Ill { text } => Fact::Ill(text),
            Entry::Concern { text } => Fact::Concern(text),
            Entry::NoConcern { .. } => Fact::NoConcern,
            Entry::Well { .. } => Fact::Well,
            Entry::Note { text } | Entry::Coat { text } => noted(text).unwrap_or(Fact::Other),
            Entry::Food { what, .. } => noted(what).unwrap_or(Fact::Other),
            Entry::Captured { context, .. } => context.and_then(&noted).unwrap_or(Fact::Other),
            Entry::Probe { context, instead, .. } => {
                let text = context.into_iter().chain(instead).collect::<Vec<_>>().join("; ");
                noted(text).unwrap_or(Fact::Other)
            }
            Entry::Planned { .. } | Entry::TakenBack { .. } => Fact::Other,
        };
        log.push((row.utc, Noted { day: row.day, fact }));
    }
    for note in store.session_notes(animal)? {
        let day = note.when.date();
        log.extend(noted(note.text).map(|fact| (note.when.timestamp(), Noted { day, fact })));
    }
    // Stable: what was written at one moment stays in its order.
    log.sort_by_key(|(utc, _)| *utc);
    Ok(log.into_iter().map(|(_, noted)| noted).collect())
}

/// Every note in the record that has words of injury or illness.
///
/// # Errors
/// The database cannot be read.
pub fn noted_signs(store: &Store) -> Result<Vec<NotedSigns>, StoreError> {
    let mut found = Vec::new();
    for animal in store.animals()? {
        for Noted { day, fact } in body_log(store, animal.id)? {
            if let Fact::Signs { text, words } = fact {
                found.push(NotedSigns { animal: animal.name.clone(), day, words, text });
            }
        }
    }
    Ok(found)
}

/// What is open of an animal's health, by its name and species as a plan has them; nothing of one that the record
/// does not know.
///
/// # Errors
/// The database cannot be read.
pub fn concerns(store: &Store, plan: &Plan, today: Date) -> Result<Vec<Alarm>, StoreError> {
    let named = |row: &AnimalRow| row.name == plan.animal && row.species == plan.species;
    let Some(animal) = store.animals()?.into_iter().find(named) else { return Ok(Vec::new()) };
    Ok(body::read_by(&body_log(store, animal.id)?, today, &Bounds::of(plan)).concerns())
}

/// How the body log of an animal stands, by what the plan of its latest session says of its body.
///
/// # Errors
/// The database cannot be read.
pub fn health(store: &Store, animal: AnimalId, today: Date) -> Result<Body, StoreError> {
    let latest = Filter { latest: Some(1), ..Filter::animal(animal) };
    let bounds = match store.sessions(&latest)?.first() {
        Some(session) => {
            let version = store.plan_of(session.id)?;
            // A session whose plan cannot be read has no bounds.
            Plan::parse(&version.file, &version.text)
                .map(|plan| Bounds::of(&plan))
                .unwrap_or_default()
        }
        None => Bounds::default(),
    };
    Ok(body::read_by(&body_log(store, animal)?, today, &bounds))
}
