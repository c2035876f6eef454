//! A live session: the hearing thread on one side, dialogue, session, record and ear on the other.

mod came;

use std::time::Duration;

use minijinja::context;

use super::driver::{Driver, LOOK};
use super::ears_thread::Level;
use super::phase::{Phase, phase_of};
use super::printer::Status;
use super::resume::{self, Resumable, Unfinished};
use super::stage::{Came, Hands, Onset, Settled, Stage, Told};
use super::talk::Heeding;
use super::{Conductor, LiveEnd, Shelf, Shell, Sounds, Turn};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::{Aside, Dialogue, DialogueEffect, DialogueInput, DialogueLine, Place};
use crate::interpret::Said;
use crate::interpret::switch::{Meant, Press, SwitchSettings, Under};
use crate::plan::{Command, Plan, Words};
use crate::session::{Input, NudgeKind};
use crate::store::{EventId, OpenSession};
use crate::wording::{filled, text};

/// How long the level of the latest speech is remembered, for the sound check.
const SPOKE_LATELY: Duration = Duration::from_secs(4);

/// How a phase of the dialogue ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum PhaseEnd {
    /// Other words are needed now.
    Switch,
    /// The session was finished, and only one was wanted.
    Ended,
    /// The trainer asked to close down.
    Quit,
    /// The program was told to stop (Ctrl-C, or by the system).
    Stopped,
}

/// What the dialogue is told.
pub(super) type Tells = anyhow::Result<Vec<Told<DialogueInput>>>;

/// The hands of the dialogue for one phase, the same ears from its start to its end: its session, and its record.
pub(super) struct Live<'s> {
    /// Where plans are made and changed.
    pub(super) shelf: &'s mut dyn Shelf,
    /// Whether plans were made or changed, so that none is as it was loaded.
    pub(super) reload: bool,
    /// What takes the stage when this phase has ended.
    pub(super) aside: Option<Aside>,
    pub(super) conductor: Conductor,
    /// The words of the session's plan, with everybody who may take over.
    pub(super) words: Words,
    pub(super) phase: Phase,
    /// Whether the program ends with the session.
    pub(super) once: bool,
    /// A session that was cut off, until the trainer goes on with it or begins another.
    pub(super) resumable: Option<Resumable>,
    pub(super) clock: Clock,
    /// A dictation is wanted as soon as our own voice is silent.
    pub(super) dictate: bool,
    /// Level of the latest speech, and when.
    pub(super) spoke: Option<(f32, Duration)>,
    /// The latest level, until it is shown, and how often sound was lost.
    level: Option<(Level, u32)>,
    /// Whether nudges were silent at that time, since the microphone hears them.
    nudges_silent: bool,
    pub(super) end: Option<PhaseEnd>,
    /// Whether a plan was chosen that the next phase loads.
    pub(super) leaves: bool,
    /// Effects that wait for it.
    pub(super) later: Vec<DialogueEffect>,
    /// Said in the lobby to the plan that was just chosen, or while other ears are needed.
    pub(super) deferred: Vec<(Said, String)>,
    /// A session that is gone on with by other words.
    pub(super) going_on: Option<Resumable>,
    /// Whether this phase goes on with a session by the plan that it began with.
    goes_on: bool,
    switch: SwitchSettings,
}

/// What a phase needs.
pub(super) struct Start {
    pub(super) plan: Plan,
    /// Others that can be turned to in mid-session.
    pub(super) others: Vec<Plan>,
    pub(super) phase: Phase,
    pub(super) once: bool,
    pub(super) unfinished: Unfinished,
    pub(super) ears: Heeding,
    pub(super) microphone: DeviceChoice,
    /// To be carried out first.
    pub(super) effects: Vec<DialogueEffect>,
    /// Said before to this plan.
    pub(super) deferred: Vec<(Said, String)>,
    /// Whether the session that was cut off is gone on with at once, as was said to the phase before.
    pub(super) goes_on: bool,
    pub(super) switch: SwitchSettings,
}

