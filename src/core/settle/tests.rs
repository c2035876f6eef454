//! Whole rounds of questions, by made-up times.

use proptest::prelude::*;

use super::*;
use crate::dialogue::VoiceChange;
use crate::interpret::{Details, Grammar, NotCounted, OtherReading, Said};
use crate::plan::{Command, RewardValue, Side, Words};

/// Doubts being settled, a clock that moves with what happens, and a record that takes everything.
struct Round {
    settle: Settle,
    now: Duration,
    told: Vec<SettleEffect>,
}

impl Round {
    fn of(doubts: &[(&str, &str)]) -> Self {
        let words = Words::english();
        let grammar = Grammar::new(&words);
        let doubts = doubts.iter().zip(1..).map(|((words, other), n)| {
            Doubt::new(10.0 * f64::from(n), words, &(*other).into(), &grammar)
        });
        let (settle, told) = Settle::begin("Pepino", doubts.collect(), Spoken::of(&words));
        Round { settle, now: Duration::from_secs(5), told }
    }

    fn send(&mut self, input: SettleInput) -> Vec<SettleEffect> {
        let effects = self.settle.handle(self.now, input);
        self.told.extend(effects.clone());
        effects
    }

    /// Our own voice ends, and a while later something is said.
    fn hears(&mut self, said: Said) -> Vec<SettleEffect> {
        self.now += Duration::from_secs(4);
        self.send(SettleInput::Quiet);
        self.now += Duration::from_secs(2);
        self.send(SettleInput::Answer(Answer::Said { said, words: "words".into(), keyed: false }))
    }

    /// The same, and what is to be put on disk is.
    fn answers(&mut self, said: Said) -> Vec<SettleEffect> {
        let mut effects = self.hears(said);
        let writes = |effect: &SettleEffect| {
            matches!(effect, SettleEffect::Settle { .. } | SettleEffect::TakeBack { .. })
        };
        assert!(effects.iter().any(writes), "{effects:?}");
        effects.extend(self.send(SettleInput::Saved));
        effects
    }

    fn silence(&mut self, seconds: u64) -> Vec<SettleEffect> {
        self.send(SettleInput::Quiet);
        self.now += Duration::from_secs(seconds);
        let effects = self.settle.pass(self.now);
        self.told.extend(effects.clone());
        effects
    }

    /// What was put on disk, in order: settled, or taken back.
    fn written(&self) -> Vec<(usize, Option<Settled>)> {
        let written = |effect: &SettleEffect| match effect {
            SettleEffect::Settle { doubt, settled } => Some((*doubt, Some(*settled))),
            SettleEffect::TakeBack { doubt } => Some((*doubt, None)),
            _ => None,
        };
        self.told.iter().filter_map(written).collect()
    }
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn other() -> Said {
    Said::Change(Details::default())
}

fn command(command: Command) -> Said {
    Said::Command { command }
}

fn asks(effects: &[SettleEffect], wanted: usize) -> bool {
    let fits = |effect: &SettleEffect| matches!(effect, SettleEffect::Say(SettleLine::Doubt { number, .. }) if *number == wanted);
    effects.iter().any(fits)
}

fn says(effects: &[SettleEffect], line: &SettleLine) -> bool {
    effects.contains(&SettleEffect::Say(line.clone()))
}

const TALK: Settled = Settled::Nothing { no_rep: false };
const REP: Settled = Settled::Rep(Details::NONE);

#[test]
fn yes_is_the_first_reading_correction_the_second_and_miss_is_nothing() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "yes two"), ("yes three", "three")]);
    assert!(asks(&round.told, 1));
    assert!(asks(&round.answers(yes()), 2));
    assert!(asks(&round.answers(other()), 3));
    let end = round.answers(Said::Miss(Details::default()));
    assert!(says(&end, &SettleLine::Last { take_back: "cancel".into() }), "{end:?}");
    let two = Settled::Rep(Details { step: Some(2), ..Details::default() });
    assert_eq!(round.written(), [(0, Some(REP)), (1, Some(two)), (2, Some(TALK))]);
    let tally = SettledCounts { reps: 2, misses: 0, nothing: 1, left: 0 };
    assert!(says(&round.silence(13), &SettleLine::Over { tally }));
    assert!(round.settle.is_over());
}

