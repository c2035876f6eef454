//! What machines and the driver have in common: the desk, the microphone, what comes in, and the hands that carry out.

use std::time::Duration;

use minijinja::context;

use super::ears_thread::{Level, Passed};
use super::mic::Mic;
use super::{Desk, HeardTimes, Sounds};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::{DeviceError, microphone_is_there};
use crate::audio::microphone::{Gap, GapReason};
use crate::clock::Clock;
use crate::dialogue::VoiceChange;
use crate::hear::personal::{Take, Takes};
use crate::hear::{Ears, Heard};
use crate::interpret::switch::{Press, Pressed};
use crate::loudness::NoiseFloor;
use crate::machine::Machine;
use crate::wording::filled;

/// Something that came in.
#[derive(Debug)]
pub(super) enum Came {
    /// Heard.
    Heard(Heard),
    /// A segment of sound, in a lesson, and what the recogniser is sure that it is.
    Take { take: Take, taken_for: Option<String> },
    /// Dictated; empty when nothing was understood.
    Dictated(String),
    /// A line was typed in place of words.
    Line(String),
    /// A switch or a pedal was pressed.
    Pressed(Vec<Pressed>),
    /// How loud it was.
    Levels { levels: Vec<Level>, lost: u32 },
    /// Sound went away; it is looked for until it is back.
    Lost { at: At, why: GapReason },
    /// Sound was missing and is back.
    Gap(Gap),
    /// The microphone stopped; there is none now.
    Deaf,
    /// Nothing more can be typed, and there is no microphone.
    Nobody,
    /// What was to be said was heard to its end: an answer is waited for from now on.
    Quiet,
}

/// When something was said or pressed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    /// By the time of the sound.
    pub(super) at: At,
    /// What was heard has these, too.
    pub(super) times: Option<HeardTimes>,
}

/// Nothing that began before this moment can still come, neither by voice nor by a switch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Settled {
    /// By the steady clock.
    pub(super) clock: Duration,
    /// In session time.
    pub(super) session: At,
}

/// Something that a machine is told.
#[derive(Debug)]
pub(super) struct Told<I> {
    /// When it was, by the steady clock.
    pub(super) at: Duration,
    pub(super) input: I,
    /// When it was said, by the sound; what follows from it is carried out as of then.
    pub(super) onset: Option<Onset>,
}

impl<I> Told<I> {
    /// Told of `at`.
    pub(super) fn new(at: Duration, input: I) -> Self {
        Told { at, input, onset: None }
    }
}

/// What stands between a machine and the world. It translates and carries out; it decides nothing.
pub(super) trait Hands<M: Machine<Time = Duration>> {
    /// What the machine is told of something that came in.
    fn bring(
        &mut self,
        came: Came,
        machine: &M,
        stage: &mut Stage<'_>,
    ) -> anyhow::Result<Vec<Told<M::Input>>>;

    /// Carries out one effect, and returns what became of it.
    fn carry_out(
        &mut self,
        effect: M::Effect,
        onset: Option<Onset>,
        machine: &M,
        stage: &mut Stage<'_>,
    ) -> anyhow::Result<Vec<Told<M::Input>>>;

    /// Lets time pass for what the hands hold themselves.
    fn pass(
        &mut self,
        _settled: Settled,
        _machine: &M,
        _stage: &mut Stage<'_>,
    ) -> anyhow::Result<Vec<Told<M::Input>>> {
        Ok(Vec::new())
    }

    /// When they want to be woken; it is `now`.
    fn wake_at(&self, _now: Duration) -> Option<Duration> {
        None
    }

    /// When they have something to do in session time, as far as that is settled.
    fn due_at(&self) -> Option<At> {
        None
    }

    /// Whether they want every level as it is taken, ten a second, and not only those of a second at once.
    fn wants_levels(&self, _stage: &Stage<'_>) -> bool {
        false
    }

    /// Whether this press asks for what can be taken, where nothing is asked.
    fn opens_menu(&self, press: Press, _machine: &M) -> bool {
        press == Press::Long
    }

    /// Whether the next effect has to wait, for a sound that is not over.
    fn hold(&mut self, _stage: &mut Stage<'_>) -> bool {
        false
    }

    /// Whether nothing more is to be driven.
    fn is_over(&self, machine: &M) -> bool;
}

/// What is shared by all that is driven.
pub(super) struct Stage<'d> {
    pub(super) desk: &'d mut Desk,
    pub(super) clock: Clock,
    pub(super) mic: Option<Mic>,
    pub(super) noise: NoiseFloor,
    /// Why there is no microphone, while nothing was typed either.
    pub(super) deaf: Option<DeviceError>,
    /// What is added to the time of the sound to make it the session's, after a resume.
    pub(super) offset: Duration,
    /// Session time, as far as the sound has come.
    pub(super) latest: At,
    /// Up to where all that is heard is decided, by the time of the sound.
    heard_to: At,
    /// Without a microphone: when the session's time began, by the steady clock.
    by_clock: Option<Duration>,
    /// Something is being said, after which an answer is waited for.
    pub(super) awaits_quiet: bool,
}

impl<'d> Stage<'d> {
    /// A stage without a microphone.
    pub(super) fn new(desk: &'d mut Desk, clock: &Clock) -> Self {
        Stage {
            desk,
            clock: clock.clone(),
            mic: None,
            noise: NoiseFloor::default(),
            deaf: None,
            offset: Duration::ZERO,
            latest: At::ZERO,
            heard_to: At::ZERO,
            by_clock: None,
            awaits_quiet: false,
        }
    }

