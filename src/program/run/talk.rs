//! The whole dialogue: from phase to phase, each with the words that it needs.

use super::aside::perform;
use super::driver::{Driver, block_on};
use super::live::{Left, Live, PhaseEnd, Start};
use super::phase::{Phase, phase_of};
use super::{Answering, Desk, Devices, OnStage, Recorder, Resumable, Unfinished};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::audio::device::DeviceError;
use crate::clock::Clock;
use crate::dialogue::{
    Aside, Choice, Dialogue, DialogueEffect, DialogueInput, DialogueLine, Draft,
};
use crate::hear::Ears;
use crate::machine::Machine;
use crate::plan::{Described, Fresh, Plan, PlanChange, Words};

/// How a live run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiveEnd {
    /// The trainer finished the session or asked to close down.
    Finished,
    /// The program was told to stop (Ctrl-C, or by the system).
    Stopped,
}

/// Makes ears, which takes a while.
pub type MakeEars = Box<dyn FnOnce() -> anyhow::Result<Ears>>;

/// A plan ready to train with.
pub struct Chosen {
    /// The plan, with everybody who may take over.
    pub plan: Plan,
    /// Others that can be turned to in mid-session; the recorder has a lane for each.
    pub others: Vec<Plan>,
    /// Ears for its words, if they are wanted.
    pub ears: Option<Ears>,
    /// The record of its sessions.
    pub recorder: Option<Recorder>,
    /// Sessions of the animal that have no end.
    pub unfinished: Unfinished,
}

/// Where plans and ears come from.
pub trait Shelf {
    /// Ears for choosing: numbers, names and commands.
    ///
    /// # Errors
    /// No speech model, or a word that it does not know.
    fn lobby_ears(&mut self) -> anyhow::Result<Ears>;
    /// The plan with this index among the choices, with ears if it `hears`.
    ///
    /// # Errors
    /// It cannot be read or used; the message is read to the trainer.
    fn load(&mut self, index: usize, hears: bool) -> anyhow::Result<Chosen>;
    /// Ears for a plan as it once was.
    ///
    /// # Errors
    /// No speech model, or a word that it does not know.
    fn ears(&mut self, plan: &Plan) -> anyhow::Result<Ears>;
    /// The words of a plan, with everybody who may take over.
    fn words_with_names(&self, plan: &Plan, others: &[Plan]) -> Words;
    /// Keeps what was said of a plan that is half made, or keeps nothing of one any more.
    ///
    /// # Errors
    /// It cannot be written.
    fn keep_draft(&mut self, draft: Option<&Draft>) -> anyhow::Result<()>;
    /// Writes a new plan, which becomes the last of the choices.
    ///
    /// # Errors
    /// It cannot be written; the message is read to the trainer, as it is of all that follow.
    fn make(&mut self, new: &Fresh) -> anyhow::Result<Choice>;
    /// What a change of the plan with this index comes to; nothing is changed.
    ///
    /// # Errors
    /// It cannot be made.
    fn try_change(&mut self, index: usize, change: &PlanChange) -> anyhow::Result<Described>;
    /// Changes the plan with this index, and gives what can be chosen now.
    ///
    /// # Errors
    /// It cannot be made, or not be written.
    fn change(&mut self, index: usize, change: &PlanChange) -> anyhow::Result<Choice>;
    /// Writes a report of the animal of this plan, and says where it lies.
    ///
    /// # Errors
    /// There is nothing to report yet, or it cannot be written.
    fn report(&mut self, index: usize) -> anyhow::Result<String>;
    /// Copies the record, and says where the copy lies.
    ///
    /// # Errors
    /// It cannot be written.
    fn backup(&mut self) -> anyhow::Result<String>;
    /// What this aside is made of, with the plan of this index where one is chosen.
    ///
    /// # Errors
    /// It cannot be begun; the message is read to the trainer.
    fn aside(&mut self, aside: Aside, index: Option<usize>) -> anyhow::Result<OnStage>;
    /// After an aside: learnt sounds are used from now on. These are the devices now, after a sound check that `saved`
    /// what it found those of the settings.
    ///
    /// # Errors
    /// The settings or what was learnt cannot be read.
    fn after_aside(&mut self, saved: bool) -> anyhow::Result<Devices>;
}

/// What a run is made of.
pub struct Talk<'a> {
    /// Plans and ears.
    pub shelf: &'a mut dyn Shelf,
    /// The dialogue, and what it asks for first.
    pub dialogue: Dialogue,
    /// See `dialogue`.
    pub effects: Vec<DialogueEffect>,
    /// Whether the program ends with the first session.
    pub once: bool,
    /// How the trainer answers.
    pub answering: Answering,
}

/// Listens until the trainer closes down, the only session is finished, or the program is told to stop.
///
/// # Errors
/// When the microphone cannot be opened at all, or there are no ears for choosing.
pub fn talk(talk: Talk<'_>, desk: &mut Desk, clock: &Clock) -> anyhow::Result<LiveEnd> {
    block_on(phases(talk, desk, clock))
}

/// What hears in a phase; or why nothing does, and words are typed.
pub(super) type Heeding = Result<Ears, DeviceError>;

