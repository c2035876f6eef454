//! Carries out the quiz of sounds: plays and speaks one after the other, and listens.

use std::collections::VecDeque;
use std::time::Duration;

use anyhow::Context;

use super::answers::{self, Answer, What};
use super::ears_thread::{FromEars, Passed};
use super::mic::Mic;
use super::signals::Signals as Stops;
use super::{Desk, LiveEnd, Sounds, Typing};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::hear::{Ears, Heard};
use crate::interpret::pedal::Switches;
use crate::interpret::switch::Timing;
use crate::nudge::loudness::NoiseFloor;
use crate::nudge::signals::Signals;
use crate::plan::Words;
use crate::quiz::{Effect, Input, Quiz};
use crate::session::NudgeFamily;

/// Between a sound and the words about it.
const AFTER_A_SOUND: Duration = Duration::from_millis(400);
/// Time passes in these steps.
const TICK: Duration = Duration::from_millis(50);

/// What the quiz is made of.
pub struct Quizzing {
    /// The questions, and what they ask for first.
    pub quiz: Quiz,
    /// See `quiz`.
    pub effects: Vec<Effect>,
    /// The microphone.
    pub microphone: DeviceChoice,
    /// Ears for the words; without them answers are typed or pressed.
    pub ears: Option<Ears>,
    /// The words.
    pub words: Words,
    /// What is typed in place of words.
    pub typed: Typing,
    /// What tells presses of a switch apart.
    pub timing: Timing,
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
pub fn quiz(quizzing: Quizzing, desk: &mut Desk, clock: &Clock) -> anyhow::Result<(Quiz, LiveEnd)> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the system gives no event loop")?;
    let mut running = Running {
        quiz: quizzing.quiz,
        words: quizzing.words,
        desk,
        clock: clock.clone(),
        mic: None,
        waiting: quizzing.effects.into(),
        sounds_until: Duration::ZERO,
        noise: NoiseFloor::default(),
        awaits_quiet: false,
        switches: Switches::new(quizzing.timing),
        signals: Signals::built_in(),
    };
    if let Some(ears) = quizzing.ears {
        running.listen(quizzing.microphone, ears);
    }
    let end = runtime.block_on(running.run(quizzing.typed))?;
    Ok((running.finish(end), end))
}

struct Running<'d> {
    quiz: Quiz,
    words: Words,
    desk: &'d mut Desk,
    clock: Clock,
    mic: Option<Mic>,
    /// What is still to be played or said; answers wait until that is done.
    waiting: VecDeque<Effect>,
    /// A sound of ours is heard until then.
    sounds_until: Duration,
    noise: NoiseFloor,
    awaits_quiet: bool,
    switches: Switches,
    signals: Signals,
}

