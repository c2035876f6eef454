//! Carries out the settling of doubts by voice: listens, speaks, and puts each answer into the record.

mod book;

use std::time::Duration;

use anyhow::Context;

use super::answers::{self, Answer, What};
use super::ears_thread::{FromEars, Passed};
use super::mic::Mic;
use super::signals::Signals;
use super::{Desk, LiveEnd, Sounds, Typed, Typing};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::clock::Clock;
use crate::hear::{Ears, Heard};
use crate::interpret::pedal::Switches;
use crate::interpret::switch::Timing;
use crate::nudge::loudness::NoiseFloor;
use crate::plan::Words;
use crate::settle::{Effect, Input, Settle};
use crate::store::StoreError;

pub use book::{Book, doubts};

/// So long we listen before we speak: without the room's noise it cannot be told whether the microphone hears us.
const LISTEN_FIRST: Duration = Duration::from_millis(1_500);
/// Without a microphone time passes in these steps.
const TICK: Duration = Duration::from_millis(100);

/// What settling is made of.
pub struct Settling<'a> {
    /// The questions, and what they ask for first.
    pub settle: Settle,
    /// See `settle`.
    pub effects: Vec<Effect>,
    /// Where answers are written.
    pub book: Book<'a>,
    /// The microphone.
    pub microphone: DeviceChoice,
    /// Ears for the session's words; asked for when there is something to answer.
    pub ears: &'a mut dyn FnMut() -> anyhow::Result<Ears>,
    /// The session's words.
    pub words: Words,
    /// What is typed in place of words.
    pub typed: Typing,
    /// What tells presses of a switch apart.
    pub timing: Timing,
}

/// Asks until the end, or until the program is told to stop. Every answer is on disk before the next question.
///
/// # Errors
/// Neither a microphone nor lines to answer by, or no speech model.
pub fn settle(
    settling: Settling<'_>,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<(Settle, LiveEnd)> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the system gives no event loop")?;
    let mut running = Running {
        settle: settling.settle,
        book: settling.book,
        words: settling.words,
        desk,
        clock: clock.clone(),
        mic: None,
        first: settling.effects,
        deaf: None,
        noise: NoiseFloor::default(),
        awaits_quiet: false,
        switches: Switches::new(settling.timing),
    };
    let typed = settling.typed;
    if !running.settle.is_over() {
        running.listen(settling.microphone, (settling.ears)()?);
    }
    let end = runtime.block_on(running.run(typed))?;
    Ok((running.finish(end), end))
}

struct Running<'a, 'd> {
    settle: Settle,
    book: Book<'a>,
    words: Words,
    desk: &'d mut Desk,
    clock: Clock,
    mic: Option<Mic>,
    /// What is to be said first, and waits for the room's noise.
    first: Vec<Effect>,
    /// Why there is no microphone, while nothing was typed either.
    deaf: Option<DeviceError>,
    noise: NoiseFloor,
    /// Something is being said, after which an answer is waited for.
    awaits_quiet: bool,
    switches: Switches,
}

impl Running<'_, '_> {
    async fn run(&mut self, mut typing: Typing) -> anyhow::Result<LiveEnd> {
        let mut signals = Signals::new()?;
        if self.mic.is_none() {
            self.begin();
        }
        while !self.settle.is_over() {
            tokio::select! { biased;
                () = signals.stop() => return Ok(LiveEnd::Stopped),
                line = typing.next() => match line {
                    Some(typed) => {
                        if !matches!(typed, Typed::Trouble(_)) {
                            self.deaf = None;
                        }
                        let (now, switches) = (self.clock.now(), &mut self.switches);
                        let answers =
                            answers::typed(self.desk, typed, &self.words, switches, now);
                        self.answers(answers);
                    }
                    None => {
                        if let Some(error) = self.deaf.take() {
                            return Err(error.into());
                        }
                    }
                },
                () = tokio::time::sleep(TICK), if self.mic.is_none() => {
                    let now = self.clock.now();
                    self.pass_to(now, now);
                }
                message = Mic::next(&mut self.mic) => match message {
                    Some(message) => self.take(message),
                    None => {
                        self.desk.printer.remark("the microphone stopped; type the words");
                        self.mic = None;
                        self.begin();
                    }
                },
            }
        }
        Ok(LiveEnd::Finished)
    }

    fn begin(&mut self) {
        let first = std::mem::take(&mut self.first);
        self.carry_out(first);
    }

