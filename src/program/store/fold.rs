//! From events to what they amount to. Pure. Events go through the same engine as live ones, so that a
//! session read back is the session that was; later edits are laid over the result.

use std::collections::BTreeSet;
use std::time::Duration;

use super::EventId;
use super::append::{Content, Stored};
use super::edit::{Change, Edit, RepEdit, Target};
use super::feed::{Feed, is_end};
use super::mark::{Mark, MarkKind};
use crate::at::At;
use crate::chain::LinkScores;
use crate::interpret::Said;
use crate::plan::{Command, Plan};
use crate::session::{
    Derived, Elsewhere, Event, Hands, Input, MissedBecause, NudgeKind, Outcome, Output,
    PastSession, Rep, Session, Summary, WhyEnded, hands,
};

/// A session as its events and edits have it.
#[derive(Debug, Clone, PartialEq)]
pub struct Folded {
    /// Reps in order of time.
    pub reps: Vec<FoldedRep>,
    /// What else happened, in order; what was taken back or settled is left out.
    pub marks: Vec<Mark>,
    /// In numbers, edits included.
    pub summary: Summary,
    /// Active time up to the last event.
    pub active: Duration,
    /// Since when, in active time, it declined, when a nudge said so and was not taken back.
    pub declining_since: Option<Duration>,
    /// Alarms of a decline that turned out to be none.
    pub alarms_taken_back: u32,
    /// Why it ended; `None` while it has not.
    pub ended: Option<WhyEnded>,
    /// Number of edits that count.
    pub edits: usize,
    /// Edits whose target is not there (any more).
    pub aimless: Vec<EventId>,
}

/// A rep and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct FoldedRep {
    /// The rep.
    pub rep: Rep,
    /// Its event or the edit that added it; `None` for a miss that only showed when a tag was taken back.
    pub event: Option<EventId>,
    /// Whether an edit touched it.
    pub edited: bool,
}

impl Folded {
    /// The session as later ones are told of it.
    pub fn as_past(&self) -> PastSession {
        let refilled = Command::Refilled.name();
        let refills = self.marks.iter().filter(|mark| mark.kind == MarkKind::Command);
        let refills: Vec<Duration> =
            refills.filter(|mark| mark.name == refilled).map(|mark| mark.active).collect();
        let reps: Vec<Rep> = self.reps.iter().map(|folded| folded.rep.clone()).collect();
        PastSession::of_parts(
            &reps,
            self.active,
            self.declining_since,
            self.alarms_taken_back,
            &refills,
        )
    }

    /// The doubt of this event, while it waits to be settled.
    pub fn doubt(&self, event: EventId) -> Option<&Mark> {
        self.marks.iter().find(|mark| mark.kind == MarkKind::Doubt && mark.event == event)
    }

    /// Whether this doubtful event still waits to be settled.
    pub fn waits(&self, event: EventId) -> bool {
        self.doubt(event).is_some()
    }
}

/// Longest name of a mark, in characters; the whole stands in the event.
const NAME_LENGTH: usize = 120;

/// What these events and edits amount to in `session`, which has not begun.
pub(super) fn fold<'a>(
    session: Session,
    events: impl Iterator<Item = &'a Stored> + Clone,
) -> Folded {
    fold_and(session, events, |_, _| {})
}

