use std::io::{self, Write};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use proptest::prelude::*;
use proptest::strategy::ValueTree;

use super::*;
use crate::at::At;
use crate::clock::Clock;
use crate::interpret::{Details, LinkMark, LinkMarks, Said};
use crate::plan::{Chain, Command, Link, Mood, RewardValue, Side, Training};
use crate::run::json::lines;
use crate::run::{HeardTimes, JsonLines};
use crate::session::Input;
use crate::sim;

#[derive(Clone, Default)]
struct Page(Arc<Mutex<Vec<u8>>>);

impl Write for Page {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Page {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

fn desk(page: &Page) -> Desk {
    let (clock, _hands) = Clock::fake("2026-01-02T03:04:05Z".parse().unwrap());
    Desk::new(Box::new(JsonLines::at_leisure(page.clone())), clock)
}

fn plan() -> Plan {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 4];
    plan.limits.limited_hold = Some(Duration::from_secs(6));
    plan.limits.false_nudges_per_hour = 20.0;
    plan
}

/// A session: what comes in, the step it begins at, and whether it is heard.
type Scene = (Vec<(At, Input)>, u8, bool);

/// The same of a chain, trained in this way.
fn chain(training: Training) -> Plan {
    let link = |name: &str| Link { name: name.to_owned(), id: None };
    let links = ["takes", "carries", "turns", "drops"].map(link).into();
    Plan { chain: Some(Chain { training, links, prompts: None }), ..plan() }
}

/// The lines of these sessions, as the program prints them; each begins at its step, and is typed or heard.
fn printed_from(sessions: &[Scene], close: Duration) -> String {
    printed_by(&plan(), sessions, close)
}

/// The same by this plan.
fn printed_by(plan: &Plan, sessions: &[Scene], close: Duration) -> String {
    let page = Page::default();
    let mut desk = desk(&page);
    for (number, (inputs, step, heard)) in (1..).zip(sessions) {
        let mut conductor = Conductor::new(Plan { start_step: *step, ..plan.clone() });
        desk.printer.session(number);
        let mut ends = At::ZERO;
        for (at, input) in inputs {
            let times = HeardTimes { end: *at + Duration::from_millis(420), decided: *at + close };
            conductor.take(*at, input.clone(), heard.then_some(times), &mut desk);
            ends = *at + close;
        }
        conductor.close(ends, &mut desk);
    }
    page.text()
}

/// The same of sessions that begin at the plan's step.
fn printed(sessions: &[Vec<(At, Input)>], close: Duration) -> String {
    let sessions: Vec<_> = sessions.iter().map(|inputs| (inputs.clone(), 1, false)).collect();
    printed_from(&sessions, close)
}

/// The lines that come of these lines.
fn again(lines: &str) -> Result<String, TagsError> {
    again_by(&plan(), lines)
}

/// The same by this plan.
fn again_by(plan: &Plan, lines: &str) -> Result<String, TagsError> {
    let page = Page::default();
    let mut desk = desk(&page);
    replay_tags(lines.as_bytes(), plan, &[], &Prior::default(), &mut desk)?;
    Ok(page.text())
}

fn details() -> impl Strategy<Value = Details> {
    let side = prop_oneof![Just(Side::Left), Just(Side::Right)];
    let value =
        prop_oneof![Just(RewardValue::Low), Just(RewardValue::High), Just(RewardValue::Jackpot)];
    let link = (prop::option::of(1..6_u8), prop::option::of(1..4_u8));
    let links = prop::collection::vec(link, 0..3).prop_map(|named| {
        let marks = named.into_iter().map(|(link, prompt)| LinkMark { link, prompt });
        LinkMarks::from(marks.collect::<Vec<_>>())
    });
    (prop::option::of(1..6_u8), prop::option::of(side), prop::option::of(value), links)
        .prop_map(|(step, side, value, links)| Details { step, side, value, links })
}

fn input() -> impl Strategy<Value = Input> {
    let mood = prop_oneof![Just(Mood::Worried), Just(Mood::Keen)];
    let command = prop::sample::select(
        Command::ALL
            .into_iter()
            .chain([Command::WorkOn(1), Command::WorkOn(2), Command::WorkOn(200)])
            .filter(|one| *one != Command::Finish)
            .collect::<Vec<_>>(),
    );
    let said = prop_oneof![
        8 => details().prop_map(Said::Rep),
        3 => details().prop_map(|details| Said::Miss(details.of_a_miss())),
        3 => Just(Said::Cue),
        1 => Just(Said::HoldStart),
        1 => mood.prop_map(|mood| Said::State { mood }),
        1 => Just(Said::Own { name: "lift".into() }),
        1 => Just(Said::TakesOver { person: "Ada".into() }),
        2 => Just(Said::TakeBack),
        1 => details().prop_map(Said::Change),
        2 => details().prop_map(Said::Detail),
        2 => command.prop_map(|command| Said::Command { command }),
    ];
    prop_oneof![
        20 => said.prop_map(|said| Input::said(said, "words \"and\" ümlaut")),
        1 => Just(Input::Doubted { words: "yes".into(), other: "yet".into() }),
        1 => Just(Input::Gap { lasted: Duration::from_millis(3100), why: "test".into() }),
        1 => Just(Input::Trouble { why: "not on disk".into() }),
        1 => Just(Input::Noted { text: "left\nwing".into() }),
    ]
}

/// Tags at whole samples of 16 kHz; now and then one takes back that the one before was taken back.
fn session() -> impl Strategy<Value = Vec<(At, Input)>> {
    let wait = prop_oneof![8 => 0..150_000_u64, 1 => 150_000..1_500_000_u64];
    prop::collection::vec((wait, input(), prop::bool::weighted(0.3)), 0..60).prop_map(|steps| {
        let mut samples = 0;
        let mut inputs = Vec::new();
        for (wait, input, put_back) in steps {
            samples += wait;
            let at = At::from_secs_f64(samples as f64 / 16_000.0);
            let takes = matches!(&input, Input::Tagged { said: Said::TakeBack, .. });
            inputs.push((at, input));
            if takes && put_back {
                samples += 9_000;
                let later = At::from_secs_f64(samples as f64 / 16_000.0);
                inputs.push((later, Input::said(Said::PutBack { said_at: at }, "cancel that one")));
            }
        }
        inputs
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_was_printed_and_read_back_is_the_same(
        sessions in prop::collection::vec((session(), 1..=4_u8, any::<bool>()), 1..4),
        close in 0..20_000_u64,
    ) {
        // A session of notes alone never begins, and has no line that ends it.
        let begins = |(inputs, ..): &Scene| {
            let mut session = Session::new(plan());
            inputs.iter().for_each(|(at, input)| drop(session.handle(*at, input.clone())));
            session.begun()
        };
        let sessions: Vec<_> = sessions.into_iter().filter(begins).collect();
        let printed = printed_from(&sessions, Duration::from_millis(close));
        prop_assert_eq!(again(&printed).unwrap(), printed);
    }

    #[test]
    fn a_chain_is_read_back_link_by_link(
        sessions in prop::collection::vec((session(), 1..=4_u8, any::<bool>()), 1..3),
        training in prop::sample::select(vec![Training::Forwards, Training::Backwards, Training::Whole]),
    ) {
        let plan = chain(training);
        let begins = |(inputs, ..): &Scene| {
            let mut session = Session::new(plan.clone());
            inputs.iter().for_each(|(at, input)| drop(session.handle(*at, input.clone())));
            session.begun()
        };
        let sessions: Vec<_> = sessions.into_iter().filter(begins).collect();
        let printed = printed_by(&plan, &sessions, Duration::ZERO);
        prop_assert_eq!(again_by(&plan, &printed).unwrap(), printed);
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,80}", at in prop::num::f64::ANY, kind in "[a-z_]{0,9}") {
        let _any = again(&text);
        let _any = again(&format!("{{\"at_s\":{at},\"kind\":\"{kind}\",\"words\":\"{text}\"}}"));
    }
}

#[test]
fn a_value_left_to_the_plan_is_not_said_when_it_is_read_back() {
    let rep = |details| Input::said(Said::Rep(details), "yes");
    let said = Details { value: Some(RewardValue::High), ..Details::default() };
    let at = At::from_secs_f64;
    let inputs = vec![(at(1.0), rep(Details::default())), (at(9.0), rep(said))];
    let lines = printed_from(&[(inputs, 3, false)], Duration::ZERO);
    let mut reader = Reader::new(lines.as_bytes());
    let mut read = Vec::new();
    while let Some(step) = reader.next().unwrap() {
        read.push(step);
    }
    let at_three = Details { step: Some(3), ..Details::default() };
    assert_eq!(
        read[..3],
        [Step::Begin { session: 1 }, Step::StartAt(3), Step::Take(at(1.0), rep(at_three), None),]
    );
    assert_eq!(read[3], Step::Take(at(9.0), rep(Details { step: Some(3), ..said }), None));
}

/// The lines of a sitting of two animals and two behaviours.
fn printed_of_several() -> String {
    let of = |animal: &str, behaviour: &str| {
        let names = (animal.to_owned(), behaviour.to_owned());
        Plan { animal: names.0, behaviour: names.1, ..plan() }
    };
    let page = Page::default();
    let mut desk = desk(&page);
    let others = [of("Pip", "wave"), of("Rook", "turn")];
    let mut conductor = Conductor::new(of("Pip", "turn")).and(others);
    let said = [
        Said::Rep(Details::default()),
        Said::Behaviour { name: "wave".into() },
        Said::Rep(Details::default()),
        Said::Animal { name: "Rook".into() },
    ];
    for (at, said) in (1..).map(f64::from).zip(said) {
        conductor.take(At::from_secs_f64(at), Input::said(said, "words"), None, &mut desk);
    }
    conductor.close(At::from_secs_f64(9.0), &mut desk);
    page.text()
}

/// What a sitting printed and what was read back are the same, session by session.
#[test]
fn sittings_that_were_printed_and_read_back_are_the_same() {
    for seed in 0..25 {
        let sim::SimulatedSitting { plans, inputs, .. } = sim::sitting(&plan(), seed);
        let printed = |lines: Option<&str>| {
            let page = Page::default();
            let mut desk = desk(&page);
            match lines {
                Some(lines) => {
                    let (bytes, prior) = (lines.as_bytes(), Prior::default());
                    replay_tags(bytes, &plans[0], &plans[1..], &prior, &mut desk).unwrap();
                }
                None => {
                    let others = plans[1..].iter().cloned();
                    let mut conductor = Conductor::new(plans[0].clone()).and(others);
                    for (at, input) in &inputs {
                        conductor.take(*at, input.clone(), None, &mut desk);
                    }
                }
            }
            page.text()
        };
        let once = printed(None);
        assert_eq!(printed(Some(&once)), once, "sitting {seed}");
    }
}

/// Every line that a session can print, and every field, is printed here at least once.
#[test]
fn the_list_of_lines_has_none_that_is_never_printed() {
    let mut of_sessions: Vec<(&str, &str)> = lines::LINES
        .iter()
        .flat_map(|line| line.kinds.iter().map(move |kind| (*kind, line)))
        .filter(|(kind, _)| !["soundcheck", "settled", "quiz"].contains(kind))
        .flat_map(|(kind, line)| {
            let fields =
                line.always.iter().chain(line.sometimes).map(move |(name, _)| (kind, *name));
            fields.chain([(kind, "kind")])
        })
        .collect();
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    for round in 0..400 {
        let inputs = session().new_tree(&mut runner).unwrap().current();
        let plan = if round % 4 == 0 { chain(Training::Whole) } else { plan() };
        for line in printed_by(&plan, &[(inputs, 1, false)], Duration::ZERO).lines() {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            of_sessions.retain(|(kind, field)| line["kind"] != *kind || line.get(field).is_none());
        }
    }
    for line in printed_of_several().lines() {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        of_sessions.retain(|(kind, field)| line["kind"] != *kind || line.get(field).is_none());
    }
    assert_eq!(of_sessions, []);
}

#[test]
fn simulated_sessions_come_back_with_their_nudges() {
    let sessions: Vec<_> =
        sim::weeks(&plan(), 5, 12).into_iter().map(|dated| dated.simulated.inputs).collect();
    let printed = printed(&sessions, Duration::ZERO);
    assert!(printed.matches("\"nudge\"").count() > 12);
    assert!(printed.contains("\"session\":12"), "{printed}");
    assert_eq!(again(&printed).unwrap(), printed);
}

#[test]
fn a_session_ends_with_finished_or_another_number_and_keeps_its_number() {
    let line = |at: f64, kind: &str, session: &str| {
        format!("{{\"at_s\":{at},\"kind\":\"{kind}\"{session}}}\n")
    };
    let without = [line(1.0, "rep", ""), line(9.0, "finished", ""), line(0.5, "rep", "")].concat();
    let numbered =
        [line(1.0, "rep", ",\"session\":7"), line(0.5, "rep", ",\"session\":9")].concat();
    let sessions = |lines: &str| -> Vec<(u64, f64)> {
        let printed = again(lines).unwrap();
        let lines = printed.lines().map(|line| serde_json::from_str(line).unwrap());
        let finished = lines.filter(|line: &serde_json::Value| line["kind"] == "finished");
        finished
            .map(|line| (line["session"].as_u64().unwrap(), line["at_s"].as_f64().unwrap()))
            .collect()
    };
    assert_eq!(sessions(&without), [(1, 9.0), (2, 0.5)]);
    assert_eq!(sessions(&numbered), [(7, 1.0), (9, 0.5)]);
}

#[test]
fn what_cannot_be_taken_is_told_with_its_line() {
    let good = "{\"at_s\":5,\"kind\":\"rep\"}\n";
    let tell = |line: &str| again(&format!("{good}\n{line}\n")).unwrap_err().to_string();
    assert!(tell("{\"at_s\":4,\"kind\":\"miss\"}").starts_with("line 3: at 4 s, but"));
    assert!(tell("{\"at_s\":1e300,\"kind\":\"rep\"}").contains("at_s is"));
    assert!(tell("{\"at_s\":-1,\"kind\":\"rep\"}").contains("at_s is -1"));
    assert!(tell("{\"at_s\":6,\"kind\":\"rep\",\"step\":0}").contains("from 1"));
    assert!(tell("{\"at_s\":6,\"kind\":\"step\"}").contains("unknown variant"));
    assert!(tell("{\"at_s\":6,\"kind\":\"state\"}").contains("needs \"mood\""));
    assert!(tell("{\"at_s\":6,\"kind\":\"rep\"").starts_with("line 3: EOF"));
    assert!(tell(&"x".repeat(100_000)).contains("longer than 65536 bytes"));
    assert!(again(&format!("{good}\u{0}")).is_err());
    let bytes = [good.as_bytes(), b"\xff\xfe\n"].concat();
    let not_text = Reader::new(&bytes[..]);
    let mut not_text = not_text;
    let error = loop {
        match not_text.next() {
            Ok(Some(_)) => {}
            Ok(None) => panic!("taken"),
            Err(error) => break error.to_string(),
        }
    };
    assert_eq!(error, "line 2: it is not UTF-8 text");
}

#[test]
fn earlier_sessions_are_the_history_of_each() {
    let sessions: Vec<_> =
        sim::weeks(&plan(), 5, 4).into_iter().map(|dated| dated.simulated.inputs).collect();
    let lines = printed(&sessions, Duration::ZERO);
    let past = past_sessions(lines.as_bytes(), &plan()).unwrap();
    assert_eq!(past.len(), 4);
    let mut prior = Prior::default();
    for inputs in &sessions {
        let mut session = Session::with_prior(plan(), prior.clone());
        inputs.iter().for_each(|(at, input)| drop(session.handle(*at, input.clone())));
        prior.sessions.push(PastSession::of(&session));
    }
    assert_eq!(past, prior.sessions);
}
