//! Sentences of settling doubts.

use super::*;
use crate::interpret::{Details, Grammar};
use crate::plan::{RewardValue, Side, Words};
use crate::session::{MissedBecause, Outcome};
use crate::settle::{Before, Doubt, SettleLine, Settled, SettledCounts, Spoken};

#[test]
fn every_line_of_settling_doubts() {
    let english = Wording::english();
    let words = Words::english();
    let grammar = Grammar::new(&words);
    let animal = "Pepino".to_owned();
    let few = Spoken { yes: "good".into(), ..Spoken::default() };
    let doubt = |words: &str, other: &str, before: Option<Outcome>| SettleLine::Doubt {
        number: 2,
        of: 5,
        doubt: Doubt {
            before: before.map(|outcome| Before { rep: 4, seconds: 12.3, outcome }),
            ..Doubt::new(131.0, words, &other.into(), &grammar)
        },
        yes: "yes".into(),
        no: "miss".into(),
    };
    let settled = |settled| SettleLine::Settled { settled };
    let high = Outcome::Rewarded(RewardValue::High);
    let details = Details {
        step: Some(3),
        value: Some(RewardValue::Jackpot),
        side: Some(Side::Left),
        ..Details::NONE
    };
    let lines = [
        SettleLine::Begin { animal: animal.clone(), of: 3, spoken: Spoken::of(&words) },
        SettleLine::Begin { animal: animal.clone(), of: 1, spoken: few },
        SettleLine::NoneThere { animal },
        doubt("yes two", "yes to", Some(high)),
        doubt("miss", "this", Some(Outcome::Missed(MissedBecause::Said))),
        doubt("tired", "tires", None),
        doubt("yes", "said in a pause", None),
        doubt("yes", "", None),
        settled(Settled::Rep(Details::default())),
        settled(Settled::Rep(details)),
        settled(Settled::Miss(Details::default())),
        settled(Settled::Miss(Details { side: Some(Side::Left), ..Details::default() })),
        settled(Settled::Nothing { no_rep: false }),
        settled(Settled::Nothing { no_rep: true }),
        SettleLine::Later,
        SettleLine::Several,
        SettleLine::Gone,
        SettleLine::NoOther,
        SettleLine::TakenBack,
        SettleLine::NothingBack,
        SettleLine::Last { take_back: "cancel".into() },
        SettleLine::Last { take_back: String::new() },
        SettleLine::Over { tally: SettledCounts { reps: 2, misses: 1, nothing: 3, left: 0 } },
        SettleLine::Over { tally: SettledCounts { left: 2, ..SettledCounts::default() } },
        SettleLine::Unsaved { why: "The disk is full.".into() },
        SettleLine::NotSure { words: "yes".into() },
        SettleLine::NotNow { words: "two".into() },
    ];
    let said: Vec<String> = lines.iter().map(|line| english.settle(line)).collect();
    insta::assert_snapshot!(said.join("\n"), @r#"
    3 tags to settle, of Pepino. Say yes to count what I heard; correction, for the other reading; miss, when it was nothing; cancel, to take the last answer back. Juniper, carry on, leaves one for later. Juniper, finish, ends it.
    1 tag to settle, of Pepino. Say good to count what I heard.
    Nothing is left to settle in this session of Pepino.
    2 of 5. At 2 minutes 10 seconds: perhaps yes two, or yes to. 12 seconds before it, try 4, high.
    2 of 5. At 2 minutes 10 seconds: perhaps miss, or this. 12 seconds before it, try 4, missed. Say yes for a miss; miss, when it was nothing.
    2 of 5. At 2 minutes 10 seconds: perhaps tired, or tires. That counts no try.
    2 of 5. At 2 minutes 10 seconds: perhaps yes, said in a pause.
    2 of 5. At 2 minutes 10 seconds: perhaps yes.
    Rewarded.
    Rewarded, step 3, jackpot, left.
    Missed.
    Missed, left.
    Nothing.
    It counts no try.
    Left for later.
    That is more than one tag. Settle it on the page of the session.
    Somebody has settled that one meanwhile; theirs stands.
    There is no other reading.
    Taken back.
    There is no answer to take back.
    That was the last one. Say cancel to take its answer back; otherwise that's all.
    That was the last one.
    Done, 3 tries: 2 rewarded, 1 missed; 3 that were nothing.
    Nothing was settled; 2 still to settle.
    It could not be kept: The disk is full. What was kept before stays.
    not sure what was said: yes
    heard, and not asked for now: two
    "#);
}