impl Running<'_> {
    async fn run(&mut self, mut typing: Typing) -> anyhow::Result<LiveEnd> {
        let mut stops = Stops::new()?;
        loop {
            self.go_on();
            if self.quiz.is_over() && self.waiting.is_empty() {
                return Ok(LiveEnd::Finished);
            }
            tokio::select! { biased;
                () = stops.stop() => return Ok(LiveEnd::Stopped),
                line = typing.next(), if self.waiting.is_empty() => match line {
                    Some(typed) => {
                        let (now, switches) = (self.clock.now(), &mut self.switches);
                        let answers = answers::typed(self.desk, typed, &self.words, switches, now);
                        self.answers(answers);
                    }
                    None if self.mic.is_none() => {
                        anyhow::bail!("nobody answers: there is neither a microphone nor a line typed");
                    }
                    None => {}
                },
                () = tokio::time::sleep(TICK) => self.pass(),
                message = Mic::next(&mut self.mic) => match message {
                    Some(message) => self.take(message),
                    None => {
                        self.desk.printer.remark("the microphone stopped; type the numbers");
                        self.mic = None;
                    }
                },
            }
        }
    }

    fn listen(&mut self, choice: DeviceChoice, ears: Ears) {
        match Mic::open(choice, ears, &self.clock) {
            Ok(mic) => self.mic = Some(mic),
            Err(error) => {
                self.desk.printer.remark(&format!("{error}; type the numbers instead"));
            }
        }
    }

    fn finish(self, end: LiveEnd) -> Quiz {
        if let Some(mic) = self.mic {
            mic.stop();
        }
        self.desk.goodbye(end == LiveEnd::Finished);
        self.quiz
    }

    /// Carries out what waits, each after the last has sounded.
    fn go_on(&mut self) {
        while !self.sounding() {
            let Some(effect) = self.waiting.pop_front() else { return };
            match effect {
                Effect::Play(family) => self.play(family),
                Effect::Say(line) => {
                    let text = self.desk.wording().quiz(&line);
                    let at = self.desk.session_time().unwrap_or(At::ZERO);
                    self.desk.tell(at, text);
                    self.awaits_quiet = true;
                }
                Effect::Voice(change) => {
                    if let Some(sounds) = &mut self.desk.sounds {
                        sounds.change(change);
                    }
                }
                Effect::End => {}
            }
        }
    }

    fn play(&mut self, family: NudgeFamily) {
        let nudge = self.signals.get(family.into());
        let Some(sounds) = &mut self.desk.sounds else {
            // For whoever sees or feels them: the rhythm in place of the sound.
            return self.desk.printer.remark(&format!("~ {}", nudge.rhythm_in_words()));
        };
        let length = Duration::from_millis(nudge.length_ms().into());
        sounds.signal(family.into());
        self.sounds_until = self.clock.now() + length + AFTER_A_SOUND;
    }

    fn sounding(&mut self) -> bool {
        let speaks = self.desk.sounds.as_mut().is_some_and(Sounds::speaking);
        speaks || self.clock.now() < self.sounds_until
    }

    fn handle(&mut self, now: Duration, input: Input) {
        let effects = self.quiz.handle(now, input);
        self.waiting.extend(effects);
        self.go_on();
    }

    fn answers(&mut self, answers: Vec<Answer>) {
        // Several tags in one breath are no answer to one question.
        let [Answer { at, what }] = answers.as_slice() else { return };
        let (said, keyed) = match what {
            What::Heard { said, .. } => (said.clone(), false),
            What::Keyed { said, .. } => (said.clone(), true),
            What::Unsure { words } => {
                return self.desk.printer.remark(&format!("not sure what was said: {words}"));
            }
        };
        self.handle(*at, Input::Said { said, keyed });
    }

    fn take(&mut self, message: FromEars) {
        match message {
            FromEars::Heard(heard @ (Heard::Tags(_) | Heard::Doubt(_)))
                if self.waiting.is_empty() =>
            {
                let answers = answers::heard(self.desk, heard);
                self.answers(answers);
            }
            FromEars::Passed(passed) => self.levels(passed),
            FromEars::Open { device } => {
                self.desk.printer.remark(&format!("listening on {device}"));
            }
            _ => {}
        }
    }

    fn levels(&mut self, passed: Passed) {
        self.desk.set_time(passed.session, passed.now);
        self.noise.hear(passed.level_dbfs);
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.set_levels(passed.level_dbfs, self.noise.dbfs());
        }
        self.pass_to(self.desk.clock_time(passed.settled));
    }

    /// A tick: whether our own voice is silent, what a switch comes to, and, without a microphone, the time.
    fn pass(&mut self) {
        let now = self.clock.now();
        if self.awaits_quiet && self.waiting.is_empty() && !self.sounding() {
            self.awaits_quiet = false;
            self.handle(now, Input::Quiet);
        }
        if self.waiting.is_empty() {
            let pressed = self.switches.pass(now);
            let answers = answers::pressed(self.desk, pressed);
            self.answers(answers);
        }
        if self.mic.is_none() {
            self.pass_to(now);
        }
    }

    /// No word with an earlier onset than `settled` can still come.
    fn pass_to(&mut self, settled: Duration) {
        let settled = self.switches.pending_since().map_or(settled, |since| since.min(settled));
        let effects = self.quiz.pass(settled);
        self.waiting.extend(effects);
    }
}
