//! What is shown and read is plain English, with plurals and with units of the right size.

use minijinja::context;

use crate::sentences::{because, says};
use crate::session::{Answer, NudgeKind, Quantity, Reason};
use crate::wording::{Wording, filled, text};

fn number(name: &str, value: f64) -> Quantity {
    Quantity::new(name, value, "")
}

#[test]
fn what_the_trainer_said_is_a_because_and_numbers_stand_by_themselves() {
    let why = |because: &str| {
        let reason = Reason {
            detector: "x".into(),
            because: because.into(),
            inputs: Vec::new(),
            method: String::new(),
            source: String::new(),
            probability: None,
        };
        let answer = Answer::Why {
            nudge: Some(NudgeKind::EndSoon),
            reason: Some(reason),
            held_back: Vec::new(),
        };
        Wording::english().say(&answer)
    };
    let said = |times| {
        because("mood_words", &[number("worried or tired said", times)], &[("mood", "tired")])
    };
    assert_eq!(why(&said(1.0)), "End soon, on a good one, because you said tired.");
    assert_eq!(
        why(&said(2.0)),
        "End soon, on a good one, because you said tired, the second word of worry or tiredness."
    );
    let time = [number("active time", 90.0), number("planned time", 120.0)];
    let planned = because("planned_end", &time, &[("by", "time")]);
    assert_eq!(
        why(&planned),
        "End soon, on a good one: 1 minute 30 seconds of the 2 minutes planned."
    );
}

#[test]
fn grams_become_kilograms_where_an_animal_is_heavy() {
    let weight =
        |now, before| because("weight", &[number("now", now), number("baseline", before)], &[]);
    assert_eq!(weight(92.0, 93.4), "92 grams against 93.4 grams");
    assert_eq!(weight(182_000.0, 190_500.0), "182 kilograms against 190.5 kilograms");
    let shown = |grams: f64, days: i32| {
        filled("screen.weight_now", context! { grams, change => Some(-1.25), days })
    };
    assert_eq!(shown(182_000.0, 0), "Weight 182 kilograms, -1.2 % against the baseline.");
    assert_eq!(
        shown(92.5, 8),
        "Weight 92.5 grams, -1.2 % against the baseline, weighed 8 days ago."
    );
}

#[test]
fn one_is_not_many() {
    let doubt = |n| because("in_doubt", &[number("in doubt", n)], &[]);
    assert_eq!(doubt(1.0), "1 tag of the latest three sessions was in doubt");
    assert_eq!(doubt(2.0), "2 tags of the latest three sessions were in doubt");
    let captured = |times: u32| {
        let rate: Option<u8> = None;
        filled("screen.captured_so", context! { behaviour => "turn", times, days => 1, rate })
    };
    assert_eq!(captured(1), "turn: offered without a cue 1 time on 1 day.");
    assert_eq!(captured(2), "turn: offered without a cue 2 times on 1 day.");
}

#[test]
fn a_probe_that_was_right_is_not_shown_as_a_failure() {
    let probe = |cue: &str, came: bool, held: bool| {
        let values = context! { behaviour => "turn", cue => cue.to_owned(), came, held };
        filled("screen.log_probe", values)
    };
    assert_eq!(probe("own", true, true), "probe: turn, its own cue: it came, as it should");
    assert_eq!(probe("none", false, true), "probe: turn, no cue: it did not come, as it should");
    assert_eq!(probe("other", true, false), "probe: turn, another cue: it came, as it should not");
    assert_eq!(
        probe("own", false, false),
        "probe: turn, its own cue: it did not come, as it should not"
    );
}

#[test]
fn short_sentences_are_as_one_would_say_them() {
    let people = because("people", &[], &[("says", "alike")]);
    assert_eq!(people, "no clear difference");
    assert_eq!(text("screen.verdict_untouched"), "reached, not yet trained");
    assert_eq!(Wording::english().say(&Answer::Now { state: "running" }), "Already running.");
    let source = |source: &str| filled("source", context! { source => source.to_owned() });
    assert_eq!(source("common practice, no source"), "Common practice.");
    assert_eq!(source("Wilson 1927"), "Source: Wilson 1927.");
    let no_mic = Wording::english().check(&crate::soundcheck::SoundcheckLine::NoMic);
    assert!(no_mic.starts_with("I can't hear you on any microphone."), "{no_mic}");
    let captured = filled("line.captured", context! { behaviour => "turn" });
    assert_eq!(captured, "Captured: turn, offered without a cue.");
    let last = filled("settle.last", context! { take_back => "cancel" });
    assert!(last.ends_with("otherwise that's all."), "{last}");
    assert_eq!(says("way", &[], &[("way", "rest")]), "a rest of a day or two");
}
