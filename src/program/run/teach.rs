//! Carries out a lesson by voice: listens, speaks, and keeps what was learnt.

use std::time::Duration;

use super::driver::{Driver, block_on};
use super::stage::{Came, Hands, Onset, Stage, Told};
use super::{Answering, Desk, LiveEnd, MakeEars};
use crate::audio::choice::DeviceChoice;
use crate::audio::device::microphone_is_there;
use crate::clock::Clock;
use crate::hear::Heard;
use crate::hear::personal::{Features, Learnt, Take};
use crate::interpret::switch::Press;
use crate::lesson::{Lesson, LessonEffect, LessonInput, LessonLine};
use crate::session::NudgeKind;

/// Keeps what was learnt.
type KeepLearnt = Box<dyn FnMut(&Learnt) -> anyhow::Result<()>>;

/// What a lesson is made of.
pub struct Teaching {
    /// The lesson, and what it asks for first.
    pub lesson: Lesson<Features>,
    /// See `lesson`.
    pub effects: Vec<LessonEffect<Features>>,
    /// What was learnt before.
    pub learnt: Learnt,
    /// Ears, to learn what the recogniser takes the phrases for.
    pub ears: MakeEars,
    /// Keeps what was learnt so far; called after every phrase.
    pub keep: KeepLearnt,
}

/// Holds the lesson to its end, or until the program is told to stop. What was learnt is kept after every phrase.
///
/// # Errors
/// The microphone cannot be opened or stops, or what was learnt cannot be kept.
pub fn teach(
    teaching: Teaching,
    answering: Answering,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<LiveEnd> {
    block_on(async {
        let mut driver = Driver::new(desk, clock, answering.typed, answering.switch)?;
        let end = teach_on(&mut driver, teaching, answering.microphone).await?;
        driver.goodbye(end);
        Ok(end)
    })
}

/// The same, on a stage that there is.
pub(super) async fn teach_on(
    driver: &mut Driver<'_>,
    teaching: Teaching,
    microphone: DeviceChoice,
) -> anyhow::Result<LiveEnd> {
    let Teaching { mut lesson, effects, learnt, ears, keep } = teaching;
    microphone_is_there(&microphone)?;
    driver.stage.listen_for_takes(microphone, ears()?)?;
    let heard_until = driver.stage.clock.now();
    driver.until_over(&mut lesson, &mut Teacher { learnt, keep, heard_until }, effects).await
}

/// The words of each utterance that the recogniser takes for tags.
pub fn tags_in(heard: &[Heard]) -> Vec<String> {
    let words = |heard: &Heard| match heard {
        Heard::Tags(tags) => {
            Some(tags.iter().map(|tag| tag.words.as_str()).collect::<Vec<_>>().join(" "))
        }
        _ => None,
    };
    heard.iter().filter_map(words).collect()
}

/// The hands of a lesson.
struct Teacher {
    learnt: Learnt,
    keep: KeepLearnt,
    /// When what was heard last was over.
    heard_until: Duration,
}

type Tells = anyhow::Result<Vec<Told<LessonInput<Features>>>>;

impl Teacher {
    fn hear(
        &mut self,
        take: Take,
        taken_for: Option<String>,
        stage: &Stage<'_>,
    ) -> Told<LessonInput<Features>> {
        let Take { from, to, features, clipped } = take;
        let until = stage.desk.clock_time(to);
        self.heard_until = until;
        let example = features.filter(|_| !clipped);
        Told::new(stage.desk.clock_time(from), LessonInput::Heard { until, example, taken_for })
    }

    /// A soft tone, or the phrase again where tones are kept silent.
    fn once_more(&self, phrase: &str, stage: &mut Stage<'_>) -> Vec<Told<LessonInput<Features>>> {
        match &mut stage.desk.sounds {
            Some(sounds) if sounds.nudges_are_silent() => {
                sounds.say(phrase);
                stage.awaits_quiet = true;
                return Vec::new();
            }
            Some(sounds) => sounds.nudge(NudgeKind::Heard),
            None => {}
        }
        // A tone is not in the way of the next example.
        vec![Told::new(self.heard_until, LessonInput::Quiet)]
    }

    fn say(line: &LessonLine, stage: &mut Stage<'_>) {
        let text = stage.desk.wording().lesson(line);
        stage.ask(text);
    }
}

impl Hands<Lesson<Features>> for Teacher {
    fn bring(&mut self, came: Came, _: &Lesson<Features>, stage: &mut Stage<'_>) -> Tells {
        let now = stage.clock.now();
        Ok(match came {
            Came::Take { take, taken_for } => vec![self.hear(take, taken_for, stage)],
            // Where nothing is played, it was quiet all along.
            Came::Quiet if stage.desk.sounds.is_none() => {
                vec![Told::new(self.heard_until, LessonInput::Quiet)]
            }
            Came::Quiet => vec![Told::new(now, LessonInput::Quiet)],
            Came::Lost { why, .. } => {
                stage.tell_lost(why);
                vec![Told::new(now, LessonInput::Deaf)]
            }
            Came::Gap(_) => vec![Told::new(now, LessonInput::Quiet)],
            Came::Deaf => anyhow::bail!("the microphone stopped; what was learnt so far is kept"),
            _ => Vec::new(),
        })
    }

    fn carry_out(
        &mut self,
        effect: LessonEffect<Features>,
        _: Option<Onset>,
        _: &Lesson<Features>,
        stage: &mut Stage<'_>,
    ) -> Tells {
        match effect {
            LessonEffect::Say(line) => Self::say(&line, stage),
            LessonEffect::Show(line) => {
                let text = stage.desk.wording().lesson(&line);
                stage.desk.printer.remark(&text);
            }
            LessonEffect::OnceMore { phrase } => return Ok(self.once_more(&phrase, stage)),
            LessonEffect::Learn { phrase, examples, taken_for } => {
                self.learnt.learn(phrase.clone(), examples);
                for words in taken_for {
                    self.learnt.mistaken_for(&phrase, words);
                }
                (self.keep)(&self.learnt)?;
            }
            LessonEffect::Talk(example) => self.learnt.add_talk(example),
            LessonEffect::Keep => {
                (self.keep)(&self.learnt)?;
                let learnt = self.learnt.phrases().count();
                let unsteady = self.learnt.unsteady().into_iter().map(str::to_owned).collect();
                let kept = LessonInput::Kept { learnt, unsteady };
                return Ok(vec![Told::new(stage.clock.now(), kept)]);
            }
        }
        Ok(Vec::new())
    }

    fn opens_menu(&self, _: Press, _: &Lesson<Features>) -> bool {
        true
    }

    fn is_over(&self, lesson: &Lesson<Features>) -> bool {
        lesson.is_over()
    }
}
