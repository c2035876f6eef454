//! Walks through settling, the sound check and the quiz.

use std::collections::BTreeSet;
use std::time::Duration;

use super::{Walk, World};
use crate::interpret::switch::Press;
use crate::interpret::{Grammar, OtherReading};
use crate::lesson::{Example, Lesson, LessonEffect, LessonInput};
use crate::machine::Label;
use crate::plan::Words;
use crate::quiz::{self, CHOICES, Quiz};
use crate::settle::{self, Doubt, Settle, Spoken};
use crate::soundcheck::{self, Check, Setup, prompts};

/// A world in which everything works, and what was reached in it.
#[derive(Default)]
struct Fine(BTreeSet<String>);

impl Fine {
    fn took(&mut self, called: &Label, is_of_use: bool) {
        if is_of_use {
            self.0.insert(called.line.to_owned());
        }
    }
}

impl World<Settle> for Fine {
    fn carry_out(
        &mut self,
        _: Duration,
        effects: Vec<settle::SettleEffect>,
    ) -> Vec<settle::SettleInput> {
        let kept = |effect| match effect {
            settle::SettleEffect::Settle { .. } | settle::SettleEffect::TakeBack { .. } => {
                Some(settle::SettleInput::Saved)
            }
            settle::SettleEffect::Say(_) => Some(settle::SettleInput::Quiet),
            _ => None,
        };
        effects.into_iter().filter_map(kept).collect()
    }

    fn took(&mut self, called: &Label, effects: &[settle::SettleEffect]) {
        let idle = |e: &settle::SettleEffect| {
            matches!(e, settle::SettleEffect::Show(settle::SettleLine::NotNow { .. }))
        };
        self.took(called, !effects.iter().any(idle));
    }

    fn press(&self, _: &Settle, _: Press) -> Vec<settle::SettleInput> {
        Vec::new()
    }

    fn opens_menu(&self, _: &Settle, press: Press) -> bool {
        press == Press::Long
    }

    fn is_over(&self, settle: &Settle) -> bool {
        settle.is_over()
    }
}

pub(super) fn settled(seed: u64) -> BTreeSet<String> {
    let words = Words::english();
    let grammar = Grammar::new(&words);
    let doubt = |at, first: &str, second: &str| {
        Doubt::new(at, first, &OtherReading::Read(second.to_owned()), &grammar)
    };
    let three = [
        doubt(4.0, "yes two", "yes to"),
        doubt(9.0, "miss", "yes three left"),
        doubt(12.0, "yes", "yet"),
    ];
    let doubts = three.iter().cycle().take(12).cloned().collect();
    let (settle, effects) = Settle::begin("Pepino", doubts, Spoken::of(&words));
    let mut walk = Walk::begin(settle, effects, Fine::default(), seed);
    walk.go(100);
    walk.world.0
}

impl World<Check> for Fine {
    fn carry_out(
        &mut self,
        _: Duration,
        effects: Vec<soundcheck::SoundcheckEffect>,
    ) -> Vec<soundcheck::SoundcheckInput> {
        let mut follows = Vec::new();
        for effect in effects {
            match effect {
                soundcheck::SoundcheckEffect::OpenMic(_) => {
                    follows.push(soundcheck::SoundcheckInput::MicOpen);
                }
                soundcheck::SoundcheckEffect::Save => {
                    follows.push(soundcheck::SoundcheckInput::Saved)
                }
                soundcheck::SoundcheckEffect::Play(_) => {
                    follows.push(soundcheck::SoundcheckInput::Quiet);
                }
                soundcheck::SoundcheckEffect::Say(line) => {
                    follows.push(soundcheck::SoundcheckInput::Quiet);
                    if matches!(line, soundcheck::SoundcheckLine::BeQuiet) {
                        let (rms_dbfs, clipped) = (-60.0, false);
                        let level = soundcheck::SoundcheckInput::Level { rms_dbfs, clipped };
                        follows.extend(std::iter::repeat_n(level, 30));
                    }
                }
                _ => {}
            }
        }
        follows
    }

