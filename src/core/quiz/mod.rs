//! A short quiz of the nudges' sounds: each is heard with what it asks for, then heard alone and answered. What was
//! missed comes again. Pure: answers and time in, effects out; plays nothing, draws nothing by lot.
//!
//! A number answers by voice or typed; whoever has a switch is read the choices one by one. A question is asked twice; after
//! silence it ends, and nothing is kept.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::machine::Machine;
//! use hushtally_core::interpret::{Details, Said};
//! use hushtally_core::machine::Answer;
//! use hushtally_core::quiz::{QuizEffect, QuizInput, QuizLine, Quiz};
//! use hushtally_core::session::NudgeFamily;
//! let (mut quiz, _taught) = Quiz::begin(vec![NudgeFamily::EndSoon]);
//! let first = Said::Detail(Details { step: Some(1), ..Details::default() });
//! let first = Answer::Said { said: first, words: "one".into(), keyed: true };
//! let effects = quiz.handle(Duration::from_secs(9), QuizInput::Answer(first));
//! assert!(effects.contains(&QuizEffect::Say(QuizLine::Right { family: NudgeFamily::EndSoon })));
//! ```

use std::collections::VecDeque;
use std::time::Duration;

use serde::Serialize;

use crate::dialogue::VoiceChange;
use crate::interpret::{Details, Said};
use crate::machine::{Answer, Choices, Label, Machine, Offer};
use crate::plan::Command;
use crate::session::NudgeFamily;

/// Time to answer, from the moment at which our own voice is silent.
const ANSWER_FOR: Duration = Duration::from_secs(12);
/// How often a sound that was missed comes again.
const MOST_TIMES: u8 = 3;

/// The choices in the order of their numbers: the most urgent is one.
pub const CHOICES: [NudgeFamily; 4] = [
    NudgeFamily::EndSoon,
    NudgeFamily::EasierOrPay,
    NudgeFamily::ReadyForMore,
    NudgeFamily::NeedsYou,
];

/// What happens during the quiz.
#[derive(Debug, Clone, PartialEq)]
pub enum QuizInput {
    /// An answer that stood alone, at its onset.
    Answer(Answer),
    /// Our own voice is silent: what was asked waits from now on.
    Quiet,
}

/// To be carried out in order, each after the last has sounded.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum QuizEffect {
    /// Say this, and show it.
    Say(QuizLine),
    /// Show this only.
    Show(QuizLine),
    /// Play the sound of this family.
    Play(NudgeFamily),
    /// Speak otherwise from now on.
    Voice(VoiceChange),
    /// It is over.
    End,
}

/// Something to say; templates in `prompts/` make sentences of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
pub enum QuizLine {
    /// What comes.
    Begin,
    /// What the sound that follows asks for, and its number.
    Teach {
        /// The number that answers.
        number: usize,
        /// What it asks for.
        family: NudgeFamily,
    },
    /// The questions begin: how to answer.
    How,
    /// What did it mean?
    Ask,
    /// For a switch: is it this?
    Perhaps {
        /// What it asks for.
        family: NudgeFamily,
    },
    /// That was right.
    Right {
        /// What it asks for.
        family: NudgeFamily,
    },
    /// That was wrong.
    Wrong {
        /// What it asks for.
        family: NudgeFamily,
    },
    /// Something that may be an answer was heard.
    NotSure {
        /// The likelier reading.
        words: String,
    },
    /// Heard, and no answer.
    NoAnswer,
    /// How it went.
    Over {
        /// Sounds known at once.
        right: usize,
        /// Sounds asked about.
        asked: usize,
        /// Sounds that were never known.
        missed: Vec<NudgeFamily>,
    },
}

/// One sound that is still asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Question {
    family: NudgeFamily,
    times: u8,
}

/// How the quiz went.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Score {
    /// Sounds known at once.
    pub right: usize,
    /// Sounds asked about.
    pub asked: usize,
    /// Sounds that were never known.
    pub missed: Vec<NudgeFamily>,
}

/// The quiz.
#[derive(Debug, Clone)]
pub struct Quiz {
    questions: VecDeque<Question>,
    /// The choice that a switch was read last, by its place.
    offered: Option<usize>,
    until: Option<Duration>,
    /// When the question was read to its end.
    quiet_at: Option<Duration>,
    silent: u8,
    score: Score,
    over: bool,
}

impl Quiz {
    /// Begins: teaches every sound, then asks about these, in this order.
    pub fn begin(order: Vec<NudgeFamily>) -> (Self, Vec<QuizEffect>) {
        let questions = order.into_iter().map(|family| Question { family, times: 0 }).collect();
        let mut quiz = Quiz {
            questions,
            offered: None,
            until: None,
            quiet_at: None,
            silent: 0,
            score: Score { right: 0, asked: 0, missed: Vec::new() },
            over: false,
        };
        let mut out = vec![QuizEffect::Say(QuizLine::Begin)];
        for (family, number) in CHOICES.into_iter().zip(1..) {
            out.push(QuizEffect::Play(family));
            out.push(QuizEffect::Say(QuizLine::Teach { number, family }));
        }
        out.push(QuizEffect::Say(QuizLine::How));
        quiz.ask(&mut out);
        (quiz, out)
    }

    /// How it went so far.
    pub fn score(&self) -> &Score {
        &self.score
    }

    /// Whether it is over.
    pub fn is_over(&self) -> bool {
        self.over
    }
}

impl Machine for Quiz {
    type Time = Duration;
    type Input = QuizInput;
    type Effect = QuizEffect;