/// The same; `asked` is told what the engine asks for after each event.
pub(super) fn fold_and<'a>(
    mut session: Session,
    events: impl Iterator<Item = &'a Stored> + Clone,
    mut asked: impl FnMut(&Stored, Vec<Output>),
) -> Folded {
    let mut trace = Trace::default();
    let feed = Feed::of(events.clone());
    for stored in events.clone() {
        asked(stored, feed.give(&mut session, stored));
        if !(is_end(stored) && feed.passes_over(stored)) {
            trace.note(&session, stored);
        }
    }
    let told = session.summary();
    let mut folded = trace.folded(&session, told.clone());
    let edits: Vec<(EventId, &Edit)> = events
        .filter_map(|stored| match &stored.content {
            Content::Edit(edit) => Some((stored.id, edit)),
            Content::Event(_) => None,
        })
        .collect();
    trace.lay_over(session.plan(), &mut folded, &edits);
    let reps: Vec<Rep> = folded.reps.iter().map(|rep| rep.rep.clone()).collect();
    let unsure = folded.marks.iter().filter(|mark| mark.kind == MarkKind::Doubt).count();
    // To decide takes longest, and where no try was corrected that is done.
    let next = match reps == session.reps() {
        true => (*told.next).clone(),
        false => session.decision_on(&reps),
    };
    let summary = Summary::of(
        session.plan(),
        &reps,
        session.working(),
        session.active(),
        unsure,
        trace.nudged,
        session.declining_since(),
        next,
    );
    let hands = hands(session.took_over(), &reps);
    let (breaks, played) = session.breaks();
    let played_s = played.as_secs_f64();
    folded.summary = Summary { held_back: told.held_back, hands, breaks, played_s, ..summary };
    folded
}

/// What the engine was at after an event.
#[derive(Debug, Clone, Copy)]
struct Moment {
    at: At,
    active: Duration,
    running: bool,
    working: u8,
}

/// Follows the engine and remembers where each rep came from.
#[derive(Debug, Default)]
struct Trace {
    moments: Vec<Moment>,
    marks: Vec<Mark>,
    /// Events of the session's inputs, in the order of their numbers.
    inputs: Vec<EventId>,
    /// Events of the inputs that are taken back.
    taken_back: BTreeSet<EventId>,
    /// Events that tell who took over in another session of the sitting.
    hands_elsewhere: Vec<EventId>,
    hold_ran_out: Vec<(At, EventId)>,
    ended: Option<WhyEnded>,
    /// The most important nudge that was given; what a program would give today is another question.
    nudged: Option<NudgeKind>,
}

impl Trace {
    fn note(&mut self, session: &Session, stored: &Stored) {
        let Content::Event(event) = &stored.content else { return };
        // What is added to a session after its end is not one of its inputs.
        if self.inputs.len() < session.inputs() as usize {
            self.inputs.push(stored.id);
        }
        let before = self.moments.last().map(|moment| moment.working);
        self.moments.push(Moment {
            at: stored.at,
            active: session.active(),
            running: session.begun()
                && !session.paused()
                && !session.resting()
                && !session.finished(),
            working: session.working(),
        });
        let mark = |kind, name: String| Mark {
            at: stored.at,
            active: session.active(),
            kind,
            name: shortened(name),
            event: stored.id,
        };
        match event {
            Event::Input(Input::Tagged { said, .. }) => self.tagged(session, said, &mark),
            Event::Input(Input::Doubted { words, .. }) => {
                self.keep(mark(MarkKind::Doubt, words.clone()));
            }
            Event::Input(Input::Gap { why, .. }) => self.keep(mark(MarkKind::Gap, why.clone())),
            Event::Input(Input::Trouble { why }) => {
                self.keep(mark(MarkKind::Trouble, why.clone()));
            }
            Event::Input(Input::Noted { text }) => self.keep(mark(MarkKind::Note, text.clone())),
            Event::Input(Input::Elsewhere(Elsewhere { hands: Some(hands), .. })) => {
                self.in_hands(hands, &mark);
            }
            Event::Input(Input::Elsewhere(_)) => {}
            Event::Derived(Derived::Began { step }) => {
                self.keep(mark(MarkKind::Began, step.to_string()));
            }
            Event::Derived(Derived::HoldRanOut) => self.hold_ran_out.push((stored.at, stored.id)),
            Event::Derived(Derived::Nudged { nudge, .. }) => {
                self.nudged = self.nudged.max(Some(*nudge));
                self.keep(mark(MarkKind::Nudge, nudge.name().into()));
            }
            Event::Derived(Derived::Finished { why }) => {
                self.ended = Some(*why);
                self.keep(mark(MarkKind::Finished, in_json(why)));
            }
        }
        if before.is_some_and(|before| before != session.working()) {
            self.keep(mark(MarkKind::Step, session.working().to_string()));
        }
    }