    /// Listens, if there is a microphone; without one the words may be typed.
    fn listen(&mut self, choice: DeviceChoice, ears: Ears) {
        match Mic::open(choice, ears, &self.clock) {
            Ok(mic) => self.mic = Some(mic),
            Err(error) => {
                self.desk.printer.remark(&format!("{error}; type the words instead"));
                self.deaf = Some(error);
            }
        }
    }

    fn finish(self, end: LiveEnd) -> Settle {
        if let Some(mic) = self.mic {
            mic.stop();
        }
        self.desk.goodbye(end == LiveEnd::Finished);
        self.settle
    }

    fn handle(&mut self, now: Duration, input: Input) {
        let effects = self.settle.handle(now, input);
        self.carry_out(effects);
    }

    fn carry_out(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            match effect {
                Effect::Say(line) => {
                    let text = self.desk.wording().settle(&line);
                    let at = self.desk.session_time().unwrap_or(At::ZERO);
                    self.desk.tell(at, text);
                    self.awaits_quiet = true;
                }
                Effect::Show(line) => {
                    let text = self.desk.wording().settle(&line);
                    self.desk.printer.remark(&text);
                }
                Effect::Settle { doubt, settled } => self.wrote(|book| book.settle(doubt, settled)),
                Effect::TakeBack { doubt } => self.wrote(|book| book.take_back(doubt)),
                Effect::Voice(change) => {
                    if let Some(sounds) = &mut self.desk.sounds {
                        sounds.change(change);
                    }
                }
                Effect::End => {}
            }
        }
    }

    fn wrote(&mut self, write: impl FnOnce(&mut Book<'_>) -> Result<bool, StoreError>) {
        let input = match write(&mut self.book) {
            Ok(true) => Input::Saved,
            Ok(false) => Input::Gone,
            Err(error) => Input::SaveFailed { why: error.to_string() },
        };
        // The clock's time is later than any answer's onset, so the next question begins now.
        self.handle(self.clock.now(), input);
    }

    fn answers(&mut self, answers: Vec<Answer>) {
        // Several tags in one breath are no answer to one question.
        if let [first, _, ..] = answers.as_slice() {
            let words = answers.iter().map(|answer| match &answer.what {
                What::Heard { words, .. } | What::Keyed { words, .. } | What::Unsure { words } => {
                    words.as_str()
                }
            });
            let words = words.collect::<Vec<_>>().join(" ");
            return self.handle(first.at, Input::Unsure { words });
        }
        for Answer { at, what } in answers {
            let input = match what {
                What::Heard { said, words } => Input::Said { said, words, keyed: false },
                What::Keyed { said, words } => Input::Said { said, words, keyed: true },
                What::Unsure { words } => Input::Unsure { words },
            };
            self.handle(at, input);
        }
    }

    fn take(&mut self, message: FromEars) {
        match message {
            FromEars::Heard(heard @ (Heard::Tags(_) | Heard::Doubt(_))) => {
                let answers = answers::heard(self.desk, heard);
                self.answers(answers);
            }
            FromEars::Passed(passed) => self.pass(passed),
            FromEars::Open { device } => {
                self.desk.printer.remark(&format!("listening on {device}"));
            }
            FromEars::Lost { why, .. } => {
                let text = format!("no sound ({why:?}); looking for the microphone");
                self.desk.printer.remark(&text);
            }
            FromEars::Heard(_) | FromEars::Gap(_) | FromEars::Dictated(_) => {}
        }
    }

    /// Ten times a second: levels, deadlines, and whether our own voice is silent.
    fn pass(&mut self, passed: Passed) {
        self.desk.set_time(passed.session, passed.now);
        self.noise.hear(passed.level_dbfs);
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.set_levels(passed.level_dbfs, self.noise.dbfs());
        }
        if passed.session.elapsed() >= LISTEN_FIRST {
            self.begin();
        }
        self.pass_to(passed.now, self.desk.clock_time(passed.settled));
    }

    /// It is `now`, and no word with an earlier onset than `settled` can still come.
    fn pass_to(&mut self, now: Duration, settled: Duration) {
        let speaking = self.desk.sounds.as_mut().is_some_and(Sounds::speaking);
        if self.awaits_quiet && !speaking {
            self.awaits_quiet = false;
            self.handle(now, Input::Quiet);
        }
        let pressed = self.switches.pass(now);
        let answers = answers::pressed(self.desk, pressed);
        self.answers(answers);
        let settled = self.switches.pending_since().map_or(settled, |since| since.min(settled));
        let effects = self.settle.pass(settled);
        self.carry_out(effects);
    }
}