/// What is left of a phase.
pub(super) struct Left {
    pub(super) end: PhaseEnd,
    /// None where they were lost with the microphone.
    pub(super) ears: Option<Heeding>,
    pub(super) later: Vec<DialogueEffect>,
    pub(super) deferred: Vec<(Said, String)>,
    pub(super) going_on: Option<Resumable>,
    /// Whether plans were made or changed, so that none is as it was loaded.
    pub(super) reload: bool,
    /// What takes the stage now.
    pub(super) aside: Option<Aside>,
}

impl<'s> Live<'s> {
    /// Goes through one phase.
    ///
    /// # Errors
    /// When the microphone cannot be opened at all, and nothing can be typed or pressed. A loss later on is bridged and reported.
    pub(super) async fn phase(
        start: Start,
        shelf: &'s mut dyn Shelf,
        dialogue: &mut Dialogue,
        driver: &mut Driver<'_>,
    ) -> anyhow::Result<Left> {
        let Start { microphone, ears, effects, deferred, unfinished, .. } = start;
        let deaf = ears.as_ref().err().cloned();
        driver.listen_or_type(microphone, ears)?;
        let mut live = Live {
            shelf,
            reload: false,
            aside: None,
            words: start.plan.words.clone(),
            conductor: Conductor::new(start.plan).and(start.others).begun_by_word(),
            phase: start.phase,
            once: start.once,
            resumable: unfinished.resumable,
            clock: driver.stage.clock.clone(),
            dictate: false,
            spoke: None,
            level: None,
            nudges_silent: driver.stage.desk.sounds.as_ref().is_some_and(Sounds::nudges_are_silent),
            end: None,
            leaves: false,
            later: Vec::new(),
            deferred: Vec::new(),
            going_on: None,
            goes_on: start.goes_on,
            switch: start.switch,
        };
        let with_plan = matches!(live.phase, Phase::Plan(_));
        if with_plan {
            dialogue.listen_for(&live.conductor.session().plan().words);
            live.conductor.make_ready(driver.stage.desk);
        }
        // Ears may have taken a while: a question waits from now on.
        dialogue.wait_anew(live.clock.now());
        let mut driven = driver.on(dialogue, &mut live);
        // Before anything else is said of the animal.
        if with_plan && !driven.hands.goes_on {
            driven.by_hand(|live, stage| live.look_at_health(stage))?;
        }
        driven.then(effects);
        driven.work()?;
        driven.by_hand(|live, stage| {
            live.tell_of_others(&unfinished.elsewhere, stage);
            if live.goes_on { Vec::new() } else { live.offer_to_resume(stage) }
        })?;
        driven.by_hand(|live, stage| {
            live.tell_step(stage);
            Vec::new()
        })?;
        let deferred =
            deferred.into_iter().map(|(said, words)| DialogueEffect::Pass { said, words });
        driven.then(deferred.collect());
        let ended = driven.run().await?;
        let end = match (ended, driven.hands.end) {
            (LiveEnd::Stopped, _) => PhaseEnd::Stopped,
            (LiveEnd::Finished, end) => end.unwrap_or(PhaseEnd::Switch),
        };
        let ears = driven.stop_listening()?.map(Ok).or(deaf.map(Err));
        let stage = &mut driver.stage;
        live.conductor.close(stage.latest, stage.desk);
        stage.desk.save_again();
        let Live { later, deferred, going_on, reload, aside, .. } = live;
        Ok(Left { end, ears, later, deferred, going_on, reload, aside })
    }

    /// Where a press finds us.
    fn under(&self, dialogue: &Dialogue) -> Under {
        match dialogue.place() {
            Place::Training(_) if self.conductor.session().paused() => Under::Pause,
            Place::Training(_) => Under::Way,
            // What was cut off waits like a pause.
            _ if self.resumable.is_some() => Under::CutOff,
            _ => Under::None,
        }
    }

