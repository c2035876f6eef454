//! Carries out the settling of doubts by voice: listens, speaks, and puts each answer into the record.

mod book;

use std::time::Duration;

use super::answers::{Timed, answers};
use super::driver::{Driver, block_on};
use super::stage::{Came, Hands, Onset, Stage, Told};
use super::{Answering, Desk, LiveEnd, MakeEars};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::machine::Answer;
use crate::plan::Words;
use crate::settle::{Settle, SettleEffect, SettleInput};
use crate::store::StoreError;
use crate::wording::text;

pub use book::{Book, doubts, settle_doubt};

/// This long we listen before we speak: without the room's noise it cannot be told whether the microphone hears us.
const LISTEN_FIRST: Duration = Duration::from_millis(1_500);

/// What settling is made of.
pub struct Settling {
    /// The questions, and what they ask for first.
    pub settle: Settle,
    /// See `settle`.
    pub effects: Vec<SettleEffect>,
    /// Where answers are written.
    pub book: Book,
    /// Ears for the session's words; asked for when there is something to answer.
    pub ears: MakeEars,
    /// The session's words.
    pub words: Words,
}

/// Asks until the end, or until the program is told to stop. Every answer is on disk before the next question.
///
/// # Errors
/// Neither a microphone nor lines to answer by, or no speech model.
pub fn settle(
    settling: Settling,
    answering: Answering,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<(Settle, LiveEnd)> {
    block_on(async {
        let mut driver = Driver::new(desk, clock, answering.typed, answering.switch)?;
        let done = settle_on(&mut driver, settling, answering.microphone).await?;
        driver.goodbye(done.1);
        Ok(done)
    })
}

/// The same, on a stage that there is.
pub(super) async fn settle_on(
    driver: &mut Driver<'_>,
    settling: Settling,
    microphone: DeviceChoice,
) -> anyhow::Result<(Settle, LiveEnd)> {
    let Settling { mut settle, effects, book, ears, words } = settling;
    if !settle.is_over() {
        driver.stage.listen_or_type(microphone, ears, "words")?;
    }
    let end = driver.until_over(&mut settle, &mut Settler { book, words }, effects).await?;
    Ok((settle, end))
}

/// The hands of settling.
struct Settler {
    book: Book,
    words: Words,
}

type Tells = anyhow::Result<Vec<Told<SettleInput>>>;

impl Hands<Settle> for Settler {
    fn bring(&mut self, came: Came, _: &Settle, stage: &mut Stage<'_>) -> Tells {
        let now = stage.clock.now();
        match came {
            Came::Quiet => return Ok(vec![Told::new(now, SettleInput::Quiet)]),
            Came::Lost { why, .. } => stage.tell_lost(why),
            Came::Deaf => stage.desk.printer.remark(&text("screen.deaf_words")),
            Came::Nobody => {
                if let Some(error) = stage.deaf.take() {
                    return Err(error.into());
                }
            }
            came => {
                let answers = one(answers(came, &self.words, stage.desk, now));
                return Ok(answers
                    .map(|(at, answer)| Told::new(at, SettleInput::Answer(answer)))
                    .collect());
            }
        }
        Ok(Vec::new())
    }

    fn carry_out(
        &mut self,
        effect: SettleEffect,
        _: Option<Onset>,
        _: &Settle,
        stage: &mut Stage<'_>,
    ) -> Tells {
        let wrote = match effect {
            SettleEffect::Settle { doubt, settled } => self.book.settle(doubt, settled),
            SettleEffect::TakeBack { doubt } => self.book.take_back(doubt),
            SettleEffect::Say(line) => {
                let line = stage.desk.wording().settle(&line);
                stage.ask(line);
                return Ok(Vec::new());
            }
            SettleEffect::Show(line) => {
                let line = stage.desk.wording().settle(&line);
                stage.desk.printer.remark(&line);
                return Ok(Vec::new());
            }
            SettleEffect::Voice(change) => {
                stage.change(change);
                return Ok(Vec::new());
            }
            SettleEffect::End => return Ok(Vec::new()),
        };
        // The clock's time is later than any answer's onset, so the next question begins now.
        Ok(vec![Told::new(stage.clock.now(), became(wrote))])
    }

    /// We listen before we speak.
    fn hold(&mut self, stage: &mut Stage<'_>) -> bool {
        stage.mic.is_some() && stage.latest.elapsed() < LISTEN_FIRST
    }

    fn is_over(&self, settle: &Settle) -> bool {
        settle.is_over()
    }
}

/// What an edit became.
fn became(wrote: Result<bool, StoreError>) -> SettleInput {
    match wrote {
        Ok(true) => SettleInput::Saved,
        Ok(false) => SettleInput::Gone,
        Err(error) => SettleInput::SaveFailed { why: error.to_string() },
    }
}

/// Several tags in one breath do not answer one question.
fn one(answers: Vec<Timed>) -> impl Iterator<Item = Timed> {
    let words = |(_, answer): &Timed| match answer {
        Answer::Said { words, .. } | Answer::Unsure { words } => words.clone(),
    };
    let answers = match answers.as_slice() {
        [first, _, ..] => {
            let words = answers.iter().map(words).collect::<Vec<_>>().join(" ");
            vec![(first.0, Answer::Unsure { words })]
        }
        _ => answers,
    };
    answers.into_iter()
}
