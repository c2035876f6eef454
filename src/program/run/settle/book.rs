//! The doubts of a session, and the answers to them as edits in the record.

use std::collections::BTreeMap;

use crate::at::At;
use crate::clock::Clock;
use crate::interpret::{Details, Grammar, LinkMarks, NotCounted};
use crate::plan::Plan;
use crate::session::{Event, Input, MissedBecause, Outcome};
use crate::settle::{Before, Doubt, Settled};
use crate::store::{
    Change, Content, Edit, EventId, Folded, RepEdit, SessionId, Store, StoreError, Stored,
};
use crate::wording::text;

/// The doubts of a session that wait to be settled, with their events, in order of time; what was most likely said
/// by another comes last.
pub fn doubts(plan: &Plan, folded: &Folded, events: &[Stored]) -> Vec<(Doubt, EventId, At)> {
    let grammar = Grammar::new(&plan.words);
    let mut found: Vec<(Doubt, EventId, At)> = events
        .iter()
        .filter_map(|stored| match &stored.content {
            Content::Event(Event::Input(Input::Doubted { words, other }))
                if folded.waits(stored.id) =>
            {
                let mut doubt = Doubt::new(active_s(folded, stored.id), words, other, &grammar);
                doubt.before = before(folded, stored.at);
                Some((doubt, stored.id, stored.at))
            }
            _ => None,
        })
        .collect();
    let is_another = |doubt: &Doubt| doubt.because == Some(NotCounted::SaidByAnother);
    found.sort_by_key(|(doubt, _, at)| (is_another(doubt), *at));
    found
}

/// When a doubt was, in seconds since the session began, pauses left out: as `session` shows it.
fn active_s(folded: &Folded, doubt: EventId) -> f64 {
    folded.doubt(doubt).map_or(0.0, |mark| mark.active.as_secs_f64())
}

fn before(folded: &Folded, at: At) -> Option<Before> {
    let index = folded.reps.iter().rposition(|rep| rep.rep.at < at)?;
    let rep = &folded.reps[index].rep;
    let seconds = at.since(rep.at).as_secs_f64();
    Some(Before { rep: index + 1, seconds, outcome: rep.outcome })
}

/// The record of one session, and what was written into it here.
pub struct Book {
    store: Store,
    session: SessionId,
    by: Option<String>,
    clock: Clock,
    events: Vec<EventId>,
    /// The edit that settled each doubt.
    written: BTreeMap<usize, EventId>,
}

impl Book {
    /// The record of this session, whose doubts are settled by this person. `events` are the doubts' own.
    pub fn open(
        store: Store,
        session: SessionId,
        events: Vec<EventId>,
        by: Option<String>,
        clock: Clock,
    ) -> Self {
        Book { store, session, by, clock, events, written: BTreeMap::new() }
    }

    /// Settles a doubt; false when somebody else did it meanwhile.
    pub(super) fn settle(&mut self, doubt: usize, settled: Settled) -> Result<bool, StoreError> {
        let (session, by) = (self.session, self.by.clone());
        let edit =
            settle_doubt(&self.store, &self.clock, session, self.events[doubt], settled, by)?;
        self.written.extend(edit.map(|edit| (doubt, edit)));
        Ok(edit.is_some())
    }

    /// Takes back how a doubt was settled here; false when that does not count any more.
    pub(super) fn take_back(&mut self, doubt: usize) -> Result<bool, StoreError> {
        let event = self.events[doubt];
        let Some(target) = self.written.remove(&doubt) else { return Ok(false) };
        let edit = Edit { change: Change::Undo { target }, by: self.by.clone(), why: None };
        let edit = amend(&self.store, &self.clock, self.session, |folded| {
            (!folded.waits(event)).then_some(edit)
        })?;
        Ok(edit.is_some())
    }
}

/// Settles a doubtful event of a session, by voice or on a page: the one way to do it. The key of the edit; `None`, and
/// nothing is written, when the event does not wait to be settled any more.
///
/// # Errors
/// The record cannot be read or written.
pub fn settle_doubt(
    store: &Store,
    clock: &Clock,
    session: SessionId,
    event: EventId,
    settled: Settled,
    by: Option<String>,
) -> Result<Option<EventId>, StoreError> {
    let why = matches!(settled, Settled::Nothing { no_rep: true });
    let why = why.then(|| text("screen.counts_no_try"));
    amend(store, clock, session, |folded| {
        let doubt = folded.doubt(event)?;
        Some(Edit { change: Change::settling(event, doubt.at, rep(settled)), by, why })
    })
}

/// Writes an edit down if there is one to make as the session stands at that moment; its key then.
fn amend(
    store: &Store,
    clock: &Clock,
    session: SessionId,
    edit: impl FnOnce(&Folded) -> Option<Edit>,
) -> Result<Option<EventId>, StoreError> {
    let id = EventId(clock.new_id());
    let mut written = None;
    store.amend(session, clock.utc(), |folded, _| {
        let edit = edit(folded);
        written = edit.is_some().then_some(id);
        Ok::<_, StoreError>(edit.map(|edit| (id, edit)).into_iter().collect())
    })?;
    Ok(written)
}

/// The rep that a doubt was, if it was one.
fn rep(settled: Settled) -> Option<RepEdit> {
    match settled {
        Settled::Rep(details) => Some(RepEdit {
            step: details.step,
            links: said_of_links(details),
            outcome: details.value.map(Outcome::Rewarded),
            side: details.side.map(Some),
            ..RepEdit::default()
        }),
        Settled::Miss(details) => Some(RepEdit {
            step: details.step,
            links: said_of_links(details),
            side: details.side.map(Some),
            outcome: Some(Outcome::Missed(MissedBecause::Said)),
            ..RepEdit::default()
        }),
        Settled::Nothing { .. } => None,
    }
}

fn said_of_links(details: Details) -> Option<LinkMarks> {
    (!details.links.is_empty()).then_some(details.links)
}
