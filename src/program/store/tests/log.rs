use proptest::prelude::*;

use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, RewardValue, Side};
use crate::session::{Derived, Event, Input, Logged, NudgeKind, Quantity, Reason, WhyEnded};
use crate::store::testing::{
    began, cases, key, later, live, new_session, place, stored, usual, yes,
};
use crate::store::{AnimalRef, EventId, Filter, SessionId, Store, StoreError};

#[test]
fn what_is_stored_is_read_back() {
    let place = place();
    let (_, logged) = live(&usual(), Some(60.0));
    let session = stored(&Store::open(&place.file).unwrap(), 1, &logged);
    let again = Store::open(&place.file).unwrap();
    let events = again.events(session).unwrap();
    let back: Vec<Logged> = events.iter().filter_map(super::super::Stored::logged).collect();
    assert_eq!(back, logged);
    assert!(events.iter().zip(0..).all(|(event, i)| event.ordinal == i));
    assert_eq!(events[0].utc, later(1));
    let plan = again.plan_of(session).unwrap();
    assert_eq!((plan.file.as_str(), plan.start_step), ("pepino.toml", 2));
}

#[test]
fn events_are_neither_changed_nor_deleted() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    stored(&store, 1, &live(&usual(), None).1);
    for wrong in [
        "DELETE FROM event",
        "UPDATE event SET body = '{}'",
        "UPDATE session SET place = 'x'",
        "DELETE FROM session",
        "UPDATE plan_version SET text = ''",
        "DELETE FROM plan_version",
    ] {
        let error = store.conn.execute(wrong, []).unwrap_err().to_string();
        assert!(error.contains("never"), "{wrong}: {error}");
    }
}

#[test]
fn the_same_write_twice_is_one_event_and_another_with_its_key_is_refused() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&[(1.0, yes(None)), (3.0, yes(Some(3)))], None);
    let session = stored(&store, 1, &logged);
    let before = store.events(session).unwrap();
    store.append(session, &logged[1], before[1].id, later(99)).unwrap();
    assert_eq!(store.events(session).unwrap(), before);
    let other = store.append(session, &logged[2], before[1].id, later(99));
    assert!(matches!(other, Err(StoreError::Taken(id)) if id == before[1].id));
    assert_eq!(store.events(session).unwrap(), before);
}

#[test]
fn several_events_are_written_all_or_none() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let (_, logged) = live(&[(1.0, yes(None)), (3.0, yes(Some(3)))], None);
    let session = store.begin_session(&new_session(1000)).unwrap();
    let twice = EventId(key(1001));
    let wrong: Vec<_> = logged.iter().map(|logged| (logged.clone(), twice)).collect();
    assert!(store.append_all(session, &wrong, later(1)).is_err());
    assert_eq!(store.events(session).unwrap(), vec![]);
    assert_eq!(store.begin_session(&new_session(1000)).unwrap(), session);
    let right: Vec<_> =
        (1001..).map(|n| EventId(key(n))).zip(logged).map(|(id, logged)| (logged, id)).collect();
    store.append_all(session, &right, later(1)).unwrap();
    assert_eq!(store.events(session).unwrap().len(), right.len());
}

#[test]
fn unknown_sessions_are_named() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let nobody = SessionId(key(5));
    let (_, logged) = live(&[(1.0, yes(None))], None);
    let error = store.append(nobody, &logged[0], EventId(key(6)), later(1)).unwrap_err();
    assert!(error.to_string().contains(&nobody.to_string()), "{error}");
}

#[test]
fn a_session_without_an_end_is_found_until_it_has_one() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let ended = stored(&store, 1, &live(&usual(), Some(60.0)).1);
    let open = stored(&store, 2, &live(&usual(), None).1);
    let found = store.open_sessions().unwrap();
    assert_eq!(found.iter().map(|open| open.id).collect::<Vec<_>>(), vec![open]);
    assert_eq!(found[0].began, began().timestamp());
    assert_eq!(found[0].latest_at, At::from_secs_f64(25.0));
    assert_eq!(found[0].animal, "Pepino");
    assert_ne!(ended, open);
    let end = Logged {
        at: At::from_secs_f64(30.0),
        event: Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded }),
    };
    store.append(open, &end, EventId(key(2999)), later(40)).unwrap();
    assert_eq!(store.open_sessions().unwrap(), vec![]);
}

#[test]
fn animals_of_one_name_are_told_apart_by_species() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    store.begin_session(&new_session(1)).unwrap();
    let mut other = new_session(2);
    other.animal = AnimalRef::Named { name: "PEPINO".into(), species: "donkey".into() };
    store.begin_session(&other).unwrap();
    let mut same = new_session(3);
    same.animal = AnimalRef::Named { name: "pepino".into(), species: "Cockatiel".into() };
    store.begin_session(&same).unwrap();
    let sessions = store.sessions(&Filter::default()).unwrap();
    assert_eq!(sessions[0].animal_id, sessions[2].animal_id);
    assert_ne!(sessions[0].animal_id, sessions[1].animal_id);
    let mut third = new_session(4);
    third.animal = AnimalRef::Known(sessions[1].animal_id);
    store.begin_session(&third).unwrap();
    let donkey = store.sessions(&Filter::animal(sessions[1].animal_id)).unwrap();
    assert_eq!(donkey.len(), 2);
}

