//! Whether every try that was acknowledged stands in one session alone, and every view shows it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use hushtally::interpret::Said;
use hushtally::session::{Event, Input};
use hushtally::store::export::{Format, Names, Table};
use hushtally::store::{Content, EventId, Filter, Store, StoreError};

/// What is wrong with a record.
#[derive(Debug, Default)]
pub(crate) struct Shown {
    /// Tries that are not in the log.
    pub(crate) lost: Vec<u64>,
    /// Tries that are in several sessions, or that a view does not show.
    pub(crate) hidden: Vec<u64>,
    /// What `verify` says of it, and what views say against each other.
    pub(crate) wrong: Vec<String>,
}

pub(crate) fn look(db: &Path, acked: &BTreeSet<u64>) -> Result<Shown, StoreError> {
    let store = Store::open(db)?;
    let mut shown = Shown::default();
    let everything = Filter::default();
    let sessions = store.sessions(&everything)?;
    let (mut placed, mut folded) = (BTreeMap::<u64, Vec<EventId>>::new(), BTreeSet::new());
    for row in &sessions {
        for stored in store.events(row.id)? {
            let Content::Event(Event::Input(Input::Tagged { said, words })) = &stored.content
            else {
                continue;
            };
            if let (Said::Rep(_) | Said::Miss(_), Ok(number)) = (said, words.parse()) {
                placed.entry(number).or_default().push(stored.id);
            }
        }
        let reps = store.fold(row.id)?.reps;
        if reps.len() != (row.rewarded + row.missed) as usize {
            shown.wrong.push(format!("session {}: {} tries, {row:?}", row.id, reps.len()));
        }
        folded.extend(reps.iter().filter_map(|rep| rep.event));
    }
    let events = |store: &Store| -> Result<BTreeSet<EventId>, StoreError> {
        Ok(store.reps(&everything)?.iter().filter_map(|row| row.event).collect())
    };
    let reader = Store::open_read_only(db)?;
    let views = [folded, events(&store)?, events(&reader)?];
    for number in acked {
        match placed.get(number).map(Vec::as_slice) {
            None | Some([]) => shown.lost.push(*number),
            Some([one]) if views.iter().all(|view| view.contains(one)) => {}
            Some(_) => shown.hidden.push(*number),
        }
    }
    let mut table = Vec::new();
    let exported = store.export(Table::Reps, &everything, Format::Csv, Names::Kept, &mut table);
    let reps = store.reps(&everything)?.len() as u64;
    if exported.as_ref().ok() != Some(&reps) {
        shown.wrong.push(format!("{reps} tries are shown, and exported: {exported:?}"));
    }
    // The version that recorded them: what another one would be forgiven is reported.
    let verdict = store.verify(&format!("hushtally {}", env!("CARGO_PKG_VERSION")))?;
    shown.wrong.extend(verdict.faults.into_iter().chain(verdict.differences));
    // Nobody edits here, so there is nothing worth knowing either.
    shown.wrong.extend(verdict.remarks);
    Ok(shown)
}
