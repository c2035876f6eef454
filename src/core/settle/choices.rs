//! What somebody with one switch can answer.

use super::{Settle, SettleInput, Step};
use crate::interpret::{Details, Said};
use crate::machine::{Answer, Choices, Label, Offer};
use crate::plan::{Command, RewardValue, Side};

/// Steps that have a word of their own (`prompts/en/words.toml`).
const LAST_STEP: u8 = 6;

fn said(said: Said) -> SettleInput {
    SettleInput::Answer(Answer::Said { said, words: String::new(), keyed: true })
}

fn to(line: &'static str, what: Said) -> Offer<SettleInput> {
    Offer::to(Label::of(line), said(what))
}

fn command(line: &'static str, command: Command) -> Offer<SettleInput> {
    to(line, Said::Command { command })
}

impl Settle {
    pub(super) fn taken_now(&self) -> Choices<SettleInput> {
        if self.step != Step::Asking {
            return Choices::none();
        }
        let voice = [
            ("slower", Command::Slower),
            ("faster", Command::Faster),
            ("louder", Command::Louder),
            ("quieter", Command::Quieter),
        ];
        let mut voice: Vec<Offer<SettleInput>> = voice.map(|(line, of)| command(line, of)).into();
        let again = Said::Command { command: Command::Repeat };
        let (yes, no) = (Said::Rep(Details::default()), Said::Miss(Details::default()));
        let take_back = (!self.answered.is_empty()).then(|| to("take_answer_back", Said::TakeBack));
        let mut offers = Vec::new();
        let mut long = None;
        match self.doubts.get(self.index) {
            Some(doubt) => {
                offers.push(to("as_heard", yes.clone()));
                offers.push(to("nothing", no.clone()));
                if doubt.second.is_some() {
                    offers.push(to("other_reading", Said::Change(Details::default())));
                }
                offers.push(Offer::group(Label::of("otherwise"), otherwise()));
                offers.push(command("later", Command::GoOn));
                long = Some(said(no));
            }
            None => offers.push(to("done", yes.clone())),
        }
        offers.extend(take_back);
        voice.insert(0, to("repeat", again.clone()));
        offers.push(Offer::group(Label::of("voice"), voice));
        offers.push(command("enough", Command::Finish));
        let again = Some(said(again));
        Choices { short: Some(said(yes)), long, again, ..Choices::one_of(offers) }
    }
}

fn step(number: u8, said: Said) -> Offer<SettleInput> {
    let label = Label { number: usize::from(number), ..Label::of("step_number") };
    Offer::to(label, self::said(said))
}

/// Rewarded with one thing said of it, or a miss at a step.
fn otherwise() -> Vec<Offer<SettleInput>> {
    let value = |value| Said::Rep(Details { value: Some(value), ..Details::default() });
    let side = |side| Said::Rep(Details { side: Some(side), ..Details::default() });
    let mut offers = vec![
        to("low", value(RewardValue::Low)),
        to("high", value(RewardValue::High)),
        to("jackpot", value(RewardValue::Jackpot)),
        to("left_side", side(Side::Left)),
        to("right_side", side(Side::Right)),
    ];
    let steps = (1..=LAST_STEP).map(|number| {
        step(number, Said::Rep(Details { step: Some(number), ..Details::default() }))
    });
    offers.push(Offer::group(Label::of("steps"), steps.collect()));
    offers.push(Offer::group(Label::of("missed_as"), missed()));
    offers
}

/// A miss at a step.
fn missed() -> Vec<Offer<SettleInput>> {
    (1..=LAST_STEP)
        .map(|number| {
            step(number, Said::Miss(Details { step: Some(number), ..Details::default() }))
        })
        .collect()
}