#[test]
fn a_number_that_is_none_is_left_out_of_a_reason() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = store.begin_session(&new_session(1)).unwrap();
    let reason = Reason {
        detector: "rate".into(),
        because: "so".into(),
        inputs: vec![Quantity::new("a", f64::NAN, ""), Quantity::new("b", 0.1 + 0.2, "per min")],
        probability: Some(f64::INFINITY),
        method: "count".into(),
        source: "common practice, no source".into(),
    };
    let event = Event::Derived(Derived::Nudged { nudge: NudgeKind::RateFalling, reason });
    store.append(session, &Logged { at: At::ZERO, event }, EventId(key(2)), later(1)).unwrap();
    let events = store.events(session).unwrap();
    let Some(Logged { event: Event::Derived(Derived::Nudged { reason, .. }), .. }) =
        events[0].logged()
    else {
        panic!("{events:?}")
    };
    assert_eq!(reason.inputs, vec![Quantity::new("b", 0.1 + 0.2, "per min")]);
    assert_eq!(reason.probability, None);
}

fn any_details() -> impl Strategy<Value = Details> {
    let side = prop_oneof![Just(Side::Left), Just(Side::Right)];
    let value =
        prop_oneof![Just(RewardValue::Low), Just(RewardValue::High), Just(RewardValue::Jackpot)];
    (any::<Option<u8>>(), proptest::option::of(side), proptest::option::of(value))
        .prop_map(|(step, side, value)| Details { step, side, value, ..Details::default() })
}

pub(super) fn any_said() -> impl Strategy<Value = Said> {
    prop_oneof![
        6 => any_details().prop_map(Said::Rep),
        2 => any_details().prop_map(Said::Detail),
        2 => any_details().prop_map(Said::Change),
        2 => any_details().prop_map(|details| Said::Miss(details.of_a_miss())),
        2 => Just(Said::TakeBack),
        1 => any::<u32>().prop_map(|ms| Said::PutBack { said_at: At::from_secs_f64(f64::from(ms) / 1000.0) }),
        1 => Just(Said::Cue),
        1 => Just(Said::HoldStart),
        1 => prop_oneof![Just(Mood::Keen), Just(Mood::Calm), Just(Mood::Worried), Just(Mood::Tired)]
            .prop_map(|mood| Said::State { mood }),
        1 => "\\PC{0,20}".prop_map(|name| Said::Own { name }),
        1 => prop_oneof![
            Just(Command::Pause), Just(Command::GoOn), Just(Command::StepUp), Just(Command::StepBack),
            any::<u8>().prop_map(|step| Command::WorkOn(step.max(1))),
            Just(Command::Finish), Just(Command::Rate), Just(Command::Begin)
        ].prop_map(|command| Said::Command { command }),
    ]
}

pub(super) fn any_input() -> impl Strategy<Value = Input> {
    prop_oneof![
        8 => (any_said(), "\\PC{0,20}").prop_map(|(said, words)| Input::Tagged { said, words }),
        1 => ("\\PC{0,20}", "\\PC{0,20}").prop_map(|(words, other)| Input::Doubted { words, other: other.into() }),
        1 => (any::<u32>(), ".{0,20}")
            .prop_map(|(ms, why)| Input::Gap { lasted: std::time::Duration::from_millis(ms.into()), why }),
        1 => ".{0,60}".prop_map(|text| Input::Noted { text }),
    ]
}

fn any_event() -> impl Strategy<Value = Event> {
    let reason =
        (any::<f64>(), any::<Option<f64>>(), ".{0,20}").prop_map(|(value, probability, text)| {
            Reason {
                detector: text.clone(),
                because: text.clone(),
                inputs: vec![Quantity::new("x", if value.is_finite() { value } else { 0.1 }, "s")],
                probability: probability.filter(|p| p.is_finite()),
                method: text.clone(),
                source: text,
            }
        });
    prop_oneof![
        any_input().prop_map(Event::Input),
        any::<u8>().prop_map(|step| Event::Derived(Derived::Began { step })),
        Just(Event::Derived(Derived::HoldRanOut)),
        reason.prop_map(|reason| Event::Derived(Derived::Nudged {
            nudge: NudgeKind::EndSoon,
            reason
        })),
    ]
}

proptest! {
    #![proptest_config(cases(32))]
    #[test]
    fn store_then_load_is_the_identity(
        events in proptest::collection::vec((0..i64::MAX.unsigned_abs(), any_event()), 0..20)
    ) {
        let place = place();
        let logged: Vec<Logged> =
            events.into_iter().map(|(at, event)| Logged { at: at.into(), event }).collect();
        let session = stored(&Store::open(&place.file).unwrap(), 1, &logged);
        for logged in &logged {
            let (kind, body) = crate::store::append::encode(&logged.event).unwrap();
            let body: serde_json::Value = serde_json::from_str(&body).unwrap();
            prop_assert_eq!(body["event"].as_str(), Some(kind));
        }
        let back = Store::open_read_only(&place.file).unwrap().events(session).unwrap();
        let back: Vec<Logged> = back.iter().filter_map(crate::store::Stored::logged).collect();
        prop_assert_eq!(back, logged);
    }
}