    fn hear_levels(&mut self, levels: &[Level], lost: u32, stage: &mut Stage<'_>) {
        for level in levels {
            let latest = self.spoke.filter(|(_, at)| level.at < *at + SPOKE_LATELY);
            if latest.is_none_or(|(loudest, _)| level.dbfs >= loudest) {
                self.spoke = Some((level.dbfs, level.at));
            }
            self.level = Some((*level, lost));
        }
        let silent = stage.desk.sounds.as_ref().is_some_and(Sounds::nudges_are_silent);
        if silent && !self.nudges_silent {
            stage.desk.printer.remark(&text("screen.nudges_silent"));
        }
        self.nudges_silent = silent;
    }

    /// Whether events belong to a session here. A plan named on the command line keeps everything.
    fn keeps_events(&self, dialogue: &Dialogue) -> bool {
        self.once || matches!(dialogue.place(), Place::Training(_))
    }

    /// What the session's own events tell the dialogue.
    pub(super) fn turned(&mut self, turns: Vec<Turn>) -> Vec<Told<DialogueInput>> {
        let now = self.clock.now();
        let mut told = Vec::new();
        for turn in turns {
            let input = match turn {
                Turn::Began => DialogueInput::Began,
                Turn::Paused(paused) => DialogueInput::Paused(paused),
                Turn::Ended if self.once => {
                    self.end = Some(PhaseEnd::Ended);
                    continue;
                }
                Turn::Ended => {
                    // The next one is by the plan as it is now.
                    self.end = self.goes_on.then_some(PhaseEnd::Switch);
                    DialogueInput::Ended
                }
            };
            told.push(Told::new(now, input));
        }
        told
    }

    /// Which step the next session begins at.
    pub(super) fn begins_at(&self) -> DialogueLine {
        let session = self.conductor.session();
        let (plan, number) = (session.plan(), session.working());
        let name = plan.step(number).name.clone();
        DialogueLine::BeginsAt { number, of: plan.steps.len(), name }
    }

    /// Tells which step the next session begins at, where there is more than one.
    fn tell_step(&self, stage: &mut Stage<'_>) {
        if !matches!(self.phase, Phase::Plan(_)) || self.resumable.is_some() {
            return;
        }
        let line = self.begins_at();
        let session = self.conductor.session();
        if session.plan().steps.len() < 2 || session.begun() {
            return;
        }
        let sitting = self.conductor.sitting();
        let of = |place: usize| sitting.sessions()[place].plan().behaviour.clone();
        let behaviours: Vec<String> = sitting.proposed().into_iter().map(of).collect();
        let in_order = (!behaviours.is_empty()).then_some(DialogueLine::InOrder { behaviours });
        // Of an animal of which nothing is known it is the plan's first, and no voice is in the way of the start.
        let known = !session.prior().sessions.is_empty();
        for line in in_order.into_iter().chain([line]) {
            if known {
                stage.desk.tell_line(At::ZERO, &line);
            } else {
                stage.desk.show_line(&line);
            }
        }
    }

    fn tell_of_others(&self, elsewhere: &[OpenSession], stage: &mut Stage<'_>) {
        for open in elsewhere {
            let line = resume::in_session(open, self.clock.utc());
            stage.desk.tell_line(At::ZERO, &line);
        }
    }

    fn offer_to_resume(&self, stage: &mut Stage<'_>) -> Vec<Told<DialogueInput>> {
        let Some(resumable) = &self.resumable else { return Vec::new() };
        stage.desk.tell_line(At::ZERO, &resumable.offer());
        vec![Told::new(self.clock.now(), DialogueInput::Resumable)]
    }

    /// The first thing said to the session decides about one that was cut off. It is to be said to the next phase
    /// when that hears by the words of the plan that the session began with.
    pub(super) fn settle_resumable(
        &mut self,
        said: &Said,
        at: At,
        stage: &mut Stage<'_>,
    ) -> Vec<Turn> {
        let Some(resumable) = self.resumable.take() else { return Vec::new() };
        if !matches!(said, Said::Command { command: Command::GoOn }) {
            let clock = self.clock.clone();
            resumable.leave(stage.desk, || EventId(clock.new_id()), self.clock.utc());
            return Vec::new();
        }
        if resumable.plan_of_other_words().is_some() {
            self.going_on = Some(resumable);
            self.end = Some(PhaseEnd::Switch);
            return Vec::new();
        }
        let resumed = resumable.go_on(at, stage.desk);
        stage.offset = resumed.offset;
        let others: Vec<Plan> = self.conductor.sitting().sessions()[1..]
            .iter()
            .map(|session| session.plan().clone())
            .collect();
        self.words = self.shelf.words_with_names(resumed.session.plan(), &others);
        self.conductor.go_on_with(resumed.session);
        for (place, session) in resumed.others {
            self.conductor.go_on_with_another(place, session);
        }
        vec![Turn::Began]
    }
}