#[test]
fn readings_come_to_what_they_say() {
    let grammar = Grammar::new(&Words::english());
    let counts = |words: &str| Reading::of(words, &grammar).counts;
    let three = Details { step: Some(3), value: Some(RewardValue::High), ..Details::NONE };
    assert_eq!(counts("yes three bonus"), Counts::Rep(three));
    assert_eq!(counts("miss"), Counts::Miss(Details::default()));
    assert_eq!(counts("tired"), Counts::NoRep);
    assert_eq!(counts("juniper finish"), Counts::NoRep);
    assert_eq!(counts("yes miss"), Counts::Several);
    assert_eq!(counts("yes it was"), Counts::NoTag);
    assert_eq!(counts(""), Counts::NoTag);
}

#[test]
fn a_reason_is_not_another_reading() {
    let grammar = Grammar::new(&Words::english());
    for reason in NotCounted::ALL {
        let doubt = Doubt::new(1.0, "yes", &reason.into(), &grammar);
        assert_eq!((doubt.second, doubt.because), (None, Some(reason)));
    }
    assert_eq!(Doubt::new(1.0, "yes", &OtherReading::Nothing, &grammar).second, None);
    let mut round = Round::of(&[("yes", "said in a pause")]);
    let effects = round.hears(other());
    assert!(says(&effects, &SettleLine::NoOther) && asks(&effects, 1), "{effects:?}");
    assert!(round.written().is_empty());
}

#[test]
fn a_rep_can_be_said_as_it_was() {
    let mut round = Round::of(&[("miss", "this"), ("yes two", "yes to"), ("miss", "")]);
    let (step, left) = (Some(3), Some(Side::Left));
    let details = Details { step, side: left, ..Details::NONE };
    round.answers(Said::Rep(details));
    round.answers(Said::Change(Details { side: left, ..Details::default() }));
    let changed = Details { step: Some(2), side: left, ..Details::NONE };
    let rep = |details| Some(Settled::Rep(details));
    assert_eq!(round.written(), [(0, rep(details)), (1, rep(changed))]);
    // A miss is paid nothing; its side and the step tried are its own.
    let value = Details { value: Some(RewardValue::High), ..Details::default() };
    let effects = round.hears(Said::Change(value));
    assert_eq!(effects, [SettleEffect::Show(SettleLine::NotNow { words: "words".into() })]);
    round.answers(Said::Change(details));
    assert_eq!(round.written()[2], (2, Some(Settled::Miss(details))));
}

#[test]
fn what_counts_no_rep_is_settled_so_and_several_tags_are_left() {
    let mut round = Round::of(&[("tired", "tires"), ("yes miss", "guess this")]);
    round.answers(yes());
    let effects = round.hears(yes());
    assert!(says(&effects, &SettleLine::Several), "{effects:?}");
    assert_eq!(round.written(), [(0, Some(Settled::Nothing { no_rep: true }))]);
    assert_eq!(
        round.settle.tally(),
        SettledCounts { nothing: 1, left: 1, ..SettledCounts::default() }
    );
}

#[test]
fn the_last_answer_is_taken_back_also_after_the_last_doubt() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this")]);
    let effects = round.hears(Said::TakeBack);
    assert!(says(&effects, &SettleLine::NothingBack) && asks(&effects, 1));
    round.answers(yes());
    round.answers(yes());
    assert!(asks(&round.answers(Said::TakeBack), 2));
    assert!(asks(&round.answers(Said::TakeBack), 1));
    round.answers(Said::Miss(Details::default()));
    let expected = [
        (0, Some(REP)),
        (1, Some(Settled::Miss(Details::default()))),
        (1, None),
        (0, None),
        (0, Some(TALK)),
    ];
    assert_eq!(round.written(), expected);
    assert_eq!(
        round.settle.tally(),
        SettledCounts { nothing: 1, left: 1, ..SettledCounts::default() }
    );
}