    fn tagged(&mut self, session: &Session, said: &Said, mark: &dyn Fn(MarkKind, String) -> Mark) {
        match said {
            Said::Rep(_) | Said::Miss(_) => {}
            Said::State { mood } => self.keep(mark(MarkKind::Mood, in_json(mood))),
            Said::Cue => self.keep(mark(MarkKind::Cue, String::new())),
            Said::HoldStart => self.keep(mark(MarkKind::HoldStart, String::new())),
            Said::Own { name } => self.keep(mark(MarkKind::Own, name.clone())),
            Said::TakesOver { person } => self.keep(mark(MarkKind::TookOver, person.clone())),
            Said::Behaviour { name } | Said::Animal { name } => {
                self.keep(mark(MarkKind::WorksOn, name.clone()));
            }
            Said::Detail(_) => self.keep(mark(MarkKind::Changed, "detail".into())),
            Said::Change(_) => self.keep(mark(MarkKind::Changed, "change".into())),
            Said::Command { command } => {
                self.keep(mark(MarkKind::Command, command.name().into_owned()))
            }
            // Only what could be taken back is logged so; otherwise it is a doubt.
            Said::TakeBack => self.taken_back.extend(self.event_of(session.latest_taken())),
            Said::PutBack { .. } => {
                if let Some(event) = self.event_of(session.latest_standing()) {
                    self.taken_back.remove(&event);
                }
            }
        }
    }

    /// Somebody took over in another session of the sitting; or that was taken back there.
    fn in_hands(&mut self, hands: &Hands, mark: &dyn Fn(MarkKind, String) -> Mark) {
        match &hands.person {
            Some(person) => {
                let mark = mark(MarkKind::TookOver, person.clone());
                self.hands_elsewhere.push(mark.event);
                self.keep(mark);
            }
            None => self.taken_back.extend(self.hands_elsewhere.drain(..)),
        }
    }

    fn keep(&mut self, mark: Mark) {
        self.marks.push(mark);
    }

    /// The event of an input by its number, counted from 1.
    fn event_of(&self, input: Option<u32>) -> Option<EventId> {
        self.inputs.get((input? as usize).checked_sub(1)?).copied()
    }

    /// Reps with their events: said ones by their inputs, the others by their time, which is all that their events say;
    /// one hold runs out at a time, so no two have the same. Corrections on disk name those events.
    fn folded(&self, session: &Session, summary: Summary) -> Folded {
        let event_of = |rep: &Rep| match rep.outcome {
            Outcome::Missed(MissedBecause::HoldRanOut) => {
                self.hold_ran_out.iter().find(|(at, _)| *at == rep.at).map(|(_, id)| *id)
            }
            _ => self.event_of(rep.input),
        };
        let events: Vec<Option<EventId>> = session.reps().iter().map(event_of).collect();
        let stands = |mark: &&Mark| !self.taken_back.contains(&mark.event);
        let reps = session.reps().iter().zip(events);
        Folded {
            reps: reps
                .map(|(rep, event)| FoldedRep { rep: rep.clone(), event, edited: false })
                .collect(),
            marks: self.marks.iter().filter(stands).cloned().collect(),
            summary,
            active: session.active(),
            declining_since: session.declining_since(),
            alarms_taken_back: session.alarms_taken_back(),
            ended: self.ended,
            edits: 0,
            aimless: Vec::new(),
        }
    }

    fn lay_over(&self, plan: &Plan, folded: &mut Folded, edits: &[(EventId, &Edit)]) {
        let mut undone = BTreeSet::new();
        for (id, edit) in edits.iter().rev() {
            if let Change::Undo { target } = edit.change
                && !undone.contains(id)
            {
                undone.insert(target);
            }
        }
        for (id, edit) in edits.iter().filter(|(id, _)| !undone.contains(id)) {
            let done = match &edit.change {
                Change::Undo { target } => edits.iter().any(|(known, _)| known == target),
                Change::Dismiss { target } => settle(folded, *target),
                Change::Remove { target } => {
                    let place = place_of(folded, *target);
                    place.map(|index| folded.reps.remove(index)).is_some()
                }
                Change::Revise { target, to } => place_of(folded, *target)
                    .map(|index| self.revise(plan, &mut folded.reps[index], to))
                    .is_some(),
                Change::Add { at, rep, settles } => {
                    folded.reps.push(self.added(plan, *id, *at, rep));
                    settles.is_none_or(|target| settle(folded, target))
                }
                Change::Film { .. } | Change::Scored { .. } => true,
            };
            if edit.change.corrects() && !matches!(edit.change, Change::Undo { .. }) {
                folded.edits += 1;
            }
            if !done {
                folded.aimless.push(*id);
            }
            folded.reps.sort_by_key(|rep| rep.rep.at);
        }
    }

