//! The one driver: it owns microphone, keys, clock and speech, and drives whichever [`Machine`] is on.
//!
//! What comes in is brought to the machine by its [`Hands`], which also carry out what the machine asks for; they
//! decide nothing. Between two events the driver sleeps: until something is heard, typed or pressed, or until the
//! earliest moment that machine, hands or switch want to be woken at. While there is a microphone, the machine's own
//! deadlines are reached by the sound and not by the clock: a question only runs out when no answer given in time can
//! still come.

use std::collections::VecDeque;
use std::time::Duration;

use anyhow::Context;
use minijinja::context;

use super::ears_thread::FromEars;
use super::mic::Mic;
use super::signals::Signals;
use super::stage::{Came, Hands, Onset, Stage, Told};
use super::talk::Heeding;
use super::typing::KeepPace;
use super::{Desk, LiveEnd, Switching, Typed, Typing};
use crate::audio::choice::DeviceChoice;
use crate::audio::device::{DeviceError, microphone_is_there};
use crate::clock::Clock;
use crate::hear::Ears;
use crate::interpret::pedal::Switches;
use crate::machine::Machine;
use crate::scan::Scanner;
use crate::wording::filled;

/// While our own voice or a sound is waited for, it is looked this often whether it is over.
pub(super) const LOOK: Duration = Duration::from_millis(50);

/// The driver.
pub(super) struct Driver<'d> {
    pub(super) stage: Stage<'d>,
    typing: Typing,
    pub(super) switches: Switches,
    /// How long each choice may be taken after it was read, and whether a switch was used last.
    pub(super) pace: Duration,
    pub(super) keep_pace: KeepPace,
    pub(super) by_switch: bool,
    signals: Signals,
}

/// Does this in the event loop that there is while something is driven.
///
/// # Errors
/// The system gives none; whatever the work runs into.
pub(super) fn block_on<T>(work: impl Future<Output = anyhow::Result<T>>) -> anyhow::Result<T> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the system gives no event loop")?;
    runtime.block_on(work)
}

impl<'d> Driver<'d> {
    /// A driver without a microphone yet. Made in the event loop.
    ///
    /// # Errors
    /// The system has no signals.
    pub(super) fn new(
        desk: &'d mut Desk,
        clock: &Clock,
        typing: Typing,
        switch: Switching,
    ) -> anyhow::Result<Self> {
        let Switching { settings, keep_pace } = switch;
        let stage = Stage::new(desk, clock);
        let (switches, signals) = (Switches::new(settings.timing()), Signals::new()?);
        let pace = settings.pace();
        Ok(Driver { stage, typing, switches, pace, keep_pace, by_switch: false, signals })
    }

    /// Why there is nothing to hear; none where nothing but hearing could be of help.
    pub(super) fn deaf(&self, choice: &DeviceChoice) -> Option<DeviceError> {
        microphone_is_there(choice).err().filter(|_| !self.typing.is_over())
    }

    /// Listens, or else waits for what is typed or pressed.
    ///
    /// # Errors
    /// There is no microphone, and nothing can be typed or pressed either.
    pub(super) fn listen_or_type(
        &mut self,
        choice: DeviceChoice,
        ears: Heeding,
    ) -> anyhow::Result<()> {
        match ears {
            Ok(ears) if self.typing.is_over() => Ok(self.stage.listen(choice, ears)?),
            Ok(ears) => {
                if let Err(why) = self.stage.listen(choice, ears) {
                    self.stage.type_only(why, "words");
                }
                Ok(())
            }
            Err(why) => {
                self.stage.type_only(why, "words");
                Ok(())
            }
        }
    }

    /// This machine, with these hands, on the stage.
    pub(super) fn on<'a, M, H>(
        &'a mut self,
        machine: &'a mut M,
        hands: &'a mut H,
    ) -> Driven<'a, 'd, M, H>
    where
        M: Machine<Time = Duration>,
        H: Hands<M>,
    {
        let scanner = Scanner::new(self.pace).after_a_press(self.by_switch);
        Driven { driver: self, machine, hands, scanner, waiting: VecDeque::new() }
    }

    /// Drives a machine to its end, then lets the microphone go.
    ///
    /// # Errors
    /// What its hands cannot do without.
    pub(super) async fn until_over<M, H>(
        &mut self,
        machine: &mut M,
        hands: &mut H,
        first: Vec<M::Effect>,
    ) -> anyhow::Result<LiveEnd>
    where
        M: Machine<Time = Duration>,
        H: Hands<M>,
    {
        let mut driven = self.on(machine, hands);
        driven.then(first);
        let end = driven.run().await;
        if let Some(mic) = self.stage.mic.take() {
            mic.stop();
        }
        self.stage.awaits_quiet = false;
        end
    }

    /// Lets the ear go, once the last sentence has been read.
    pub(super) fn goodbye(self, end: LiveEnd) {
        self.stage.desk.goodbye(end == LiveEnd::Finished);
    }

    /// Whether nothing can come any more: there was no microphone, and what was typed is at its end.
    pub(super) fn is_deserted(&self) -> bool {
        self.typing.is_over() && self.stage.goes_by_clock()
    }
}