#[test]
fn one_that_was_left_is_come_back_to_without_a_write() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this")]);
    let effects = round.hears(command(Command::GoOn));
    assert!(says(&effects, &SettleLine::Later) && asks(&effects, 2));
    assert!(asks(&round.hears(Said::TakeBack), 1));
    assert!(round.written().is_empty());
    // After the last one there is nothing to leave.
    round.answers(yes());
    round.answers(yes());
    let effects = round.hears(command(Command::GoOn));
    assert_eq!(effects, [SettleEffect::Show(SettleLine::NotNow { words: "words".into() })]);
    assert!(round.hears(yes()).contains(&SettleEffect::End));
}

#[test]
fn silence_twice_leaves_the_rest_unsettled() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this"), ("yes", "yet")]);
    round.answers(yes());
    assert_eq!(round.silence(11), [], "there is still time");
    assert!(asks(&round.silence(2), 2));
    let tally = SettledCounts { reps: 1, left: 2, ..SettledCounts::default() };
    let effects = round.silence(13);
    assert!(says(&effects, &SettleLine::Over { tally }) && effects.contains(&SettleEffect::End));
    assert_eq!(round.written().len(), 1);
    assert!(
        round
            .send(SettleInput::Answer(Answer::Said {
                said: yes(),
                words: "yes".into(),
                keyed: true
            }))
            .iter()
            .all(|effect| matches!(effect, SettleEffect::Show(_)))
    );
}

#[test]
fn an_answer_in_between_starts_the_count_of_silences_anew() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this"), ("yes", "yet")]);
    round.silence(13);
    round.answers(yes());
    assert!(asks(&round.silence(13), 2));
    round.hears(command(Command::Repeat));
    assert!(asks(&round.silence(13), 2));
    assert!(!round.settle.is_over());
}

#[test]
fn a_question_does_not_run_out_while_it_is_read() {
    let mut round = Round::of(&[("yes", "yet")]);
    round.now += Duration::from_secs(60);
    assert_eq!(round.settle.pass(round.now), []);
}

#[test]
fn what_is_half_understood_waits_anew_but_not_for_ever() {
    let mut round = Round::of(&[("yes", "yet")]);
    round.send(SettleInput::Quiet);
    for _ in 0..3 {
        round.now += Duration::from_secs(10);
        let now = round.now;
        assert_eq!(round.settle.pass(now), []);
        round.send(SettleInput::Answer(Answer::Unsure { words: "yes".into() }));
    }
    round.now += Duration::from_secs(10);
    round.send(SettleInput::Answer(Answer::Unsure { words: "yes".into() }));
    round.now += Duration::from_secs(3);
    assert!(asks(&round.settle.pass(round.now), 1));
    assert!(round.written().is_empty());
}

#[test]
fn a_word_said_twice_in_a_row_answers_one_question() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this")]);
    round.answers(yes());
    round.now += Duration::from_millis(900);
    let again =
        SettleInput::Answer(Answer::Said { said: yes(), words: "yes".into(), keyed: false });
    assert_eq!(
        round.send(again.clone()),
        [SettleEffect::Show(SettleLine::NotNow { words: "yes".into() })]
    );
    round.now += Duration::from_secs(3);
    round.send(SettleInput::Quiet);
    assert_eq!(round.send(again).len(), 1);
    assert_eq!(round.written().len(), 2);
}

#[test]
fn what_somebody_else_settled_stands() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this")]);
    round.hears(yes());
    let effects = round.send(SettleInput::Gone);
    assert!(says(&effects, &SettleLine::Gone) && asks(&effects, 2), "{effects:?}");
    assert_eq!(round.settle.tally(), SettledCounts { left: 2, ..SettledCounts::default() });
}

