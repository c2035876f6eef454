//! What somebody with one switch can take at each step.

use super::{Check, SoundcheckInput, Step};
use crate::interpret::{Details, Said};
use crate::machine::{Answer, Choices, Label, Offer};
use crate::plan::Command;

fn said(said: Said) -> SoundcheckInput {
    SoundcheckInput::Answer(Answer::Said { said, words: String::new(), keyed: true })
}

fn yes() -> SoundcheckInput {
    said(Said::Rep(Details::default()))
}

fn no() -> SoundcheckInput {
    said(Said::Miss(Details::default()))
}

fn command(line: &'static str, command: Command) -> Offer<SoundcheckInput> {
    to(line, said(Said::Command { command }))
}

fn to(line: &'static str, input: SoundcheckInput) -> Offer<SoundcheckInput> {
    Offer::to(Label::of(line), input)
}

fn voice() -> [Offer<SoundcheckInput>; 4] {
    [
        command("slower", Command::Slower),
        command("faster", Command::Faster),
        command("louder", Command::Louder),
        command("quieter", Command::Quieter),
    ]
}

impl Check {
    pub(super) fn taken_now(&self) -> Choices<SoundcheckInput> {
        let again = said(Said::Command { command: Command::Repeat });
        let (answers, short, long) = match &self.step {
            Step::Over | Step::Saving => return Choices::none(),
            Step::Opening | Step::Noise(_) | Step::Ear { announced: false, .. } => {
                return Choices::menu(vec![command("stop", Command::Quit)]);
            }
            Step::Level { .. } | Step::Words { .. } => {
                (vec![to("past_it", yes())], Some(yes()), None)
            }
            Step::Ear { .. } => {
                (vec![to("hear_it", yes()), to("next_one", no())], Some(yes()), Some(no()))
            }
            Step::Kind => {
                (vec![to("earphone", yes()), to("loudspeaker", no())], Some(yes()), Some(no()))
            }
            Step::Voice(_) => {
                let other = if self.setup.voices.len() > 1 { "other_voice" } else { "no" };
                let mut offers = vec![to("yes", yes()), to(other, no())];
                offers.extend(voice());
                (offers, Some(yes()), Some(no()))
            }
            Step::Keep => (vec![to("keep", yes()), to("keep_not", no())], Some(yes()), Some(no())),
        };
        let mut offers = answers;
        if !matches!(self.step, Step::Voice(_)) {
            offers.push(Offer::group(Label::of("voice"), voice().into()));
        }
        offers.push(Offer::to(Label::of("repeat"), again.clone()));
        offers.push(command("stop", Command::Quit));
        Choices { short, long, again: Some(again), ..Choices::one_of(offers) }
    }
}