    fn revise(&self, plan: &Plan, folded: &mut FoldedRep, to: &RepEdit) {
        let rep = &mut folded.rep;
        if let Some(at) = to.at {
            // Cue and start word stay where they were, so latency and duration move with the onset.
            let moved = |span: Duration| (span + at.since(rep.at)).saturating_sub(rep.at.since(at));
            rep.latency = rep.latency.map(moved);
            rep.duration = rep.duration.map(moved);
            rep.active = self.active_at(at);
            rep.at = at;
        }
        rep.working = to.working.unwrap_or(rep.working);
        if let Some(outcome) = to.outcome {
            rep.outcome = outcome;
            rep.value_named = true;
        }
        match &plan.chain {
            None => rep.step = to.step.unwrap_or(rep.step),
            Some(chain) => {
                let said = to.of_links().unwrap_or_else(|| rep.links.as_said());
                rep.links = LinkScores::of(chain, rep.working, said, !rep.rewarded());
                rep.step = rep.links.reached(chain, rep.working);
            }
        }
        rep.value_named = rep.rewarded() && to.value_named.unwrap_or(rep.value_named);
        rep.side = to.side.unwrap_or(rep.side);
        folded.edited = true;
    }

    fn added(&self, plan: &Plan, id: EventId, at: At, rep: &RepEdit) -> FoldedRep {
        let at = rep.at.unwrap_or(at);
        let before = self.moments.iter().rev().find(|moment| moment.at <= at);
        let working =
            rep.working.or(before.map(|moment| moment.working)).unwrap_or(plan.start_step);
        let missed = matches!(rep.outcome, Some(Outcome::Missed(_)));
        let links = plan.chain.as_ref().map(|chain| {
            let links = LinkScores::of(chain, working, rep.of_links().unwrap_or_default(), missed);
            (links, links.reached(chain, working))
        });
        let step = links.map_or(rep.step.unwrap_or(working), |(_, reached)| reached);
        let outcome = Outcome::Rewarded(plan.default_value(step, working));
        let rep = Rep {
            input: None,
            at,
            active: self.active_at(at),
            working,
            step,
            outcome: rep.outcome.unwrap_or(outcome),
            value_named: rep.value_named.unwrap_or(true)
                && matches!(rep.outcome, Some(Outcome::Rewarded(_))),
            side: rep.side.flatten(),
            latency: None,
            duration: None,
            links: links.map_or_else(LinkScores::default, |(links, _)| links),
        };
        FoldedRep { rep, event: Some(id), edited: true }
    }

    fn active_at(&self, at: At) -> Duration {
        let before = self.moments.iter().rev().find(|moment| moment.at <= at);
        before.map_or(Duration::ZERO, |moment| {
            if moment.running { moment.active + at.since(moment.at) } else { moment.active }
        })
    }
}

fn place_of(folded: &Folded, target: Target) -> Option<usize> {
    folded.reps.iter().position(|rep| match target {
        Target::Event(id) => rep.event == Some(id),
        Target::At(at) => rep.rep.at == at,
    })
}

/// Takes a doubt out of those that wait; false when it does not wait.
fn settle(folded: &mut Folded, target: EventId) -> bool {
    let before = folded.marks.len();
    folded.marks.retain(|mark| mark.kind != MarkKind::Doubt || mark.event != target);
    folded.marks.len() < before
}

fn in_json<T: serde::Serialize>(value: &T) -> String {
    let value = serde_json::to_value(value).unwrap_or_default();
    value.as_str().unwrap_or_default().to_owned()
}

fn shortened(name: String) -> String {
    match name.char_indices().nth(NAME_LENGTH) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name,
    }
}
