//! Whose each try is, what goes along from session to session, and that each goes through its own log alone as it did here.

use std::time::Duration;

use super::{Of, Sitting, Standing, order};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, Plan};
use crate::session::{Answer, Derived, Event, Input, Logged, NudgeKind, Output, Session};
use crate::sim::{self, SimulatedSitting, TryOf};

fn at(seconds: f64) -> At {
    At::from_secs_f64(seconds)
}

fn plan(animal: &str, behaviour: &str) -> Plan {
    let plan = Plan::of_default_words();
    Plan { animal: animal.to_owned(), behaviour: behaviour.to_owned(), ..plan }
}

fn sitting_of(plans: &[Plan]) -> Sitting {
    let mut sessions = plans.iter().cloned().map(Session::new);
    Sitting::of(sessions.next().expect("a plan")).and(sessions)
}

fn command(command: Command) -> Said {
    Said::Command { command }
}

fn behaviour(name: &str) -> Said {
    Said::Behaviour { name: name.to_owned() }
}

fn animal(name: &str) -> Said {
    Said::Animal { name: name.to_owned() }
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn miss() -> Said {
    Said::Miss(Details::default())
}

fn after(plans: &[Plan], said: &[(f64, Said)]) -> (Sitting, Vec<Of>) {
    let mut sitting = sitting_of(plans);
    let mut out = Vec::new();
    for (moment, said) in said {
        out.extend(sitting.handle(at(*moment), Input::said(said.clone(), "words")));
    }
    (sitting, out)
}

fn counts(sitting: &Sitting) -> Vec<(usize, usize)> {
    sitting.sessions().iter().map(|one| (one.reps().len(), one.rewarded())).collect()
}

fn turn_and_wave() -> [Plan; 2] {
    [plan("Pip", "turn"), plan("Pip", "wave")]
}

fn log_of(out: &[Of], place: usize) -> Vec<Logged> {
    let its = out.iter().filter(|one| one.place == place);
    its.filter_map(|one| match &one.output {
        Output::Append(logged) => Some(logged.clone()),
        _ => None,
    })
    .collect()
}

/// The log of one session, gone through by a session alone.
fn alone(plan: &Plan, log: &[Logged]) -> (Session, Vec<Option<String>>) {
    let mut session = Session::new(plan.clone());
    let mut hands: Vec<Option<String>> = Vec::new();
    for Logged { at, event } in log {
        match event {
            Event::Input(input) => drop(session.handle(*at, input.clone())),
            Event::Derived(_) => drop(session.advance(*at)),
        }
        let person = session.person().map(str::to_owned);
        hands.truncate(session.reps().len());
        hands.resize(session.reps().len(), person);
    }
    (session, hands)
}

/// The tries of a sitting, as its sessions' own logs have them.
fn tries(plans: &[Plan], out: &[Of]) -> Vec<TryOf> {
    let mut tries = Vec::new();
    for (place, plan) in plans.iter().enumerate() {
        let (session, hands) = alone(plan, &log_of(out, place));
        tries.extend(session.reps().iter().zip(hands).map(|(rep, person)| TryOf {
            at: rep.at,
            animal: plan.animal.clone(),
            behaviour: plan.behaviour.clone(),
            person,
            paid: rep.paid(),
        }));
    }
    tries.sort_by_key(|one| one.at);
    tries
}

#[test]
fn every_try_is_of_the_right_behaviour_animal_and_person_in_random_sittings() {
    let plan = Plan::of_default_words();
    let mut crossed = 0;
    for seed in 0..60 {
        let SimulatedSitting { plans, inputs, tries: really } = sim::sitting(&plan, seed);
        let mut sitting = sitting_of(&plans);
        let mut out = Vec::new();
        for (at, input) in inputs {
            let before = sitting.active();
            let came = sitting.handle(at, input.clone());
            let taken = matches!(input, Input::Tagged { said: Said::TakeBack, .. });
            crossed += usize::from(taken && came.iter().any(|one| one.place != before));
            out.extend(came);
        }
        assert_eq!(tries(&plans, &out), really, "sitting {seed}");
        for (place, plan) in plans.iter().enumerate() {
            let log = log_of(&out, place);
            let (session, _) = alone(plan, &log);
            let here = &sitting.sessions()[place];
            assert_eq!(session.reps(), here.reps(), "sitting {seed}, session {place}");
            assert_eq!(session.summary(), here.summary(), "sitting {seed}, session {place}");
        }
    }
    assert!(crossed > 20, "tags are taken back across a switch: {crossed}");
}

#[test]
fn one_session_alone_is_as_without_a_sitting() {
    for dated in sim::weeks(&plan("Pip", "turn"), 3, 10) {
        let mut session = Session::new(plan("Pip", "turn"));
        let mut sitting = sitting_of(&[plan("Pip", "turn")]);
        for (at, input) in dated.simulated.inputs {
            let here = sitting.handle(at, input.clone());
            let alone = session.handle(at, input);
            assert_eq!(here.into_iter().map(|one| one.output).collect::<Vec<_>>(), alone);
            assert_eq!(sitting.wake_at(), session.wake_at());
        }
        assert_eq!(*sitting.session(), session);
    }
}

#[test]
fn tries_and_corrections_find_their_session() {
    let said = [
        (1.0, command(Command::Begin)),
        (2.0, yes()),
        (5.0, behaviour("wave")),
        (6.0, yes()),
        (7.0, miss()),
        (8.0, behaviour("turn")),
        (9.0, Said::TakeBack),
        (9.5, Said::TakeBack),
        (10.0, Said::TakeBack),
        (11.0, yes()),
    ];
    for (so_far, right) in [
        (6, [(1, 1), (2, 1)]),
        (7, [(1, 1), (1, 1)]),
        (8, [(1, 1), (0, 0)]),
        (9, [(0, 0), (0, 0)]),
        (10, [(1, 1), (0, 0)]),
    ] {
        assert_eq!(counts(&after(&turn_and_wave(), &said[..so_far]).0), right, "{so_far}");
    }
}

#[test]
fn nothing_is_taken_back_past_what_stands_for_good() {
    let said = [
        (1.0, command(Command::Begin)),
        (2.0, yes()),
        (3.0, behaviour("wave")),
        (4.0, yes()),
        (5.0, command(Command::StepUp)),
        (6.0, Said::TakeBack),
    ];
    let mut plans = turn_and_wave();
    plans[1].steps = vec![plans[1].steps[0].clone(); 2];
    let (sitting, _) = after(&plans, &said);
    assert_eq!(counts(&sitting), [(1, 1), (1, 1)]);
    assert_eq!(sitting.session().summary().unsure, 1, "it is kept as a doubt");
}

#[test]
fn no_detail_reaches_past_a_switch() {
    let left = Details { side: Some(crate::plan::Side::Left), ..Details::default() };
    let said = [
        (1.0, yes()),
        (2.0, behaviour("wave")),
        (2.5, behaviour("turn")),
        (3.0, Said::Detail(left)),
    ];
    let (sitting, _) = after(&turn_and_wave(), &said);
    assert_eq!(sitting.sessions()[0].reps()[0].side, None);
    let (sitting, _) = after(&turn_and_wave(), &said[..2]);
    let mut sitting = sitting;
    let _ = sitting.handle(at(3.0), Input::said(Said::Change(left), "correction left"));
    assert_eq!(sitting.sessions()[0].reps()[0].side, left.side, "a correction does");
}

#[test]
fn resting_is_no_decline_and_no_breach_of_the_pace_floor() {
    // An hour's rest after good work, then good work again.
    let mut said = vec![(1.0, command(Command::Begin))];
    let good = |from: f64| (0..12).map(move |n| (from + f64::from(n) * 4.0, yes()));
    said.extend(good(3.0));
    said.push((55.0, animal("Rook")));
    said.extend((0..300).map(|n| (60.0 + f64::from(n) * 5.0, yes())));
    said.push((1600.0, animal("Pip")));
    said.extend(good(1603.0));
    let mut plans = [plan("Pip", "turn"), plan("Rook", "turn")];
    for plan in &mut plans {
        plan.limits.planned = Duration::from_secs(3600);
        plan.limits.planned_reps = 1000;
    }
    let (sitting, out) = after(&plans, &said);
    let pip = &sitting.sessions()[0];
    let nudged = log_of(&out, 0).into_iter().filter(|logged| {
        matches!(logged.event, Event::Derived(Derived::Nudged { nudge, .. }) if nudge != NudgeKind::StepReady)
    });
    assert_eq!(nudged.count(), 0);
    assert_eq!(pip.declining_since(), None);
    assert_eq!(pip.active(), Duration::from_secs(54 + 47));
    assert!(!pip.paused() && !pip.resting() && sitting.sessions()[1].resting());
    assert!(!sitting.sessions()[1].paused(), "it rests, which is no pause of the trainer's");
}

#[test]
fn a_limited_hold_does_not_run_out_while_it_rests() {
    let mut plans = turn_and_wave();
    plans[0].limits.limited_hold = Some(Duration::from_secs(6));
    let said = [
        (1.0, command(Command::Begin)),
        (2.0, Said::Cue),
        (3.0, behaviour("wave")),
        (30.0, yes()),
        (31.0, behaviour("turn")),
        (60.0, yes()),
    ];
    let (sitting, _) = after(&plans, &said);
    assert_eq!(counts(&sitting), [(1, 1), (1, 1)]);
    assert_eq!(sitting.sessions()[0].reps()[0].latency, None);
}

#[test]
fn time_and_treats_are_the_animals() {
    let mut plans = [plan("Pip", "turn"), plan("Pip", "wave"), plan("Rook", "turn")];
    for plan in &mut plans {
        plan.limits.treats_laid_out = Some(30);
    }
    let mut said = vec![(0.0, command(Command::Begin))];
    said.extend((1..=5).map(|n| (f64::from(n) * 4.0, yes())));
    said.push((30.0, behaviour("wave")));
    said.extend((1..=3).map(|n| (30.0 + f64::from(n) * 4.0, yes())));
    said.push((50.0, command(Command::Treats)));
    said.push((51.0, command(Command::Time)));
    let answers = |said: &[(f64, Said)]| -> Vec<Answer> {
        let (_, out) = after(&plans, said);
        out.into_iter()
            .filter_map(|one| match one.output {
                Output::Say(answer @ (Answer::Treats { .. } | Answer::Time { .. })) => Some(answer),
                _ => None,
            })
            .collect()
    };
    let planned_s = plans[0].limits.planned.as_secs_f64();
    let piece = plans[0].rewards.of(plans[0].default_value(1, 1)).pieces;
    let given = 8 * piece;
    let treats = |given| Answer::Treats { given, left: Some(30 - given) };
    assert_eq!(answers(&said), [treats(given), Answer::Time { active_s: 51.0, planned_s }]);
    // The other animal has its own; and a pouch that is filled counts for all behaviours.
    said.extend([
        (60.0, animal("Rook")),
        (61.0, yes()),
        (62.0, command(Command::Treats)),
        (63.0, animal("Pip")),
        (64.0, command(Command::Refilled)),
        (65.0, behaviour("turn")),
        (66.0, yes()),
        (67.0, command(Command::Treats)),
    ]);
    assert_eq!(answers(&said)[2..], [treats(piece), treats(piece)]);
}

#[test]
fn the_planned_end_is_told_once_for_the_animal() {
    let mut plans = turn_and_wave();
    for plan in &mut plans {
        plan.limits.planned = Duration::from_secs(60);
        plan.limits.planned_reps = 1000;
    }
    let mut said = vec![(0.0, command(Command::Begin))];
    said.extend((1..=7).map(|n| (f64::from(n) * 4.0, yes())));
    said.push((30.0, behaviour("wave")));
    said.extend((8..=14).map(|n| (f64::from(n) * 4.0, yes())));
    said.push((57.0, behaviour("turn")));
    said.push((58.5, yes()));
    said.push((61.0, yes()));
    let (_, out) = after(&plans, &said);
    let nudges = |place| -> Vec<(At, NudgeKind)> {
        log_of(&out, place)
            .into_iter()
            .filter_map(|logged| match logged.event {
                Event::Derived(Derived::Nudged { nudge, .. }) => Some((logged.at, nudge)),
                _ => None,
            })
            .collect()
    };
    let ends = |nudges: Vec<(At, NudgeKind)>| {
        nudges.into_iter().filter(|(_, nudge)| *nudge == NudgeKind::EndSoon).collect::<Vec<_>>()
    };
    assert_eq!(ends(nudges(0)), []);
    let [(told, _)] = ends(nudges(1))[..] else { panic!("{:?}", nudges(1)) };
    assert!(told >= at(54.0) && told < at(57.0), "at nine tenths of both together: {told}");
}

#[test]
fn tiredness_goes_along_with_the_animal() {
    let mut plans = [plan("Pip", "turn"), plan("Pip", "wave"), plan("Rook", "turn")];
    for plan in &mut plans {
        plan.limits.planned = Duration::from_secs(3600);
        plan.limits.planned_reps = 1000;
    }
    let said = [
        (0.0, command(Command::Begin)),
        (2.0, yes()),
        (4.0, Said::State { mood: Mood::Tired }),
        (6.0, behaviour("wave")),
        (8.0, yes()),
        (10.0, animal("Rook")),
        (12.0, yes()),
        (14.0, animal("Pip")),
        (16.0, Said::State { mood: Mood::Keen }),
        (18.0, behaviour("turn")),
    ];
    let declines = |so_far: usize| -> Vec<bool> {
        let (sitting, _) = after(&plans.clone(), &said[..so_far]);
        sitting.sessions().iter().map(|one| one.declining_since().is_some()).collect()
    };
    assert_eq!(declines(4), [true, true, false]);
    assert_eq!(declines(7), [true, true, false], "the other animal is not tired");
    assert_eq!(declines(10), [false, false, false]);
    // What speaks for a decline and is not enough to be told is one sum over all that the animal does.
    plans[0].limits.false_nudges_per_hour = 1e-6;
    let mut good: Vec<(f64, Said)> = vec![(0.0, command(Command::Begin))];
    good.extend((1..=40).map(|n| (f64::from(n) * 4.0, yes())));
    let bad = |from: f64| (1..=3).map(move |n| (from + f64::from(n) * 9.0, miss()));
    let mut here = good.clone();
    here.extend(bad(160.0));
    let (mut sitting, _) = after(&plans, &here);
    let evidence = sitting.session().evidence().expect("watched").odds.iter().sum::<f64>();
    let _ = sitting.handle(at(190.0), Input::said(behaviour("wave"), "behaviour wave"));
    let carried = sitting.session().evidence().expect("carried").odds.iter().sum::<f64>();
    assert!(carried >= 0.99 * evidence && evidence > 100.0, "{evidence} to {carried}");
}

#[test]
fn somebody_who_took_over_trains_in_every_session_from_there_on() {
    let ada = Said::TakesOver { person: "Ada".to_owned() };
    let said =
        [(1.0, yes()), (2.0, ada), (3.0, behaviour("wave")), (4.0, Said::TakeBack), (5.0, yes())];
    let who = |so_far| {
        let (sitting, _) = after(&turn_and_wave(), &said[..so_far]);
        sitting.session().person().map(str::to_owned)
    };
    assert_eq!(who(3).as_deref(), Some("Ada"));
    assert_eq!(who(5), None, "that was taken back from the other behaviour");
}

#[test]
fn a_name_before_the_begin_only_chooses_and_finish_ends_all() {
    let said = [
        (1.0, behaviour("wave")),
        (2.0, command(Command::Begin)),
        (3.0, yes()),
        (4.0, behaviour("turn")),
        (5.0, miss()),
        (6.0, command(Command::Finish)),
    ];
    let (sitting, out) = after(&turn_and_wave(), &said[..2]);
    assert!(sitting.sessions()[1].begun() && !sitting.sessions()[0].begun());
    assert!(log_of(&out, 0).is_empty());
    let (sitting, out) = after(&turn_and_wave(), &said);
    assert!(sitting.sessions().iter().all(Session::finished));
    let recaps: Vec<&Answer> = out
        .iter()
        .filter_map(|one| match &one.output {
            Output::Say(answer @ (Answer::Recap(_) | Answer::RecapOfAll { .. })) => Some(answer),
            _ => None,
        })
        .collect();
    let [Answer::RecapOfAll { sessions }] = recaps[..] else { panic!("{recaps:?}") };
    let told: Vec<_> =
        sessions.iter().map(|one| (one.behaviour.as_str(), one.tries.rewarded)).collect();
    assert_eq!(told, [("wave", 1), ("turn", 0)]);
}

#[test]
fn an_animal_that_is_named_again_goes_on_with_what_it_did() {
    let plans = [plan("Pip", "turn"), plan("Pip", "wave"), plan("Rook", "turn")];
    let said =
        [(1.0, yes()), (2.0, behaviour("wave")), (3.0, animal("Rook")), (4.0, animal("Pip"))];
    assert_eq!(after(&plans, &said[..3]).0.active(), 2);
    assert_eq!(after(&plans, &said).0.active(), 1);
}

#[test]
fn easy_hard_easy() {
    let of = |met: &[Option<f64>]| {
        let standing: Vec<Standing> =
            met.iter().enumerate().map(|(place, met)| Standing { place, met: *met }).collect();
        order(&standing)
    };
    assert_eq!(of(&[Some(0.4), Some(0.9), None]), [1, 2, 0, 1]);
    assert_eq!(of(&[Some(0.4)]), [0]);
    assert_eq!(of(&[]), [] as [usize; 0]);
}
