//! A lesson by voice: which phrase comes next, whether an example may stay, and when nobody is there any more. Pure:
//! examples and time in, effects out. It never hears: an example is whatever can be told apart from another.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::lesson::{LessonEffect, Example, LessonInput, Lesson, LessonLine};
//! use hushtally_core::machine::Machine;
//! #[derive(Debug, Clone, PartialEq)]
//! struct Pitch(f32);
//! impl Example for Pitch {
//!     fn distance(&self, other: &Self) -> f32 {
//!         (self.0 - other.0).abs()
//!     }
//! }
//! let (mut lesson, _asked) = Lesson::begin(vec!["yes".to_owned()], 2);
//! let _nothing = lesson.handle(Duration::from_secs(1), LessonInput::Quiet);
//! let until = Duration::from_millis(2_400);
//! let heard = LessonInput::Heard { until, example: Some(Pitch(3.0)), taken_for: None };
//! let effects = lesson.handle(Duration::from_secs(2), heard);
//! assert_eq!(effects[0], LessonEffect::Show(LessonLine::Taken { take: 1, of: 2 }));
//! ```

#[cfg(test)]
mod tests;

use std::collections::VecDeque;
use std::time::Duration;

use serde::Serialize;

use crate::machine::{Choices, Label, Machine, Offer};

/// A phrase is waited for this long, from the moment at which our own voice is silent.
const WAIT: Duration = Duration::from_secs(10);
/// An example this much further from the others than they are from each other was something else.
const UNLIKE: f32 = 1.7;
/// A first pair is told apart only when it is further apart than this.
const UNLIKE_FIRST: f32 = 16.0;
/// After this many unlike examples in a row, that is how the phrase is said.
const FROM_SCRATCH: u8 = 3;
/// After this many silences in a row nobody is there.
const GONE: u8 = 3;
/// Pieces of ordinary talk that are enough.
const TALK: usize = 12;

/// What a phrase was like.
pub trait Example: Clone + PartialEq {
    /// How unlike two of them are: 0 for the same, infinite where they cannot be compared.
    fn distance(&self, other: &Self) -> f32;
}

/// What happens during a lesson.
#[derive(Debug, Clone, PartialEq)]
pub enum LessonInput<E> {
    /// A segment of sound was heard, which began at the moment of this input.
    Heard {
        /// When it was over.
        until: Duration,
        /// What it was like; `None` for what cannot be a tag.
        example: Option<E>,
        /// What the recogniser is sure that it is.
        taken_for: Option<String>,
    },
    /// This phrase is left out.
    Skip,
    /// The phrase is asked for again.
    Repeat,
    /// That is enough: what was learnt so far is kept.
    Enough,
    /// Our own voice is silent: what was asked for is waited for from now on.
    Quiet,
    /// There is no sound: nothing is waited for until it is quiet.
    Deaf,
    /// All is on disk.
    Kept {
        /// Number of phrases that are known.
        learnt: usize,
        /// Those whose examples are too unlike each other.
        unsteady: Vec<String>,
    },
}

/// To be carried out in order.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum LessonEffect<E> {
    /// Say this, and show it.
    Say(LessonLine),
    /// Show this only.
    Show(LessonLine),
    /// A soft tone: the same phrase once more.
    OnceMore {
        /// The phrase.
        phrase: String,
    },
    /// Learn a phrase, in place of what was known of it, and keep that on disk.
    Learn {
        /// The phrase.
        phrase: String,
        /// Its examples.
        examples: Vec<E>,
        /// What the recogniser was sure that they are.
        taken_for: Vec<String>,
    },
    /// Learn that this is ordinary talk.
    Talk(E),
    /// Keep all on disk.
    Keep,
}

/// Something to say; templates in `prompts/` make sentences of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
#[expect(missing_docs, reason = "the sentences tell what each is")]
pub enum LessonLine {
    Begin { phrases: usize, times: usize },
    Say { phrase: String },
    Taken { take: usize, of: usize },
    Unfit { phrase: String },
    Unlike { phrase: String },
    FromScratch { phrase: String },
    LeftOut { phrase: String },
    Talk,
    Gone,
    Done { learnt: usize, unsteady: String },
}

