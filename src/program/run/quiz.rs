//! Carries out the quiz of sounds: plays and speaks one after the other, and listens.

use std::time::Duration;

use minijinja::context;

use super::answers::answers;
use super::driver::{Driver, block_on};
use super::stage::{Came, Hands, Onset, Stage, Told};
use super::{Answering, Desk, LiveEnd, MakeEars};
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::nudge::signals::Signals;
use crate::plan::Words;
use crate::quiz::{Quiz, QuizEffect, QuizInput};
use crate::session::NudgeFamily;
use crate::wording::{filled, text};

/// Between a sound and the words about it.
const AFTER_A_SOUND: Duration = Duration::from_millis(400);

/// What the quiz is made of.
pub struct Quizzing {
    /// The questions, and what they ask for first.
    pub quiz: Quiz,
    /// See `quiz`.
    pub effects: Vec<QuizEffect>,
    /// Makes ears for the words; without them answers are typed or pressed.
    pub ears: Option<MakeEars>,
    /// The words.
    pub words: Words,
}

/// An order of the families, drawn by lot.
pub fn drawn(clock: &Clock) -> Vec<NudgeFamily> {
    let mut order = NudgeFamily::ALL.to_vec();
    let random = clock.new_id().into_bytes();
    // Fisher and Yates, on random bytes; the bias of a byte does not matter here.
    for last in (1..order.len()).rev() {
        order.swap(last, usize::from(random[15 - last]) % (last + 1));
    }
    order
}

/// Asks until the end, until silence ends it, or until the program is told to stop.
///
/// # Errors
/// The system gives no event loop or no signals, or there is nothing to answer by.
pub fn quiz(
    quizzing: Quizzing,
    answering: Answering,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<(Quiz, LiveEnd)> {
    block_on(async {
        let mut driver = Driver::new(desk, clock, answering.typed, answering.switch)?;
        let done = quiz_on(&mut driver, quizzing, answering.microphone).await?;
        driver.goodbye(done.1);
        Ok(done)
    })
}

/// The same, on a stage that there is. Whoever asks to hear the sounds hears them, the animal too.
pub(super) async fn quiz_on(
    driver: &mut Driver<'_>,
    quizzing: Quizzing,
    microphone: DeviceChoice,
) -> anyhow::Result<(Quiz, LiveEnd)> {
    let Quizzing { mut quiz, effects, ears, words } = quizzing;
    if let Some(ears) = ears {
        let listens = driver.stage.listen_or_type(microphone, ears, "numbers");
        if let Err(error) = listens {
            let error = format!("{error:#}");
            let told = filled("screen.type_the_numbers", context! { error });
            driver.stage.desk.printer.remark(&told);
        }
    }
    let signals = Signals::built_in();
    let mut quizzer = Quizzer { words, signals, sounds_until: Duration::ZERO };
    let before = driver.stage.desk.sounds.as_mut().map(|sounds| sounds.let_animal_hear(true));
    let end = driver.until_over(&mut quiz, &mut quizzer, effects).await;
    if let (Some(sounds), Some(before)) = (&mut driver.stage.desk.sounds, before) {
        sounds.let_animal_hear(before);
    }
    Ok((quiz, end?))
}

/// The hands of the quiz.
struct Quizzer {
    words: Words,
    signals: Signals,
    /// A sound of ours is heard until then.
    sounds_until: Duration,
}

type Tells = anyhow::Result<Vec<Told<QuizInput>>>;

impl Quizzer {
    fn play(&mut self, family: NudgeFamily, stage: &mut Stage<'_>) {
        let nudge = self.signals.get(family.into());
        let Some(sounds) = &mut stage.desk.sounds else {
            // For whoever sees or feels them: the rhythm in place of the sound.
            return stage.desk.printer.remark(&format!("~ {}", nudge.rhythm_in_words()));
        };
        let length = Duration::from_millis(nudge.length_ms().into());
        sounds.signal(family.into());
        self.sounds_until = stage.clock.now() + length + AFTER_A_SOUND;
    }
}

impl Hands<Quiz> for Quizzer {
    fn bring(&mut self, came: Came, _: &Quiz, stage: &mut Stage<'_>) -> Tells {
        let now = stage.clock.now();
        match came {
            Came::Quiet => return Ok(vec![Told::new(now, QuizInput::Quiet)]),
            Came::Deaf => stage.desk.printer.remark(&text("screen.deaf_numbers")),
            Came::Nobody => {
                anyhow::bail!("nobody answers: there is neither a microphone nor a line typed");
            }
            came => {
                let answers = answers(came, &self.words, stage.desk, now);
                // Several tags in one breath do not answer one question.
                if let [(at, answer)] = answers.as_slice() {
                    return Ok(vec![Told::new(*at, QuizInput::Answer(answer.clone()))]);
                }
            }
        }
        Ok(Vec::new())
    }

    fn carry_out(
        &mut self,
        effect: QuizEffect,
        _: Option<Onset>,
        _: &Quiz,
        stage: &mut Stage<'_>,
    ) -> Tells {
        match effect {
            QuizEffect::Play(family) => self.play(family, stage),
            QuizEffect::Say(line) => {
                let line = stage.desk.wording().quiz(&line);
                stage.ask(line);
            }
            QuizEffect::Show(line) => {
                let line = stage.desk.wording().quiz(&line);
                stage.desk.printer.remark(&line);
            }
            QuizEffect::Voice(change) => stage.change(change),
            QuizEffect::End => {}
        }
        Ok(Vec::new())
    }

    /// Each after the last has sounded.
    fn hold(&mut self, stage: &mut Stage<'_>) -> bool {
        stage.speaking() || stage.clock.now() < self.sounds_until
    }

    fn is_over(&self, quiz: &Quiz) -> bool {
        quiz.is_over()
    }
}
