use jiff::Timestamp;
use uuid::Uuid;

use super::*;
use crate::at::At;
use crate::chain::LinkScores;
use crate::plan::RewardValue;
use crate::session::{Event, Input, MissedBecause, Outcome, Rep, Summary};
use crate::store::{Edit, FoldedRep, RepEdit};

type Changes<'a> = &'a [Option<Change>];
type May = Result<(), Refused>;

fn id(n: u64) -> EventId {
    EventId(Uuid::from_u64_pair(0, n))
}

/// A record of these edits; the place of each, counted from 1, is its key.
fn record(changes: &[Option<Change>]) -> Vec<Stored> {
    let content = |change: &Option<Change>| match change {
        Some(change) => Content::Edit(Edit { change: change.clone(), by: None, why: None }),
        None => Content::Event(Event::Input(Input::Noted { text: "a note".into() })),
    };
    let stored = |(n, change): (u32, &Option<Change>)| Stored {
        id: id(u64::from(n)),
        ordinal: i64::from(n) - 1,
        at: At::from_secs_f64(f64::from(n)),
        utc: Timestamp::UNIX_EPOCH,
        content: content(change),
    };
    (1..).zip(changes).map(stored).collect()
}

const REP: Target = Target::Event(EventId(Uuid::from_u64_pair(0, 77)));
const OTHER: Target = Target::Event(EventId(Uuid::from_u64_pair(0, 78)));

fn remove(target: Target) -> Option<Change> {
    Some(Change::Remove { target })
}

fn revise(target: Target) -> Option<Change> {
    Some(Change::Revise { target, to: RepEdit::default() })
}

fn undo(n: u64) -> Option<Change> {
    Some(Change::Undo { target: id(n) })
}

fn scored_in(scoring: u64) -> Option<Change> {
    let at = At::from_secs_f64(3.0);
    Some(Change::Scored { scoring: id(scoring), at, rep: RepEdit::default() })
}

/// A session of one try, of event 77 at 7 s, or of none.
fn folded(there: bool) -> Folded {
    let rep = Rep {
        input: None,
        at: At::from_secs_f64(7.0),
        active: std::time::Duration::from_secs(7),
        working: 1,
        step: 1,
        outcome: Outcome::Missed(MissedBecause::Said),
        value_named: false,
        side: None,
        latency: None,
        duration: None,
        links: LinkScores::default(),
    };
    let rep = FoldedRep { rep, event: Some(id(77)), edited: false };
    Folded { reps: if there { vec![rep] } else { Vec::new() }, ..nothing() }
}

fn nothing() -> Folded {
    let plan = crate::plan::Plan::of_default_words();
    let summary: Summary = crate::session::Session::new(plan).summary();
    Folded {
        reps: Vec::new(),
        marks: Vec::new(),
        summary,
        active: std::time::Duration::ZERO,
        declining_since: None,
        alarms_taken_back: 0,
        ended: None,
        edits: 0,
        aimless: Vec::new(),
    }
}

#[test]
fn a_try_is_corrected_as_it_was_seen() {
    let (yes, no) = (Ok(()), Err(Refused::ChangedSince));
    let at = Target::At(At::from_secs_f64(7.0));
    let late = Target::At(At::from_secs_f64(7.5));
    let table: &[(&str, Target, bool, Changes<'_>, usize, May)] = &[
        ("nothing since", REP, true, &[None], 1, yes),
        ("named by its time", at, true, &[None], 1, yes),
        ("no try at this time", late, true, &[None], 1, no),
        ("another try's event", OTHER, true, &[None], 1, no),
        ("it is gone", REP, false, &[remove(REP)], 1, no),
        ("changed before the page", REP, true, &[revise(REP)], 1, yes),
        ("changed after it", REP, true, &[None, revise(REP)], 1, no),
        ("another was changed after it", REP, true, &[None, revise(OTHER), remove(OTHER)], 1, yes),
        ("a note was added after it", REP, true, &[None, None], 1, yes),
        ("a film was placed, a second scoring made", REP, true, &[None, scored_in(2)], 1, yes),
        ("put back after it", REP, true, &[remove(REP), undo(1)], 1, no),
        ("taken out again after it", REP, true, &[remove(REP), undo(1), undo(2)], 2, no),
        ("another was put back after it", REP, true, &[remove(OTHER), undo(1)], 1, yes),
        ("an undo of itself ends", REP, true, &[None, undo(2)], 1, yes),
        ("more seen than there is", REP, true, &[None], 2, no),
    ];
    for (what, target, there, changes, seen, expected) in table {
        let found = may_correct(&folded(*there), &record(changes), *target, *seen);
        assert_eq!(found, *expected, "{what}");
    }
}

#[test]
fn a_correction_is_taken_back_once() {
    let (yes, unknown, gone) = (Ok(()), Err(Refused::NoSuchEdit), Err(Refused::AlreadyTakenBack));
    let table: &[(&str, Changes<'_>, u64, May)] = &[
        ("it counts", &[revise(REP)], 1, yes),
        ("no event of this key", &[revise(REP)], 9, unknown),
        ("an event, and no correction", &[None], 1, unknown),
        ("taken back already", &[revise(REP), undo(1)], 1, gone),
        ("taking back is taken back", &[revise(REP), undo(1)], 2, yes),
        ("it counts again", &[revise(REP), undo(1), undo(2)], 1, yes),
        ("and is that no more than once", &[revise(REP), undo(1), undo(2)], 2, gone),
    ];
    for (what, changes, edit, expected) in table {
        assert_eq!(may_undo(&record(changes), id(*edit)), *expected, "{what}");
    }
}

#[test]
fn a_try_of_a_second_scoring_is_scored_once_more_once() {
    let (yes, no) = (Ok(()), Err(Refused::ScoredAlready));
    let table: &[(&str, Changes<'_>, Option<u64>, May)] = &[
        ("a new one", &[], None, yes),
        ("instead of one that counts", &[scored_in(50)], Some(1), yes),
        ("instead of one of another scoring", &[scored_in(51)], Some(1), no),
        ("instead of one that is taken back", &[scored_in(50), undo(1)], Some(1), no),
        ("instead of one that was put back", &[scored_in(50), undo(1), undo(2)], Some(1), yes),
        ("instead of what was not scored", &[revise(REP)], Some(1), no),
    ];
    for (what, changes, last, expected) in table {
        assert_eq!(may_score(&record(changes), id(50), last.map(id)), *expected, "{what}");
    }
    let outcome = Some(Outcome::Rewarded(RewardValue::Low));
    let rep = RepEdit { outcome, ..RepEdit::default() };
    let new = Change::Scored { scoring: id(50), at: At::from_secs_f64(3.0), rep };
    assert_eq!(scored(new.clone(), None), std::slice::from_ref(&new));
    assert_eq!(scored(new.clone(), Some(id(4))), [new, undo(4).unwrap()]);
}