#[test]
fn a_disk_that_does_not_take_it_ends_it() {
    let mut round = Round::of(&[("yes", "yet"), ("miss", "this")]);
    round.hears(yes());
    let effects = round.send(SettleInput::SaveFailed { why: "full".into() });
    assert!(says(&effects, &SettleLine::Unsaved { why: "full".into() }), "{effects:?}");
    assert_eq!(round.settle.unsaved(), Some("full"));
    assert_eq!(round.settle.tally().left, 2);
}

#[test]
fn the_voice_can_be_changed_and_the_question_is_read_again() {
    let mut round = Round::of(&[("yes", "yet")]);
    let effects = round.hears(command(Command::Slower));
    assert_eq!(effects[0], SettleEffect::Voice(VoiceChange::Slower));
    assert!(asks(&effects, 1));
    assert!(round.hears(command(Command::Finish)).contains(&SettleEffect::End));
}

#[test]
fn without_doubts_it_ends_at_once() {
    let round = Round::of(&[]);
    assert_eq!(round.told[0], SettleEffect::Say(SettleLine::NoneThere { animal: "Pepino".into() }));
    assert!(round.settle.is_over());
}

/// Anything that may happen.
fn happening() -> impl Strategy<Value = (u64, Option<SettleInput>)> {
    let said = prop_oneof![
        Just(yes()),
        Just(other()),
        Just(Said::Miss(Details::default())),
        Just(Said::TakeBack),
        Just(Said::Cue),
        Just(Said::Rep(Details { step: Some(2), ..Details::default() })),
        Just(command(Command::GoOn)),
        Just(command(Command::Repeat)),
        Just(command(Command::Begin)),
        Just(command(Command::Louder)),
    ];
    let input = prop_oneof![
        8 => (said, any::<bool>()).prop_map(|(said, keyed)| {
            Some(SettleInput::Answer(Answer::Said { said, words: "words".into(), keyed }))
        }),
        2 => Just(Some(SettleInput::Answer(Answer::Unsure { words: "words".into() }))),
        4 => Just(Some(SettleInput::Quiet)),
        3 => Just(None),
    ];
    (0u64..9_000, input)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    /// Whatever is said, and whether the disk or somebody else comes between: what counts at the end is what was
    /// written and not taken back, a doubt is settled once at a time, and silence ends it.
    #[test]
    fn the_tally_is_what_was_written(
        steps in proptest::collection::vec((happening(), 0u8..10), 0..60),
        many in 0usize..5,
    ) {
        let doubts = [("yes", "yet"), ("miss", "yes"), ("tired", ""), ("yes two", "said in a pause")];
        let mut round = Round::of(&doubts[..many.min(4)]);
        let mut settled = std::collections::BTreeMap::new();
        for ((ms, input), luck) in steps {
            round.now += Duration::from_millis(ms);
            let mut effects = match input {
                Some(input) => round.send(input),
                None => round.settle.pass(round.now),
            };
            while let Some(write) = effects.iter().find(|effect| {
                matches!(effect, SettleEffect::Settle { .. } | SettleEffect::TakeBack { .. })
            }).cloned() {
                let input = if luck == 0 { SettleInput::Gone } else { SettleInput::Saved };
                match (&write, &input) {
                    (SettleEffect::Settle { doubt, settled: as_ }, SettleInput::Saved) => {
                        prop_assert_eq!(settled.insert(*doubt, *as_), None);
                    }
                    (SettleEffect::TakeBack { doubt }, _) => {
                        prop_assert!(settled.remove(doubt).is_some());
                    }
                    _ => {}
                }
                effects = round.send(input);
            }
            let tally = round.settle.tally();
            prop_assert_eq!(tally.reps + tally.misses + tally.nothing, settled.len());
            prop_assert_eq!(tally.left, many.min(4) - settled.len());
        }
        for _ in 0..3 {
            round.silence(13);
        }
        prop_assert!(round.settle.is_over());
    }
}
