//! Several behaviours and animals in one sitting, recorded: every try stands under its own behaviour, animal and person,
//! each session goes through its log again as it was, and what was cut off goes on.

use std::cell::RefCell;
use std::io::Write;
use std::rc::Rc;

use serde_json::Value;

use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::run::clock_faults::Stage;
use crate::run::{Conductor, Desk, JsonLines, Origin, Plain, Recorder, Unfinished};
use crate::session::Input;
use crate::sim::{self, SimulatedSitting, TryOf};
use crate::store::{EventId, Filter, MarkKind, Source, Store};

/// The text of a plan for this animal and behaviour.
fn text_of(plan: &Plan, stage: &Stage) -> String {
    let names = |text: &str, key: &str, name: &str| -> String {
        let line = |line: &str| match line.starts_with(&format!("{key} = ")) {
            true => format!("{key} = {name:?}"),
            false => line.to_owned(),
        };
        text.lines().map(line).collect::<Vec<_>>().join("\n")
    };
    let text = names(stage.plan_text(), "animal", &plan.animal);
    names(&text, "behaviour", &plan.behaviour)
}

fn recorder(stage: &Stage, plans: &[Plan]) -> Recorder {
    let mut origins = plans.iter().map(|plan| Origin {
        plan: plan.clone(),
        plan_file: format!("{} {}.toml", plan.animal, plan.behaviour),
        plan_text: text_of(plan, stage),
        source: Source::Live,
        source_name: None,
        person: None,
        place: None,
    });
    let first = origins.next().unwrap();
    Recorder::new(stage.store(), stage.clock.clone(), first).and(origins)
}

fn conductor(plans: &[Plan]) -> Conductor {
    Conductor::new(plans[0].clone()).and(plans[1..].iter().cloned())
}

fn desk(stage: &Stage, plans: &[Plan]) -> Desk {
    let mut desk = Desk::new(Box::new(Plain::new(std::io::sink())), stage.clock.clone());
    desk.recorder = Some(recorder(stage, plans));
    desk
}

fn plans(stage: &Stage) -> Vec<Plan> {
    let of = |animal: &str, behaviour: &str| {
        let names = (animal.to_owned(), behaviour.to_owned());
        Plan { animal: names.0, behaviour: names.1, ..stage.plan.clone() }
    };
    vec![of("Pip", "turn"), of("Pip", "wave"), of("Rook", "turn")]
}

/// The tries in the record, in order of time.
fn tries(store: &Store) -> Vec<TryOf> {
    let hands = store.marks(&Filter::default(), &[MarkKind::TookOver]).unwrap();
    let mut tries = Vec::new();
    for session in store.sessions(&Filter::default()).unwrap() {
        for row in store.reps(&Filter::session(session.id)).unwrap() {
            let took_over = hands
                .iter()
                .rev()
                .find(|hands| hands.session == session.id && hands.mark.at <= row.rep.at);
            tries.push(TryOf {
                at: row.rep.at,
                animal: session.animal.clone(),
                behaviour: session.behaviour.clone(),
                person: took_over.map(|hands| hands.mark.name.clone()).or(session.person.clone()),
                paid: row.rep.paid(),
            });
        }
    }
    tries.sort_by_key(|one| one.at);
    tries
}

/// How many tries of a sitting stand in the record under another behaviour, animal, person or value than they should.
fn mixed(seed: u64) -> usize {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    let SimulatedSitting { plans, inputs, tries: really } = sim::sitting(&stage.plan, seed);
    let (mut desk, mut conductor) = (desk(&stage, &plans), conductor(&plans));
    for (at, input) in inputs {
        conductor.take(at, input, None, &mut desk);
    }
    drop(desk);
    let store = stage.store();
    let verdict = store.verify(crate::MADE_BY).unwrap();
    assert!(verdict.is_sound(), "sitting {seed}: {verdict:?}");
    let sessions = store.sessions(&Filter::default()).unwrap();
    let sittings: Vec<_> = sessions.iter().map(|row| row.sitting).collect();
    match sessions.len() {
        1 => assert_eq!(sittings, [None]),
        _ => assert!(sittings.iter().all(|one| one.is_some() && *one == sittings[0]), "{seed}"),
    }
    let kept = tries(&store);
    let differ = kept.iter().zip(&really).filter(|(kept, really)| kept != really).count();
    differ + kept.len().abs_diff(really.len())
}

/// The bench reads the figure that this prints.
#[test]
fn every_try_is_recorded_under_its_own_behaviour_animal_and_person() {
    let sittings = if std::env::var_os("HUSHTALLY_BENCH").is_some() { 400 } else { 12 };
    let errors: usize = (0..sittings).map(mixed).sum();
    println!("\nmixed_sittings\t{sittings}\nmixed_session_errors\t{errors}");
    assert_eq!(errors, 0);
}