impl Hands<Dialogue> for Live<'_> {
    fn bring(&mut self, came: Came, dialogue: &Dialogue, stage: &mut Stage<'_>) -> Tells {
        match came {
            Came::Heard(heard) => return self.hear(heard, dialogue, stage),
            Came::Pressed(pressed) => return Ok(self.pressed(pressed, dialogue, stage)),
            Came::Line(line) => return Ok(self.line(line.trim(), dialogue, stage)),
            Came::Dictated(text) => return Ok(vec![self.dictated(text, dialogue)]),
            Came::Levels { levels, lost } => self.hear_levels(&levels, lost, stage),
            Came::Lost { at, why } => {
                let at = at + stage.offset;
                let values = context! { at => at.to_string(), why => format!("{why:?}") };
                stage.desk.printer.remark(&filled("screen.lost_in_session", values));
                if self.keeps_events(dialogue) {
                    let turns = self.conductor.trouble(at, &text("screen.no_sound"), stage.desk);
                    return Ok(self.turned(turns));
                }
                stage.desk.play(at, NudgeKind::Trouble);
            }
            Came::Gap(gap) if self.keeps_events(dialogue) => {
                let lasted = gap.to.since(gap.from);
                let input = Input::Gap { lasted, why: format!("{:?}", gap.why).to_lowercase() };
                let turns = self.conductor.take(gap.to + stage.offset, input, None, stage.desk);
                return Ok(self.turned(turns));
            }
            Came::Gap(gap) => {
                let lasted_s = gap.to.since(gap.from).as_secs_f64();
                let values = context! { lasted_s, why => format!("{:?}", gap.why) };
                stage.desk.printer.remark(&filled("screen.gap", values));
            }
            Came::Deaf => self.end = Some(PhaseEnd::Stopped),
            Came::Nobody => match stage.deaf.take() {
                Some(error) => return Err(error.into()),
                None => self.end = Some(PhaseEnd::Stopped),
            },
            Came::Quiet | Came::Take { .. } => {}
        }
        Ok(Vec::new())
    }

    fn carry_out(
        &mut self,
        effect: DialogueEffect,
        onset: Option<Onset>,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Tells {
        Ok(self.carry_out_one(effect, onset, dialogue, stage))
    }

    fn pass(&mut self, settled: Settled, _: &Dialogue, stage: &mut Stage<'_>) -> Tells {
        if self.dictate && !stage.speaking() {
            self.dictate = false;
            if let Some(mic) = &stage.mic {
                mic.dictate();
            }
        }
        let turns = self.conductor.pass(settled.session, stage.desk);
        if let Some((level, lost)) = self.level.take() {
            stage.desk.save_again();
            stage.desk.printer.status(&Status {
                at: stage.latest,
                level_dbfs: level.dbfs,
                session: self.conductor.session(),
                lost,
            });
        }
        Ok(self.turned(turns))
    }

    fn wake_at(&self, now: Duration) -> Option<Duration> {
        self.dictate.then_some(now + LOOK)
    }

    fn due_at(&self) -> Option<At> {
        self.conductor.session().wake_at()
    }

    fn wants_levels(&self, stage: &Stage<'_>) -> bool {
        stage.desk.printer.shows_status()
    }

    fn opens_menu(&self, press: Press, dialogue: &Dialogue) -> bool {
        self.switch.action(press).meant(self.under(dialogue)) == Meant::Menu
    }

    fn is_over(&self, dialogue: &Dialogue) -> bool {
        self.end.is_some() || phase_of(dialogue) != self.phase
    }
}
