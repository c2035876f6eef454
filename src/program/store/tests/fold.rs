use std::time::Duration;

use proptest::prelude::*;

use super::log::any_input;
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{RewardValue, Side};
use crate::session::{Input, Logged, MissedBecause, Outcome, Output, Rep, Session};
use crate::store::testing::{cases, key, later, live, place, plan, stored, usual, yes};
use crate::store::{
    Change, Edit, EventId, Filter, Folded, Forget, MarkKind, RepEdit, SessionId, Store, Target,
};

fn edit(change: Change) -> Edit {
    Edit { change, by: Some("Ada".into()), why: Some("seen on film".into()) }
}

fn reps(folded: &Folded) -> Vec<Rep> {
    folded.reps.iter().map(|rep| rep.rep.clone()).collect()
}

/// A try as rows of many sessions know it.
fn as_in_rows(rep: &Rep) -> Rep {
    Rep { input: None, ..rep.clone() }
}

#[test]
fn reading_back_gives_the_session_that_was() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (session, logged) = live(&usual(), Some(60.0));
    let id = stored(&store, 1, &logged);
    let folded = store.fold(id).unwrap();
    assert_eq!(reps(&folded), session.reps());
    assert_eq!(folded.summary, session.summary());
    assert_eq!(folded.active, session.active());
    let rows = store.reps(&Filter::session(id)).unwrap();
    let in_rows: Vec<Rep> = session.reps().iter().map(as_in_rows).collect();
    assert_eq!(rows.iter().map(|row| row.rep.clone()).collect::<Vec<_>>(), in_rows);
    let events = store.events(id).unwrap();
    // Reps know their events: 2 s is the first tag, after `began`; the cue of 12 s ran out at 18 s.
    assert_eq!(rows[0].event, Some(events[1].id));
    assert_eq!(rows[3].rep.outcome, Outcome::Missed(MissedBecause::HoldRanOut));
    let ran_out = events.iter().find(|event| event.at == rows[3].rep.at).unwrap();
    assert_eq!(rows[3].event, Some(ran_out.id));
    assert_eq!(
        rows[4].event,
        Some(events.iter().find(|e| e.at == At::from_secs_f64(25.0)).unwrap().id)
    );
}

/// At 602ce15 a session was one person's from its start to its end.
#[test]
fn who_took_over_stands_in_the_record_until_it_is_taken_back_or_forgotten() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let takes_over = |name: &str| Said::TakesOver { person: name.to_owned() };
    let tags = [
        (2.0, yes(None)),
        (4.0, takes_over("Zebediah")),
        (6.0, yes(None)),
        (8.0, takes_over("Ben")),
        (9.0, Said::TakeBack),
        (12.0, yes(None)),
    ];
    let (session, logged) = live(&tags, Some(60.0));
    let id = stored(&store, 1, &logged);
    assert_eq!(
        (reps(&store.fold(id).unwrap()), session.reps().len()),
        (session.reps().to_vec(), 3)
    );
    let taken = || -> Vec<(f64, String)> {
        let marks = store.marks(&Filter::session(id), &[MarkKind::TookOver]).unwrap();
        marks.into_iter().map(|row| (row.mark.at.as_secs_f64(), row.mark.name)).collect()
    };
    assert_eq!(taken(), [(4.0, "Zebediah".to_owned())]);
    let scored = store.fold(id).unwrap().summary.hands;
    let scored: Vec<_> =
        scored.iter().map(|hand| (hand.person.as_deref(), hand.tries.all())).collect();
    assert_eq!(scored, [(None, 1), (Some("Zebediah"), 2)]);
    store.forget(&Forget::Person("zebediah".into())).unwrap();
    assert_eq!(taken(), [(4.0, "(forgotten)".to_owned())]);
    assert!(store.verify("0.1.0").unwrap().is_sound());
}

#[test]
fn a_session_goes_on_where_a_crash_left_it() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let tags = usual();
    let (before, logged) = live(&tags[..5], None);
    let id = stored(&store, 1, &logged);
    let mut again = store.resume(id).unwrap();
    assert_eq!(again.reps(), before.reps());
    let mut whole = before;
    for (at, said) in &tags[5..] {
        let at = At::from_secs_f64(*at);
        let expected = whole.handle(at, Input::said(said.clone(), "words"));
        assert_eq!(again.handle(at, Input::said(said.clone(), "words")), expected);
    }
    assert_eq!(again.summary(), whole.summary());
}

