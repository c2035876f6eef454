//! The doubts of a session, and the answers to them as edits in the record.

use std::collections::BTreeMap;

use crate::at::At;
use crate::clock::Clock;
use crate::interpret::{Grammar, SAID_BY_ANOTHER};
use crate::plan::Plan;
use crate::session::{Event, Input, MissedBecause, Outcome};
use crate::settle::{Before, Doubt, Settled};
use crate::store::{
    Change, Content, Edit, EventId, Folded, Mark, MarkKind, RepEdit, SessionId, Store, StoreError,
    Stored,
};

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
    let is_another = |doubt: &Doubt| doubt.because.as_deref() == Some(SAID_BY_ANOTHER);
    found.sort_by_key(|(doubt, _, at)| (is_another(doubt), *at));
    found
}

/// When a doubt was, in seconds since the session began, pauses left out: as `session` shows it.
fn active_s(folded: &Folded, doubt: EventId) -> f64 {
    let its = |mark: &&Mark| mark.kind == MarkKind::Doubt && mark.event == doubt;
    folded.marks.iter().find(its).map_or(0.0, |mark| mark.active.as_secs_f64())
}

fn before(folded: &Folded, at: At) -> Option<Before> {
    let index = folded.reps.iter().rposition(|rep| rep.rep.at < at)?;
    let rep = &folded.reps[index].rep;
    let seconds = at.since(rep.at).as_secs_f64();
    Some(Before { rep: index + 1, seconds, outcome: rep.outcome })
}

/// The record of one session, and what was written into it here.
pub struct Book<'a> {
    store: &'a Store,
    session: SessionId,
    by: Option<String>,
    clock: Clock,
    events: Vec<(EventId, At)>,
    /// The edit that settled each doubt.
    written: BTreeMap<usize, EventId>,
}

impl<'a> Book<'a> {
    /// The record of this session, whose doubts are settled by this person. `events` are the doubts' own and
    /// their session times.
    pub fn open(
        store: &'a Store,
        session: SessionId,
        events: Vec<(EventId, At)>,
        by: Option<String>,
        clock: Clock,
    ) -> Self {
        Book { store, session, by, clock, events, written: BTreeMap::new() }
    }

    /// Settles a doubt; false when somebody else did it meanwhile.
    pub(super) fn settle(&mut self, doubt: usize, settled: Settled) -> Result<bool, StoreError> {
        let (event, at) = self.events[doubt];
        let why = matches!(settled, Settled::Nothing { no_rep: true });
        let why = why.then(|| "a tag that counts no try".to_owned());
        let change = Change::settling(event, at, rep(settled));
        let Some(edit) = self.write(change, why, |folded| folded.waits(event))? else {
            return Ok(false);
        };
        self.written.insert(doubt, edit);
        Ok(true)
    }

    /// Takes back how a doubt was settled here; false when that does not count any more.
    pub(super) fn take_back(&mut self, doubt: usize) -> Result<bool, StoreError> {
        let (event, _) = self.events[doubt];
        let Some(target) = self.written.remove(&doubt) else { return Ok(false) };
        let change = Change::Undo { target };
        Ok(self.write(change, None, |folded| !folded.waits(event))?.is_some())
    }

    /// Writes an edit down if it may be made as the session stands at that moment; its key then.
    fn write(
        &self,
        change: Change,
        why: Option<String>,
        may: impl FnOnce(&Folded) -> bool,
    ) -> Result<Option<EventId>, StoreError> {
        let id = EventId(self.clock.new_id());
        let edit = Edit { change, by: self.by.clone(), why };
        let mut written = None;
        self.store.amend(self.session, self.clock.utc(), |folded, _| {
            written = may(folded).then_some(id);
            Ok::<_, StoreError>(written.map(|id| (id, edit)).into_iter().collect())
        })?;
        Ok(written)
    }
}

/// The rep that a doubt was, if it was one.
fn rep(settled: Settled) -> Option<RepEdit> {
    match settled {
        Settled::Rep(details) => Some(RepEdit {
            step: details.step,
            outcome: details.value.map(Outcome::Rewarded),
            side: details.side.map(Some),
            ..RepEdit::default()
        }),
        Settled::Miss(details) => Some(RepEdit {
            step: details.step,
            side: details.side.map(Some),
            outcome: Some(Outcome::Missed(MissedBecause::Said)),
            ..RepEdit::default()
        }),
        Settled::Nothing { .. } => None,
    }
}