    fn took(&mut self, called: &Label, effects: &[soundcheck::SoundcheckEffect]) {
        let idle = |e: &soundcheck::SoundcheckEffect| {
            matches!(
                e,
                soundcheck::SoundcheckEffect::Show(soundcheck::SoundcheckLine::NotNow { .. })
            )
        };
        self.took(called, !effects.is_empty() && !effects.iter().any(idle));
    }

    fn press(&self, _: &Check, _: Press) -> Vec<soundcheck::SoundcheckInput> {
        Vec::new()
    }

    fn opens_menu(&self, _: &Check, press: Press) -> bool {
        press == Press::Long
    }

    fn is_over(&self, check: &Check) -> bool {
        check.is_over()
    }
}

pub(super) fn checked(seed: u64) -> BTreeSet<String> {
    let words = Words::english();
    let two = |of: &str| vec![format!("{of} one"), format!("{of} two")];
    let setup = Setup {
        mics: two("microphone"),
        ears: two("output"),
        words: prompts(&words).into_iter().take(3).collect(),
        attention: "juniper".into(),
        yes: "yes".into(),
        no: "miss".into(),
        voices: two("voice"),
        ..Setup::default()
    };
    let (check, effects) = Check::begin(setup);
    let mut walk = Walk::begin(check, effects, Fine::default(), seed);
    walk.go(120);
    walk.world.0
}

impl World<Quiz> for Fine {
    fn carry_out(&mut self, _: Duration, effects: Vec<quiz::QuizEffect>) -> Vec<quiz::QuizInput> {
        let said =
            |effect| matches!(effect, quiz::QuizEffect::Say(_)).then_some(quiz::QuizInput::Quiet);
        effects.into_iter().filter_map(said).collect()
    }

    fn took(&mut self, called: &Label, effects: &[quiz::QuizEffect]) {
        let idle =
            |e: &quiz::QuizEffect| matches!(e, quiz::QuizEffect::Say(quiz::QuizLine::NoAnswer));
        self.took(called, !effects.is_empty() && !effects.iter().any(idle));
    }

    fn press(&self, _: &Quiz, _: Press) -> Vec<quiz::QuizInput> {
        Vec::new()
    }

    fn opens_menu(&self, _: &Quiz, press: Press) -> bool {
        press == Press::Long
    }

    fn is_over(&self, quiz: &Quiz) -> bool {
        quiz.is_over()
    }
}

pub(super) fn quizzed(seed: u64) -> BTreeSet<String> {
    let (quiz, effects) = Quiz::begin(CHOICES.to_vec());
    let mut walk = Walk::begin(quiz, effects, Fine::default(), seed);
    walk.go(40);
    walk.world.0
}

/// A sound like any other.
#[derive(Debug, Clone, PartialEq)]
struct Hum;

impl Example for Hum {
    fn distance(&self, _: &Self) -> f32 {
        0.0
    }
}

impl World<Lesson<Hum>> for Fine {
    fn carry_out(&mut self, _: Duration, effects: Vec<LessonEffect<Hum>>) -> Vec<LessonInput<Hum>> {
        let follows = |effect| match effect {
            LessonEffect::Say(_) => Some(LessonInput::Quiet),
            LessonEffect::Keep => Some(LessonInput::Kept { learnt: 0, unsteady: Vec::new() }),
            _ => None,
        };
        effects.into_iter().filter_map(follows).collect()
    }

    fn took(&mut self, called: &Label, effects: &[LessonEffect<Hum>]) {
        self.took(called, !effects.is_empty());
    }

    fn press(&self, _: &Lesson<Hum>, _: Press) -> Vec<LessonInput<Hum>> {
        Vec::new()
    }

    fn opens_menu(&self, _: &Lesson<Hum>, _: Press) -> bool {
        true
    }

    fn is_over(&self, lesson: &Lesson<Hum>) -> bool {
        lesson.is_over()
    }
}

pub(super) fn taught(seed: u64) -> BTreeSet<String> {
    let phrases = ["yes", "miss", "left", "right"].map(str::to_owned).to_vec();
    let (lesson, effects) = Lesson::begin(phrases, 2);
    let mut walk = Walk::begin(lesson, effects, Fine::default(), seed);
    walk.go(40);
    walk.world.0
}