fn said(conductor: &mut Conductor, desk: &mut Desk, at: f64, said: Said) {
    conductor.take(At::from_secs_f64(at), Input::said(said, "words"), None, desk);
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn behaviour(name: &str) -> Said {
    Said::Behaviour { name: name.to_owned() }
}

fn command(command: Command) -> Said {
    Said::Command { command }
}

/// Pip turns and waves, Rook turns; then the program is gone.
fn cut_off(stage: &Stage, plans: &[Plan]) {
    let (mut desk, mut conductor) = (desk(stage, plans), conductor(plans));
    for (at, what) in [
        (1.0, command(Command::Begin)),
        (5.0, yes()),
        (9.0, behaviour("wave")),
        (12.0, yes()),
        (15.0, Said::Animal { name: "Rook".into() }),
        (18.0, yes()),
    ] {
        said(&mut conductor, &mut desk, at, what);
    }
}

#[test]
fn a_sitting_that_was_cut_off_goes_on_with_what_was_worked_on() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    let plans = plans(&stage);
    cut_off(&stage, &plans);
    let found = |store: &Store| {
        let found = Unfinished::find(store, &plans[0], stage.clock.utc()).unwrap();
        found.and(store, &plans[1..]).unwrap().resumable
    };
    let mut desk = desk(&stage, &plans);
    let resumable = found(desk.recorder.as_ref().unwrap().store()).expect("it was cut off");
    let mut conductor = conductor(&plans);
    let resumed = resumable.go_on(At::ZERO, &mut desk);
    conductor.go_on_with(resumed.session);
    for (place, session) in resumed.others {
        conductor.go_on_with_another(place, session);
    }
    assert_eq!(conductor.session().plan().animal, "Rook");
    assert!(conductor.session().paused());
    let from = resumed.offset.as_secs_f64();
    for (at, what) in [
        (1.0, command(Command::GoOn)),
        (2.0, Said::TakeBack),
        (3.0, Said::TakeBack),
        (5.0, behaviour("wave")),
        (6.0, yes()),
        (7.0, Said::Animal { name: "Pip".into() }),
        (8.0, yes()),
        (9.0, command(Command::Finish)),
    ] {
        said(&mut conductor, &mut desk, from + at, what);
    }
    drop(desk);
    let store = stage.store();
    assert!(store.verify(crate::MADE_BY).unwrap().is_sound());
    assert_eq!(store.open_sessions().unwrap(), []);
    let rows = store.sessions(&Filter::default()).unwrap();
    let mut counts: Vec<_> = rows
        .iter()
        .map(|row| (row.animal.as_str(), row.behaviour.as_str(), row.rewarded))
        .collect();
    counts.sort_unstable();
    // What Rook and then Pip got was taken back; then both waved, since only Pip can.
    assert_eq!(counts, [("Pip", "turn", 1), ("Pip", "wave", 2), ("Rook", "turn", 0)]);
    assert!(rows.iter().all(|row| row.sitting.is_some() && row.sitting == rows[0].sitting));
}

#[test]
fn a_sitting_that_is_not_gone_on_with_ends_whole() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    let plans = plans(&stage);
    cut_off(&stage, &plans);
    let mut desk = desk(&stage, &plans);
    let store = desk.recorder.as_ref().unwrap().store();
    let found = Unfinished::find(store, &plans[0], stage.clock.utc()).unwrap();
    let found = found.and(store, &plans[1..]).unwrap();
    let id = || EventId(stage.clock.new_id());
    found.resumable.expect("it was cut off").leave(&mut desk, id, stage.clock.utc());
    drop(desk);
    assert_eq!(stage.store().open_sessions().unwrap(), []);
}

/// What is written, shared with whoever looks at it.
#[derive(Clone, Default)]
struct Shared(Rc<RefCell<Vec<u8>>>);

impl Write for Shared {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn lines_tell_whose_they_are() {
    let stage = Stage::at("2026-01-02T12:00:00Z");
    let plans = plans(&stage);
    let out = Shared::default();
    let mut desk = Desk::new(Box::new(JsonLines::new(out.clone())), stage.clock.clone());
    let mut conductor = conductor(&plans);
    for (at, what) in [
        (1.0, yes()),
        (2.0, Said::Animal { name: "Rook".into() }),
        (3.0, yes()),
        (4.0, Said::Animal { name: "Pip".into() }),
        (5.0, yes()),
        (6.0, command(Command::Finish)),
        (9.0, yes()),
    ] {
        said(&mut conductor, &mut desk, at, what);
    }
    let text = String::from_utf8(out.0.borrow().clone()).unwrap();
    let lines: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let of = |kind: &str| -> Vec<(f64, u64)> {
        let its = lines.iter().filter(|line| line["kind"] == kind);
        its.map(|line| (line["at_s"].as_f64().unwrap(), line["session"].as_u64().unwrap()))
            .collect()
    };
    assert_eq!(of("rep"), [(1.0, 1), (3.0, 2), (5.0, 1), (9.0, 3)]);
    assert_eq!(of("finished"), [(6.0, 2), (6.0, 1)]);
    let began: Vec<_> = lines.iter().filter(|line| line["kind"] == "began").collect();
    assert_eq!((&began[1]["animal"], &began[1]["behaviour"]), (&"Rook".into(), &"turn".into()));
    // What was said to the trainer is one recap of both.
    let recaps = lines.iter().filter(|line| line["kind"] == "said");
    let recaps: Vec<&str> = recaps.filter_map(|line| line["text"].as_str()).collect();
    assert_eq!(recaps.len(), 1, "{recaps:?}");
    assert!(recaps[0].contains("Pip, turn: 2 tries") && recaps[0].contains("Rook, turn: 1 try"));
}