/// What is to be done next.
enum Next<M: Machine> {
    Tell(Told<M::Input>),
    CarryOut(M::Effect, Option<Onset>),
}

/// A machine being driven.
pub(super) struct Driven<'a, 'd, M: Machine, H> {
    pub(super) driver: &'a mut Driver<'d>,
    pub(super) machine: &'a mut M,
    pub(super) hands: &'a mut H,
    /// Reads to whoever has one switch what can be taken.
    pub(super) scanner: Scanner<M::Input>,
    /// What is still to be done, in order; answers wait until it is.
    waiting: VecDeque<Next<M>>,
}

impl<'d, M, H> Driven<'_, 'd, M, H>
where
    M: Machine<Time = Duration>,
    H: Hands<M>,
{
    /// What the hands find by themselves is passed on.
    ///
    /// # Errors
    /// What the hands cannot do without.
    pub(super) fn by_hand(
        &mut self,
        find: impl FnOnce(&mut H, &mut Stage<'d>) -> Vec<Told<M::Input>>,
    ) -> anyhow::Result<()> {
        let told = find(self.hands, &mut self.driver.stage);
        self.tell(told)
    }

    /// Lets the microphone go; what was said up to now still counts. Gives the ears back.
    ///
    /// # Errors
    /// What the hands cannot do without.
    pub(super) fn stop_listening(&mut self) -> anyhow::Result<Option<Ears>> {
        let Some(mic) = self.driver.stage.mic.take() else { return Ok(None) };
        let (ears, rest) = mic.stop();
        for message in rest {
            self.heard(message)?;
        }
        Ok(ears)
    }

    /// Until it is over, or until the program is told to stop.
    ///
    /// # Errors
    /// What its hands cannot do without.
    pub(super) async fn run(&mut self) -> anyhow::Result<LiveEnd> {
        loop {
            self.pass()?;
            if self.waiting.is_empty() && self.hands.is_over(self.machine) {
                return Ok(LiveEnd::Finished);
            }
            let wake_at = self.wake_at();
            let levels = self.hands.wants_levels(&self.driver.stage);
            let (due, due_at) = (self.machine.wake_at(), self.hands.due_at());
            self.driver.stage.want(levels, due, due_at);
            let answers = self.waiting.is_empty();
            let Driver { stage, typing, signals, .. } = &mut *self.driver;
            let now = stage.clock.now();
            tokio::select! { biased;
                () = signals.stop() => return Ok(LiveEnd::Stopped),
                typed = typing.next(), if answers => self.typed(typed)?,
                message = Mic::next(&mut stage.mic) => match message {
                    Some(message) => self.heard(message)?,
                    None => {
                        self.driver.stage.mic = None;
                        self.bring(Came::Deaf)?;
                    }
                },
                () = sleep_until(wake_at, now) => {}
            }
        }
    }

    /// The earliest moment at which anything has to be done.
    fn wake_at(&self) -> Option<Duration> {
        let stage = &self.driver.stage;
        let now = stage.clock.now();
        // With a microphone they are reached by the sound; and nothing is due while a press is not over.
        let switches = &self.driver.switches;
        let by_clock = stage.mic.is_none() && switches.pending_since().is_none();
        let machine = self.machine.wake_at().filter(|_| by_clock);
        let due_at = self.hands.due_at().filter(|_| by_clock);
        let in_session = due_at.map(|due| stage.desk.clock_time(due));
        let sounding = (stage.awaits_quiet || !self.waiting.is_empty()).then_some(now + LOOK);
        let choosing = self.scanner.wake_at();
        let quiet = self.scanner.awaits_quiet().then_some(now + LOOK);
        let hands = self.hands.wake_at(now);
        let of_switch = [switches.wake_at(), choosing, quiet];
        let all = [machine, in_session, sounding, hands].into_iter().chain(of_switch);
        all.flatten().min()
    }

    fn typed(&mut self, typed: Option<Typed>) -> anyhow::Result<()> {
        let Driver { stage, switches, .. } = &mut *self.driver;
        stage.tick();
        if !matches!(typed, None | Some(Typed::Trouble(_))) {
            stage.deaf = None;
        }
        let pressed = match typed {
            Some(Typed::Line(line)) => {
                stage.desk.printer.draft("");
                self.scanner.said();
                return self.bring(Came::Line(line));
            }
            Some(Typed::Draft(line)) => {
                stage.desk.printer.draft(&line);
                return Ok(());
            }
            Some(Typed::Trouble(trouble)) => {
                stage.desk.printer.remark(&trouble);
                return Ok(());
            }
            None if stage.mic.is_none() => return self.bring(Came::Nobody),
            None => return Ok(()),
            Some(Typed::Key(at)) => switches.key.key(at),
            Some(Typed::Pedal { down: true, at }) => switches.pedal.down(at),
            Some(Typed::Pedal { down: false, at }) => switches.pedal.up(at),
        };
        self.pressed(pressed)
    }

    /// Whether nothing waits to be told or carried out.
    pub(super) fn is_free(&self) -> bool {
        self.waiting.is_empty()
    }

    /// What the hearing thread reported.
    fn heard(&mut self, message: FromEars) -> anyhow::Result<()> {
        let stage = &mut self.driver.stage;
        if matches!(message, FromEars::Heard(_) | FromEars::Dictated(_)) {
            self.scanner.said();
        }
        let came = match message {
            FromEars::Open { device } => {
                let told = filled("screen.listening_on", context! { device });
                stage.desk.printer.remark(&told);
                return Ok(());
            }
            // Nothing was asked yet that it could answer, and whoever is still being told is not interrupted.
            FromEars::Heard(_) if !self.waiting.is_empty() => return Ok(()),
            FromEars::Heard(heard) => Came::Heard(heard),
            FromEars::Take { take, taken_for } => Came::Take { take, taken_for },
            FromEars::Dictated(text) => Came::Dictated(text),
            FromEars::Lost { at, why } => Came::Lost { at, why },
            FromEars::Gap(gap) => Came::Gap(gap),
            FromEars::Passed(passed) => {
                stage.hear_level(&passed);
                Came::Levels { levels: passed.levels, lost: passed.lost }
            }
        };
        self.bring(came)
    }

    pub(super) fn bring(&mut self, came: Came) -> anyhow::Result<()> {
        let told = self.hands.bring(came, self.machine, &mut self.driver.stage)?;
        self.tell(told)
    }

    /// Tells the machine, and carries out what it asks for.
    pub(super) fn tell(&mut self, told: Vec<Told<M::Input>>) -> anyhow::Result<()> {
        self.waiting.extend(told.into_iter().map(Next::Tell));
        self.work()
    }

    /// These effects come next.
    pub(super) fn then(&mut self, effects: Vec<M::Effect>) {
        let effects = effects.into_iter().map(|effect| Next::CarryOut(effect, None));
        self.waiting.extend(effects);
    }

    /// Does what waits, as far as that is possible now. What follows from something comes right after it.
    pub(super) fn work(&mut self) -> anyhow::Result<()> {
        while let Some(next) = self.waiting.front() {
            let stage = &mut self.driver.stage;
            if matches!(next, Next::CarryOut(..)) && self.hands.hold(stage) {
                break;
            }
            let follows: Vec<Next<M>> = match self.waiting.pop_front() {
                Some(Next::Tell(Told { at, input, onset })) => {
                    let effects = self.machine.handle(at, input).into_iter();
                    effects.map(|effect| Next::CarryOut(effect, onset)).collect()
                }
                Some(Next::CarryOut(effect, onset)) => {
                    let told = self.hands.carry_out(effect, onset, self.machine, stage)?;
                    told.into_iter().map(Next::Tell).collect()
                }
                None => break,
            };
            for next in follows.into_iter().rev() {
                self.waiting.push_front(next);
            }
        }
        Ok(())
    }

    /// Lets time pass: whether our own voice is silent, what a switch comes to, and what comes due.
    fn pass(&mut self) -> anyhow::Result<()> {
        self.driver.stage.tick();
        self.work()?;
        if self.waiting.is_empty() {
            let stage = &mut self.driver.stage;
            if stage.awaits_quiet && !self.hands.hold(stage) && !stage.speaking() {
                stage.awaits_quiet = false;
                self.bring(Came::Quiet)?;
            }
            let pressed = self.driver.switches.pass(self.driver.stage.clock.now());
            if !pressed.is_empty() {
                self.pressed(pressed)?;
            }
        }
        self.choose()?;
        let Driver { stage, switches, .. } = &mut *self.driver;
        let settled = stage.settled(stage.clock.now(), switches.pending_since());
        let told = self.hands.pass(settled, self.machine, stage)?;
        self.tell(told)?;
        let effects = self.machine.pass(settled.clock);
        self.then(effects);
        self.work()
    }
}

async fn sleep_until(wake_at: Option<Duration>, now: Duration) {
    match wake_at {
        Some(wake_at) => tokio::time::sleep(wake_at.saturating_sub(now)).await,
        None => std::future::pending().await,
    }
}