/// A lesson that is going on.
#[derive(Debug, Clone)]
pub struct Lesson<E> {
    /// Those that are left; the first is being learnt. After the last one comes talk.
    phrases: VecDeque<String>,
    times: usize,
    examples: Vec<E>,
    /// What the recogniser was sure that the examples are.
    taken_for: Vec<String>,
    unlike: u8,
    silences: u8,
    /// Pieces of talk that are wanted still.
    talk: usize,
    /// What began earlier was heard while our own voice sounded, or was dealt with.
    since: Duration,
    /// Whether an answer is waited for.
    listens: bool,
    stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// Phrases, then talk.
    Learning,
    /// All is being written to disk.
    Keeping,
    Over,
}

impl<E: Example> Lesson<E> {
    /// Begins to teach these phrases, each this many times and at least twice, and then ordinary talk.
    pub fn begin(phrases: Vec<String>, times: usize) -> (Self, Vec<LessonEffect<E>>) {
        let times = times.max(2);
        let mut lesson = Lesson {
            phrases: phrases.into(),
            times,
            examples: Vec::new(),
            taken_for: Vec::new(),
            unlike: 0,
            silences: 0,
            talk: TALK,
            since: Duration::ZERO,
            listens: false,
            stage: Stage::Learning,
        };
        let phrases = lesson.phrases.len();
        let begin =
            (phrases > 0).then_some(LessonEffect::Say(LessonLine::Begin { phrases, times }));
        let mut out: Vec<LessonEffect<E>> = begin.into_iter().collect();
        lesson.ask(&mut out);
        (lesson, out)
    }

    /// Whether it is over.
    pub fn is_over(&self) -> bool {
        self.stage == Stage::Over
    }

    fn ask(&mut self, out: &mut Vec<LessonEffect<E>>) {
        match self.phrases.front() {
            Some(phrase) => self.say(LessonLine::Say { phrase: phrase.clone() }, out),
            None => self.say(LessonLine::Talk, out),
        }
    }

    /// Says it; from when that is silent on, an answer is waited for.
    fn say(&mut self, line: LessonLine, out: &mut Vec<LessonEffect<E>>) {
        self.listens = false;
        out.push(LessonEffect::Say(line));
    }

    fn heard(
        &mut self,
        example: Option<E>,
        taken_for: Option<String>,
        out: &mut Vec<LessonEffect<E>>,
    ) {
        self.silences = 0;
        let Some(phrase) = self.phrases.front().cloned() else {
            self.talked(example, out);
            return;
        };
        let Some(example) = example else { return self.say(LessonLine::Unfit { phrase }, out) };
        if self.is_unlike(&example) {
            self.unlike += 1;
            if self.unlike < FROM_SCRATCH {
                return self.say(LessonLine::Unlike { phrase }, out);
            }
            self.forget_examples();
            self.examples.push(example);
            self.taken_for.extend(taken_for);
            return self.say(LessonLine::FromScratch { phrase }, out);
        }
        self.unlike = 0;
        self.examples.push(example);
        self.taken_for.extend(taken_for);
        let (take, of) = (self.examples.len(), self.times);
        if take < of {
            self.listens = false;
            out.push(LessonEffect::Show(LessonLine::Taken { take, of }));
            out.push(LessonEffect::OnceMore { phrase });
            return;
        }
        let examples = std::mem::take(&mut self.examples);
        let taken_for = std::mem::take(&mut self.taken_for);
        out.push(LessonEffect::Learn { phrase, examples, taken_for });
        self.phrases.pop_front();
        self.ask(out);
    }

    fn talked(&mut self, example: Option<E>, out: &mut Vec<LessonEffect<E>>) {
        let Some(example) = example else { return };
        out.push(LessonEffect::Talk(example));
        self.talk -= 1;
        if self.talk == 0 {
            self.keep(out);
        }
    }