#[test]
fn edits_change_the_reps_and_can_be_undone() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let tags = [
        (2.0, yes(None)),
        (5.0, yes(Some(3))),
        (8.0, Said::Miss(Details::default())),
        (9.5, yes(None)),
    ];
    let id = stored(&store, 1, &live(&tags, Some(20.0)).1);
    let before = store.events(id).unwrap();
    let rep_at = |seconds: f64| {
        let at = At::from_secs_f64(seconds);
        Target::Event(before.iter().find(|event| event.at == at && event.ordinal > 0).unwrap().id)
    };
    let changes = [
        Change::Remove { target: rep_at(2.0) },
        Change::Revise {
            target: rep_at(5.0),
            to: RepEdit {
                at: Some(At::from_secs_f64(5.5)),
                outcome: Some(Outcome::Rewarded(RewardValue::Jackpot)),
                side: Some(Some(Side::Left)),
                ..RepEdit::default()
            },
        },
        Change::Add { at: At::from_secs_f64(7.0), rep: RepEdit::default(), settles: None },
        Change::Remove { target: rep_at(8.0) },
        Change::Undo { target: EventId(key(9004)) },
        Change::Remove { target: Target::Event(EventId(key(77))) },
    ];
    for (n, change) in (9001..).zip(changes) {
        store.edit(id, &edit(change), EventId(key(n)), later(90)).unwrap();
    }
    let folded = store.fold(id).unwrap();
    let at: Vec<f64> = folded.reps.iter().map(|rep| rep.rep.at.as_secs_f64()).collect();
    assert_eq!(at, vec![5.5, 7.0, 8.0, 9.5]);
    let first = &folded.reps[0];
    assert_eq!(first.rep.outcome, Outcome::Rewarded(RewardValue::Jackpot));
    assert_eq!(first.rep.side, Some(Side::Left));
    assert_eq!(first.rep.active, Duration::from_secs_f64(3.5));
    assert!(first.edited && folded.reps[1].edited && !folded.reps[2].edited);
    assert_eq!(folded.reps[1].event, Some(EventId(key(9003))));
    assert_eq!(folded.reps[1].rep.active, Duration::from_secs(5));
    assert_eq!(folded.aimless, vec![EventId(key(9006))]);
    // Nothing was overwritten, and the views follow.
    assert_eq!(store.events(id).unwrap()[..before.len()], before);
    let rows = store.reps(&Filter::session(id)).unwrap();
    assert_eq!(
        rows.iter().map(|row| row.rep.clone()).collect::<Vec<_>>(),
        reps(&folded).iter().map(as_in_rows).collect::<Vec<_>>()
    );
    assert_eq!(store.sessions(&Filter::session(id)).unwrap()[0].paid, [0, 2, 1]);
}

#[test]
fn a_doubt_is_settled_once() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, mut logged) = live(&[(2.0, yes(None))], None);
    let doubt = Input::Doubted { words: "yes tree".into(), other: "guess three".into() };
    logged.push(Logged { at: At::from_secs_f64(6.0), event: crate::session::Event::Input(doubt) });
    let id = stored(&store, 1, &logged);
    let target = store.events(id).unwrap().last().unwrap().id;
    assert_eq!(store.sessions(&Filter::session(id)).unwrap()[0].unsure, 1);
    let rep = RepEdit { step: Some(3), ..RepEdit::default() };
    let add = Change::Add { at: At::from_secs_f64(6.0), rep, settles: Some(target) };
    store.edit(id, &edit(add), EventId(key(5000)), later(70)).unwrap();
    let row = &store.sessions(&Filter::session(id)).unwrap()[0];
    assert_eq!((row.unsure, row.rewarded, row.best_step, row.edits), (0, 2, Some(3), 1));
    store.edit(id, &edit(Change::Dismiss { target }), EventId(key(5001)), later(71)).unwrap();
    assert_eq!(store.fold(id).unwrap().aimless, vec![EventId(key(5001))]);
}

#[test]
fn marks_know_what_was_taken_back() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let worried = Said::State { mood: crate::plan::Mood::Worried };
    let tags = [(2.0, yes(None)), (4.0, worried.clone()), (5.0, Said::TakeBack), (9.0, worried)];
    let id = stored(&store, 1, &live(&tags, None).1);
    let folded = store.fold(id).unwrap();
    let moods: Vec<_> = folded.marks.iter().filter(|mark| mark.kind == MarkKind::Mood).collect();
    assert_eq!(moods.len(), 1);
    assert_eq!((moods[0].name.as_str(), moods[0].active), ("worried", Duration::from_secs(7)));
    let rows = store.marks(&Filter::session(id), &[]).unwrap();
    assert_eq!(rows.iter().map(|row| row.mark.clone()).collect::<Vec<_>>(), folded.marks);
    let only = store.marks(&Filter::session(id), &[MarkKind::Mood, MarkKind::Began]).unwrap();
    assert_eq!(only.len(), 2);
}