    fn handle(&mut self, now: Duration, input: QuizInput) -> Vec<QuizEffect> {
        let mut out = Vec::new();
        match input {
            _ if self.over => {}
            QuizInput::Quiet => {
                self.quiet_at = self.quiet_at.or(Some(now));
                self.until = self.until.or(Some(now + ANSWER_FOR));
            }
            // Our own voice names the numbers: a voice counts once that is silent.
            QuizInput::Answer(Answer::Said { keyed: false, .. })
                if self.quiet_at.is_none_or(|quiet| now < quiet) => {}
            QuizInput::Answer(Answer::Said { said, .. }) => self.said(said, &mut out),
            QuizInput::Answer(Answer::Unsure { words }) => {
                out.push(QuizEffect::Show(QuizLine::NotSure { words }))
            }
        }
        out
    }

    /// Lets time pass up to `now`: no answer with an earlier onset can still come.
    fn pass(&mut self, now: Duration) -> Vec<QuizEffect> {
        let mut out = Vec::new();
        if self.wake_at().is_some_and(|until| until <= now) {
            self.silent += 1;
            if self.silent >= 2 {
                self.end(&mut out);
            } else {
                self.ask(&mut out);
            }
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        if self.over { None } else { self.until }
    }

    fn choices(&self) -> Choices<QuizInput> {
        if self.over {
            return Choices::none();
        }
        let said =
            |said| QuizInput::Answer(Answer::Said { said, words: String::new(), keyed: true });
        let command = |command| said(Said::Command { command });
        let family = |(family, number): (NudgeFamily, u8)| {
            let details = Details { step: Some(number), ..Details::default() };
            Offer::to(Label::named("family", family.name()), said(Said::Detail(details)))
        };
        let mut offers: Vec<Offer<QuizInput>> = CHOICES.into_iter().zip(1..).map(family).collect();
        let voice = [
            ("slower", Command::Slower),
            ("faster", Command::Faster),
            ("louder", Command::Louder),
            ("quieter", Command::Quieter),
        ];
        let voice = voice.map(|(line, of)| Offer::to(Label::of(line), command(of))).into();
        offers.push(Offer::to(Label::of("repeat"), command(Command::Repeat)));
        offers.push(Offer::group(Label::of("voice"), voice));
        offers.push(Offer::to(Label::of("quiz_over"), command(Command::Finish)));
        Choices { again: Some(command(Command::Repeat)), ..Choices::one_of(offers) }
    }

    fn choosing(&mut self, until: Duration) {
        self.until = Some(until + ANSWER_FOR);
    }
}

impl Quiz {
    fn said(&mut self, said: Said, out: &mut Vec<QuizEffect>) {
        self.silent = 0;
        match said {
            Said::Detail(Details { step: Some(step), side: None, value: None, .. }) => {
                match usize::from(step).checked_sub(1).and_then(|place| CHOICES.get(place)) {
                    Some(choice) => self.answer(*choice, out),
                    None => self.no_answer(out),
                }
            }
            // A switch: short is yes, long is no.
            Said::Rep(details) if details.is_empty() => match self.offered {
                Some(place) => self.answer(CHOICES[place], out),
                None => self.offer(0, out),
            },
            Said::Miss(_) => self.offer(self.offered.map_or(0, |place| place + 1), out),
            Said::Command { command } => self.command(command, out),
            _ => self.no_answer(out),
        }
    }

    fn command(&mut self, command: Command, out: &mut Vec<QuizEffect>) {
        let change = match command {
            Command::Finish | Command::Quit => return self.end(out),
            Command::Repeat => return self.ask(out),
            Command::Slower => VoiceChange::Slower,
            Command::Faster => VoiceChange::Faster,
            Command::Louder => VoiceChange::Louder,
            Command::Quieter => VoiceChange::Quieter,
            _ => return self.no_answer(out),
        };
        out.push(QuizEffect::Voice(change));
        self.ask(out);
    }

    fn offer(&mut self, place: usize, out: &mut Vec<QuizEffect>) {
        let place = place % CHOICES.len();
        self.offered = Some(place);
        self.say_and_wait(QuizLine::Perhaps { family: CHOICES[place] }, out);
    }

    fn no_answer(&mut self, out: &mut Vec<QuizEffect>) {
        self.say_and_wait(QuizLine::NoAnswer, out);
    }

    fn answer(&mut self, answer: NudgeFamily, out: &mut Vec<QuizEffect>) {
        let Some(question) = self.questions.pop_front() else { return self.end(out) };
        let Question { family, times } = question;
        self.score.asked += usize::from(times == 0);
        self.score.missed.retain(|missed| *missed != family);
        if answer == family {
            self.score.right += usize::from(times == 0);
            out.push(QuizEffect::Say(QuizLine::Right { family }));
        } else {
            out.push(QuizEffect::Say(QuizLine::Wrong { family }));
            out.push(QuizEffect::Play(family));
            self.score.missed.push(family);
            if times + 1 < MOST_TIMES {
                self.questions.push_back(Question { family, times: times + 1 });
            }
        }
        self.ask(out);
    }

    fn ask(&mut self, out: &mut Vec<QuizEffect>) {
        self.offered = None;
        let Some(question) = self.questions.front() else { return self.end(out) };
        out.push(QuizEffect::Play(question.family));
        self.say_and_wait(QuizLine::Ask, out);
    }

    fn say_and_wait(&mut self, line: QuizLine, out: &mut Vec<QuizEffect>) {
        out.push(QuizEffect::Say(line));
        (self.until, self.quiet_at) = (None, None);
    }

    fn end(&mut self, out: &mut Vec<QuizEffect>) {
        self.over = true;
        self.until = None;
        let Score { right, asked, missed } = self.score.clone();
        out.push(QuizEffect::Say(QuizLine::Over { right, asked, missed }));
        out.push(QuizEffect::End);
    }
}

#[cfg(test)]
mod tests;