async fn phases(talk: Talk<'_>, desk: &mut Desk, clock: &Clock) -> anyhow::Result<LiveEnd> {
    let Talk { shelf, mut dialogue, mut effects, once, answering } = talk;
    let Answering { mut microphone, typed, switch } = answering;
    let settings = switch.settings;
    let mut driver = Driver::new(desk, clock, typed, switch)?;
    let mut lobby_ears: Option<Ears> = None;
    // The plan used last, and what hears its words while that is not in use.
    let mut last: Option<(usize, Plan, Option<Heeding>)> = None;
    let mut others: Vec<Plan> = Vec::new();
    let mut deferred = Vec::new();
    // A session that the next phase goes on with, by the words of the plan that it began with.
    let mut going_on: Option<Resumable> = None;
    loop {
        let phase = phase_of(&dialogue);
        let resumable = going_on.take();
        let old = resumable.as_ref().and_then(|old| old_ears(shelf, old, &mut driver, &microphone));
        let (goes_on, by_old_words) = (resumable.is_some(), old.is_some());
        let (plan, ears, unfinished) = match phase {
            Phase::Over => return Ok(LiveEnd::Finished),
            Phase::Lobby => {
                let ears = match lobby_ears.take() {
                    Some(ears) => Ok(ears),
                    // Ears take their time, so none are made where there is nothing to hear.
                    None => match driver.deaf(&microphone) {
                        Some(why) => Err(why),
                        None => Ok(shelf.lobby_ears()?),
                    },
                };
                // What is noted while choosing still belongs to the plan chosen before.
                let plan = last.as_ref().map_or_else(Plan::of_default_words, |last| last.1.clone());
                (plan, ears, Unfinished::default())
            }
            Phase::Plan(index) => match last.take() {
                Some((used, plan, Some(ears)))
                    if used == index && (ears.is_ok() || driver.deaf(&microphone).is_some()) =>
                {
                    let resumable = resumable.map(Resumable::with_these_ears);
                    let (ears, kept) = match old {
                        Some(old) => (old, Some(ears)),
                        None => (ears, None),
                    };
                    last = Some((used, plan.clone(), kept));
                    (plan, ears, Unfinished { resumable, ..Unfinished::default() })
                }
                _ => match load(shelf, index, driver.deaf(&microphone)) {
                    Ok((chosen, ears)) => {
                        driver.stage.desk.recorder = chosen.recorder;
                        last = Some((index, chosen.plan.clone(), None));
                        others = chosen.others;
                        (chosen.plan, ears, chosen.unfinished)
                    }
                    // With one plan only there is nothing else to choose.
                    Err(error) if once => return Err(error),
                    Err(error) => {
                        let reason = format!("{error:#}");
                        effects = dialogue.handle(clock.now(), DialogueInput::Unusable { reason });
                        continue;
                    }
                },
            },
        };
        let start = Start {
            plan,
            others: if phase == Phase::Lobby { Vec::new() } else { others.clone() },
            phase,
            once,
            unfinished,
            ears,
            microphone: microphone.clone(),
            effects: std::mem::take(&mut effects),
            deferred: if phase == Phase::Lobby {
                Vec::new()
            } else {
                std::mem::take(&mut deferred)
            },
            goes_on,
            switch: settings,
        };
        let left: Left = Live::phase(start, &mut *shelf, &mut dialogue, &mut driver).await?;
        effects = left.later;
        deferred.extend(left.deferred);
        going_on = left.going_on;
        match phase {
            Phase::Lobby => lobby_ears = left.ears.and_then(Result::ok),
            _ if by_old_words => {}
            _ => {
                if let Some(last) = &mut last {
                    last.2 = left.ears;
                }
            }
        }
        if left.reload || left.aside.is_some() {
            (last, lobby_ears) = (None, None);
        }
        match left.end {
            PhaseEnd::Switch => {
                let Some(aside) = left.aside else { continue };
                let chosen = match phase {
                    Phase::Plan(index) => Some(index),
                    Phase::Lobby | Phase::Over => None,
                };
                let (end, trouble) =
                    perform(aside, chosen, &mut *shelf, &mut driver, &mut microphone).await;
                if end == LiveEnd::Stopped || driver.is_deserted() {
                    return Ok(end);
                }
                effects = dialogue.handle(clock.now(), DialogueInput::Back { trouble });
            }
            PhaseEnd::Ended | PhaseEnd::Quit => return Ok(LiveEnd::Finished),
            PhaseEnd::Stopped => return Ok(LiveEnd::Stopped),
        }
    }
}

/// The plan of this index, with its ears where there is something to hear.
fn load(
    shelf: &mut dyn Shelf,
    index: usize,
    deaf: Option<DeviceError>,
) -> anyhow::Result<(Chosen, Heeding)> {
    let mut chosen = shelf.load(index, deaf.is_none())?;
    let ears = match (deaf, chosen.ears.take()) {
        (Some(why), _) => Err(why),
        (None, Some(ears)) => Ok(ears),
        (None, None) => anyhow::bail!("a plan came without ears"),
    };
    Ok((chosen, ears))
}

/// Ears for the words of the plan that a session began with that is gone on with, where they are others than the
/// present plan's. When there can be none, that is reported.
fn old_ears(
    shelf: &mut dyn Shelf,
    resumable: &Resumable,
    driver: &mut Driver<'_>,
    microphone: &DeviceChoice,
) -> Option<Heeding> {
    let plan = resumable.plan_of_other_words()?;
    if let Some(why) = driver.deaf(microphone) {
        return Some(Err(why));
    }
    match shelf.ears(plan) {
        Ok(ears) => Some(Ok(ears)),
        Err(error) => {
            let line = DialogueLine::OldWordsUnknown { why: format!("{error:#}") };
            driver.stage.desk.tell_line(At::ZERO, &line);
            None
        }
    }
}