#[test]
fn what_is_put_back_is_what_it_was() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let put_back = |said_at| Said::PutBack { said_at: At::from_secs_f64(said_at) };
    let tags = [
        (2.0, yes(None)),
        (4.0, Said::State { mood: crate::plan::Mood::Worried }),
        (5.0, Said::TakeBack),
        (6.0, put_back(5.0)),
        (8.0, yes(None)),
        (9.0, Said::TakeBack),
        (10.0, put_back(9.0)),
        (12.0, yes(None)),
    ];
    let id = stored(&store, 1, &live(&tags, None).1);
    let folded = store.fold(id).unwrap();
    let moods = folded.marks.iter().filter(|mark| mark.kind == MarkKind::Mood);
    assert_eq!(moods.map(|mark| mark.at.as_secs_f64()).collect::<Vec<_>>(), [4.0]);
    assert_eq!(folded.summary.unsure, 0);
    let events = store.events(id).unwrap();
    let at = |event| events.iter().find(|stored| Some(stored.id) == event).map(|stored| stored.at);
    for rep in &folded.reps {
        assert_eq!(at(rep.event), Some(rep.rep.at), "each rep has the event of its own tag");
    }
    assert_eq!(folded.reps.len(), 3);
}

/// Everything in the tables that follow from the log.
fn projections(store: &Store) -> Vec<Vec<rusqlite::types::Value>> {
    let mut all = Vec::new();
    for sql in [
        "SELECT * FROM rep ORDER BY session, number",
        "SELECT * FROM mark ORDER BY session, number",
        "SELECT * FROM session_summary ORDER BY session",
        "SELECT * FROM stale",
    ] {
        let mut statement = store.conn.prepare(sql).unwrap();
        let width = statement.column_count();
        let rows = statement.query_map([], |row| (0..width).map(|i| row.get(i)).collect());
        all.extend(rows.unwrap().map(Result::unwrap));
    }
    all
}

#[test]
fn a_plan_that_no_longer_reads_hides_no_other_session() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&usual(), Some(60.0));
    stored(&store, 1, &logged);
    let mut odd = super::super::testing::new_session(7);
    odd.plan_text = "animal = 3".into();
    let odd = store.begin_session(&odd).unwrap();
    let unreadable = store.refresh().unwrap();
    assert_eq!(unreadable.len(), 1);
    assert!(unreadable[0].to_string().contains(&odd.to_string()));
    assert_eq!(store.reps(&Filter::default()).unwrap().len(), 5);
}

fn fed(session: &mut Session, inputs: &[(u32, Input)]) -> Vec<Logged> {
    let mut at = At::ZERO;
    let mut out = Vec::new();
    for (wait, input) in inputs {
        at = at + Duration::from_millis(u64::from(*wait));
        out.extend(session.handle(at, input.clone()));
    }
    let logged = out.into_iter().filter_map(|output| match output {
        Output::Append(logged) => Some(logged),
        _ => None,
    });
    logged.collect()
}

proptest! {
    #![proptest_config(cases(48))]
    #[test]
    fn any_session_reads_back_as_it_was_and_rebuilding_changes_nothing(
        inputs in proptest::collection::vec((0..4000_u32, any_input()), 0..60)
    ) {
        let place = place();
        let store = Store::open(&place.file).unwrap();
        let mut session = Session::new(plan(2));
        let logged = fed(&mut session, &inputs);
        let id: SessionId = stored(&store, 1, &logged);
        let folded = store.fold(id).unwrap();
        prop_assert_eq!(reps(&folded), session.reps());
        // Time may have passed since the last event that was worth writing down.
        prop_assert_eq!(folded.summary.unsure, session.summary().unsure);
        prop_assert_eq!(folded.summary.paid, session.summary().paid);
        let mut ids: Vec<_> = folded.reps.iter().filter_map(|rep| rep.event).collect();
        ids.sort();
        ids.dedup();
        let without = folded.reps.iter().filter(|rep| rep.event.is_none()).count();
        prop_assert_eq!(ids.len() + without, folded.reps.len());
        store.refresh().unwrap();
        let before = projections(&store);
        store.rebuild().unwrap();
        prop_assert_eq!(projections(&store), before);
    }
}

#[test]
fn a_doubt_is_named_by_the_time_of_the_session() {
    use crate::plan::Command;
    let at = At::from_secs_f64;
    let command = |command| Input::said(Said::Command { command }, "juniper");
    let yes = Input::said(Said::Rep(Details::default()), "yes");
    let doubt = Input::Doubted { words: "yes".into(), other: "yet".into() };
    // Listened to for a minute and a half, then begun, and paused for ten seconds.
    let said = [
        (90.0, command(Command::Begin)),
        (95.0, yes),
        (100.0, command(Command::Pause)),
        (110.0, command(Command::GoOn)),
        (112.0, doubt),
    ];
    let mut session = Session::new(plan(1));
    let out = said.into_iter().flat_map(|(seconds, input)| session.handle(at(seconds), input));
    let logged: Vec<Logged> = out
        .filter_map(|output| match output {
            Output::Append(logged) => Some(logged),
            _ => None,
        })
        .collect();
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let id = stored(&store, 1, &logged);
    let (folded, events) = store.read_through(id).unwrap();
    let found = crate::run::doubts(&plan(1), &folded, &events);
    assert_eq!((found.len(), found[0].0.at_s, found[0].2), (1, 12.0, at(112.0)));
}