    /// Listens. Session time starts at zero.
    ///
    /// # Errors
    /// The microphone cannot be opened.
    pub(super) fn listen(&mut self, choice: DeviceChoice, ears: Ears) -> Result<(), DeviceError> {
        self.open(choice, ears, None)
    }

    /// Listens, and cuts the sound into takes as well.
    ///
    /// # Errors
    /// The microphone cannot be opened.
    pub(super) fn listen_for_takes(
        &mut self,
        choice: DeviceChoice,
        ears: Ears,
    ) -> Result<(), DeviceError> {
        self.open(choice, ears, Some(Takes::default()))
    }

    fn open(
        &mut self,
        choice: DeviceChoice,
        ears: Ears,
        takes: Option<Takes>,
    ) -> Result<(), DeviceError> {
        self.mic = Some(Mic::open(choice, ears, takes, &self.clock)?);
        self.noise = NoiseFloor::default();
        self.by_clock = None;
        (self.offset, self.latest, self.heard_to) = (Duration::ZERO, At::ZERO, At::ZERO);
        Ok(())
    }

    /// Listens, if there is a microphone; without one the words may be typed, which is said, and session time, which starts
    /// at zero, goes by the clock. Ears take their time, so they are made only where there is something to hear.
    ///
    /// # Errors
    /// There can be no ears.
    pub(super) fn listen_or_type(
        &mut self,
        choice: DeviceChoice,
        ears: impl FnOnce() -> anyhow::Result<Ears>,
        what: &str,
    ) -> anyhow::Result<()> {
        let listens = match microphone_is_there(&choice) {
            Ok(()) => self.listen(choice, ears()?),
            absent => absent,
        };
        if let Err(error) = listens {
            self.type_only(error, what);
        }
        Ok(())
    }

    /// There is no microphone for this reason, which is said once.
    pub(super) fn type_only(&mut self, why: DeviceError, what: &str) {
        if self.by_clock.is_none() {
            let values = context! { error => why.to_string() };
            self.desk.printer.remark(&filled(&format!("screen.type_the_{what}"), values));
        }
        self.deaf = Some(why);
        self.by_clock = Some(self.clock.now());
        self.offset = Duration::ZERO;
        self.tick();
    }

    /// Whether there is no microphone, and words are typed or pressed.
    pub(super) fn goes_by_clock(&self) -> bool {
        self.by_clock.is_some()
    }

    /// Without a microphone session time goes by the clock.
    pub(super) fn tick(&mut self) {
        let Some(began) = self.by_clock.filter(|_| self.mic.is_none()) else { return };
        let now = self.clock.now();
        self.latest = At::ZERO + now.saturating_sub(began) + self.offset;
        self.desk.set_time(self.latest, now);
    }

    /// Says and shows a text; an answer to it is waited for when it was heard.
    pub(super) fn ask(&mut self, text: String) {
        let at = self.desk.session_time().unwrap_or(At::ZERO);
        self.desk.tell(at, text);
        self.awaits_quiet = true;
    }

    /// Whether our own voice sounds, or may still be heard in the room.
    pub(super) fn speaking(&mut self) -> bool {
        self.desk.sounds.as_mut().is_some_and(Sounds::speaking)
    }

    /// Speaks otherwise from now on.
    pub(super) fn change(&mut self, change: VoiceChange) {
        if let Some(sounds) = &mut self.desk.sounds {
            sounds.change(change);
        }
    }

    /// Tells that sound went away.
    pub(super) fn tell_lost(&mut self, why: GapReason) {
        let why = format!("{why:?}");
        self.desk.printer.remark(&filled("screen.lost", context! { why }));
    }

    /// How loud it is now: so our own voice is known, and nudges follow the room.
    pub(super) fn hear_level(&mut self, passed: &Passed) {
        self.latest = passed.session + self.offset;
        self.heard_to = passed.settled;
        self.desk.set_time(self.latest, passed.now);
        for level in &passed.levels {
            self.noise.hear(level.dbfs);
            if let Some(sounds) = &mut self.desk.sounds {
                sounds.set_level(level.at, level.dbfs, self.noise.dbfs());
            }
        }
    }

    /// Wants to be told by the hearing thread: every level while our own voice sounds, which is known by them, or when
    /// `levels` are wanted; and that it has come up to `due`, by the steady clock, or to `due_at`, in session time.
    pub(super) fn want(&mut self, levels: bool, due: Option<Duration>, due_at: Option<At>) {
        let levels = levels || self.speaking();
        let due = due.and_then(|due| self.desk.session_at(due));
        let settled = due.into_iter().chain(due_at).min().map(|at| at.back(self.offset));
        if let Some(mic) = &self.mic {
            mic.want(levels, settled);
        }
    }

    /// What is settled `now`, while a press that began at `pending` is not known yet.
    pub(super) fn settled(&self, now: Duration, pending: Option<Duration>) -> Settled {
        let session = match self.mic {
            Some(_) => self.heard_to + self.offset,
            None => self.latest,
        };
        let clock = self.mic.as_ref().map_or(now, |_| self.desk.clock_time(session));
        let begun = pending.and_then(|since| self.desk.session_at(since));
        Settled {
            clock: pending.map_or(clock, |since| since.min(clock)),
            session: begun.map_or(session, |since| since.min(session)),
        }
    }
}