    /// Nothing was heard for a while: the phrase is left out, or the talk ends.
    fn silence(&mut self, out: &mut Vec<LessonEffect<E>>) {
        self.silences += 1;
        if self.silences >= GONE {
            self.forget_examples();
            self.phrases.pop_front();
            self.say(LessonLine::Gone, out);
            return self.keep(out);
        }
        self.leave_out(out);
    }

    /// The phrase is left out, or the talk ends.
    fn leave_out(&mut self, out: &mut Vec<LessonEffect<E>>) {
        self.forget_examples();
        match self.phrases.pop_front() {
            Some(phrase) => {
                self.say(LessonLine::LeftOut { phrase }, out);
                self.ask(out);
            }
            None => self.keep(out),
        }
    }

    fn forget_examples(&mut self) {
        self.examples.clear();
        self.taken_for.clear();
        self.unlike = 0;
    }

    fn keep(&mut self, out: &mut Vec<LessonEffect<E>>) {
        self.stage = Stage::Keeping;
        out.push(LessonEffect::Keep);
    }

    fn is_unlike(&self, example: &E) -> bool {
        let nearest = |to: &E, skip: Option<usize>| {
            let others = self.examples.iter().enumerate().filter(|(i, _)| Some(*i) != skip);
            others.map(|(_, other)| other.distance(to)).fold(f32::INFINITY, f32::min)
        };
        match self.examples.len() {
            0 => false,
            1 => nearest(example, None) > UNLIKE_FIRST,
            count => {
                let among = (0..count).map(|i| nearest(&self.examples[i], Some(i)));
                let widest = among.fold(0.0, f32::max);
                nearest(example, None) > UNLIKE * widest.max(UNLIKE_FIRST / 2.0)
            }
        }
    }
}

impl<E: Example> Machine for Lesson<E> {
    type Time = Duration;
    type Input = LessonInput<E>;
    type Effect = LessonEffect<E>;

    fn handle(&mut self, at: Duration, input: LessonInput<E>) -> Vec<LessonEffect<E>> {
        let mut out = Vec::new();
        match (self.stage, input) {
            (Stage::Learning, LessonInput::Quiet) => {
                self.since = self.since.max(at);
                self.listens = true;
            }
            (Stage::Learning, LessonInput::Skip) => {
                (self.silences, self.since) = (0, self.since.max(at));
                self.leave_out(&mut out);
            }
            (Stage::Learning, LessonInput::Repeat) => self.ask(&mut out),
            (Stage::Learning, LessonInput::Enough) => {
                self.forget_examples();
                self.keep(&mut out);
            }
            (Stage::Learning, LessonInput::Deaf) => self.listens = false,
            // Our own voice is not an example.
            (Stage::Learning, LessonInput::Heard { until, example, taken_for })
                if self.listens && at >= self.since =>
            {
                self.since = until;
                self.heard(example, taken_for, &mut out);
            }
            (Stage::Keeping, LessonInput::Kept { learnt, unsteady }) => {
                self.stage = Stage::Over;
                out.push(LessonEffect::Say(LessonLine::Done {
                    learnt,
                    unsteady: unsteady.join(", "),
                }));
            }
            _ => {}
        }
        out
    }

    fn pass(&mut self, to: Duration) -> Vec<LessonEffect<E>> {
        let mut out = Vec::new();
        if let Some(until) = self.wake_at().filter(|until| *until <= to) {
            self.since = until;
            self.silence(&mut out);
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        (self.listens && self.stage == Stage::Learning).then(|| self.since + WAIT)
    }

    fn choices(&self) -> Choices<LessonInput<E>> {
        if self.stage != Stage::Learning {
            return Choices::none();
        }
        // While it listens, what is read would be in the way: all of it waits for a press.
        let to = |line, input| Offer::to(Label::of(line), input);
        Choices::menu(vec![
            to("past_it", LessonInput::Skip),
            to("repeat", LessonInput::Repeat),
            to("enough", LessonInput::Enough),
        ])
    }

    fn choosing(&mut self, _: Duration) {
        // Our own voice reads, which is not an example.
        self.listens = false;
    }
}
