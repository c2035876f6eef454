//! A live session: the hearing thread on one side, dialogue, session, record and ear on the other.

use std::sync::mpsc::Sender;
use std::time::Duration;

use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::ears_thread::{EarsThread, FromEars, Passed, ToEars};
use super::phase::{Phase, phase_of};
use super::printer::Status;
use super::resume::{self, Resumable, Unfinished};
use super::signals::Signals;
use super::{Conductor, Desk, HeardTimes, Shell, Typing};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::dialogue::{self, Dialogue, Effect, Line, Place};
use crate::hear::{Doubt, Ears, Heard, HeardTag};
use crate::interpret::Said;
use crate::interpret::pedal::Switches;
use crate::interpret::switch::SwitchSettings;
use crate::nudge::loudness::NoiseFloor;
use crate::plan::{Command, Plan};
use crate::session::{Input, NudgeKind};
use crate::store::{EventId, OpenSession};

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

/// One phase: the same ears from its begin to its end.
pub(super) struct Live<'a> {
    pub(super) conductor: Conductor,
    pub(super) desk: &'a mut Desk,
    pub(super) dialogue: &'a mut Dialogue,
    pub(super) phase: Phase,
    /// Whether the program ends with the session.
    pub(super) once: bool,
    /// A session that was cut off, until the trainer goes on with it or begins another.
    pub(super) resumable: Option<Resumable>,
    /// What is added to the time of the sound to make it the session's, after a resume.
    pub(super) offset: Duration,
    pub(super) latest: At,
    pub(super) clock: Clock,
    /// A dictation is wanted as soon as our own voice is silent.
    pub(super) dictate: bool,
    pub(super) noise: NoiseFloor,
    /// Level of the latest speech, and when.
    pub(super) spoke: Option<(f32, Duration)>,
    pub(super) paused: bool,
    pub(super) end: Option<PhaseEnd>,
    /// Effects that wait for the plan that was just chosen.
    pub(super) later: Vec<Effect>,
    /// Said in the lobby to the plan that was just chosen, or while other ears are needed.
    pub(super) deferred: Vec<(Said, String)>,
    /// A session that is gone on with by other words.
    pub(super) going_on: Option<Resumable>,
    /// Whether this phase goes on with a session by the plan that it began with.
    goes_on: bool,
    to_ears: Option<Sender<ToEars>>,
    pub(super) switch_settings: SwitchSettings,
    pub(super) switches: Switches,
}

/// When something was said or pressed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    /// By the time of the sound.
    pub(super) at: At,
    /// What was heard has these, too.
    pub(super) times: Option<HeardTimes>,
}

/// What a phase needs.
pub(super) struct Start<'a> {
    pub(super) plan: Plan,
    pub(super) phase: Phase,
    pub(super) once: bool,
    pub(super) unfinished: Unfinished,
    pub(super) ears: Ears,
    pub(super) microphone: DeviceChoice,
    /// To be carried out first.
    pub(super) effects: Vec<Effect>,
    /// Said before to this plan.
    pub(super) deferred: Vec<(Said, String)>,
    /// Whether the session that was cut off is gone on with at once, as was said to the phase before.
    pub(super) goes_on: bool,
    pub(super) typed: &'a mut Typing,
    pub(super) switch: SwitchSettings,
}

/// What is left of a phase.
pub(super) struct Left {
    pub(super) end: PhaseEnd,
    pub(super) ears: Option<Ears>,
    pub(super) later: Vec<Effect>,
    pub(super) deferred: Vec<(Said, String)>,
    pub(super) going_on: Option<Resumable>,
}

impl<'a> Live<'a> {
    /// Goes through one phase.
    ///
    /// # Errors
    /// When the microphone cannot be opened at all. A loss later on is bridged and told.
    pub(super) async fn phase(
        start: Start<'_>,
        dialogue: &'a mut Dialogue,
        desk: &'a mut Desk,
        clock: &Clock,
        signals: &mut Signals,
    ) -> anyhow::Result<Left> {
        let (tell, mut told) = unbounded_channel();
        let thread = EarsThread::start(start.microphone, start.ears, clock.clone(), tell)?;
        let mut live = Live {
            conductor: Conductor::new(start.plan).begun_by_word(),
            desk,
            dialogue,
            phase: start.phase,
            once: start.once,
            resumable: start.unfinished.resumable,
            offset: Duration::ZERO,
            latest: At::ZERO,
            clock: clock.clone(),
            dictate: false,
            noise: NoiseFloor::default(),
            spoke: None,
            paused: false,
            end: None,
            later: Vec::new(),
            deferred: Vec::new(),
            going_on: None,
            goes_on: start.goes_on,
            to_ears: Some(thread.asked()),
            switch_settings: start.switch,
            switches: Switches::new(start.switch.timing()),
        };
        if matches!(live.phase, Phase::Plan(_)) {
            live.conductor.make_ready(live.desk);
        }
        // Ears may have taken a while: a question waits from now on.
        live.dialogue.wait_anew(clock.now());
        // Before anything else is said of the animal.
        if matches!(live.phase, Phase::Plan(_)) && !live.goes_on {
            live.look_at_health();
        }
        live.carry_out(start.effects, None);
        live.tell_of_others(&start.unfinished.elsewhere);
        if !live.goes_on {
            live.offer_to_resume();
        }
        live.tell_step();
        for (said, words) in start.deferred {
            live.carry_out(vec![Effect::Pass { said, words }], None);
        }
        let end = live.run(&mut told, start.typed, signals).await;
        let ears = thread.stop();
        // What was said up to the stop still counts.
        told.close();
        while let Ok(message) = told.try_recv() {
            live.take(message);
        }
        live.conductor.close(live.latest, live.desk);
        live.desk.session_ended = false;
        live.desk.save_again();
        let Live { later, deferred, going_on, .. } = live;
        Ok(Left { end, ears, later, deferred, going_on })
    }

    async fn run(
        &mut self,
        told: &mut UnboundedReceiver<FromEars>,
        typed: &mut Typing,
        signals: &mut Signals,
    ) -> PhaseEnd {
        loop {
            if let Some(end) = self.end {
                return end;
            }
            if phase_of(self.dialogue) != self.phase {
                return PhaseEnd::Switch;
            }
            tokio::select! { biased;
                () = signals.stop() => return PhaseEnd::Stopped,
                Some(typed) = typed.next() => self.keyed(typed),
                message = told.recv() => match message {
                    Some(message) => self.take(message),
                    None => return PhaseEnd::Stopped,
                },
            }
        }
    }

    fn take(&mut self, message: FromEars) {
        match message {
            FromEars::Open { device } => {
                self.desk.printer.remark(&format!("listening on {device}"));
            }
            FromEars::Heard(heard) => self.hear(heard),
            FromEars::Lost { at, why } => {
                let at = at + self.offset;
                self.desk.printer.remark(&format!(
                    "no sound since {at} ({why:?}); looking for the microphone, the session goes on"
                ));
                match self.keeps_events() {
                    true => self.conductor.trouble(at, "no sound", self.desk),
                    false => self.desk.play(at, NudgeKind::Trouble),
                }
            }
            FromEars::Gap(gap) if self.keeps_events() => {
                let lasted = gap.to.since(gap.from);
                let input = Input::Gap { lasted, why: format!("{:?}", gap.why).to_lowercase() };
                self.conductor.take(gap.to + self.offset, input, None, self.desk);
            }
            FromEars::Gap(gap) => {
                let lasted = gap.to.since(gap.from).as_secs_f64();
                self.desk.printer.remark(&format!("no sound for {lasted:.1} s ({:?})", gap.why));
            }
            FromEars::Dictated(text) => {
                let input = dialogue::Input::Dictated { text };
                let effects = self.dialogue.handle(self.clock.now(), input);
                self.carry_out(effects, None);
            }
            FromEars::Passed(passed) => self.pass(passed),
        }
    }

    fn hear(&mut self, heard: Heard) {
        match heard {
            Heard::Tags(tags) => self.hear_tags(tags),
            Heard::Doubt(_) | Heard::Withdrawn(_) | Heard::Lost { .. } if self.keeps_events() => {
                self.conductor.hear(heard.later(self.offset), self.desk);
                self.sync();
            }
            // Outside a session a doubt has nothing to be kept with.
            Heard::Doubt(Doubt { words, other, .. }) => {
                self.desk.printer.remark(&format!("not sure: \"{words}\" or \"{other}\"?"));
            }
            Heard::Withdrawn(doubt) => {
                self.desk.printer.remark(&format!("that was talk: \"{}\"", doubt.other));
            }
            // A note comes as a dictation, which the dialogue asked for.
            Heard::Note { .. } | Heard::Lost { .. } | Heard::Other { .. } => {}
        }
    }

    fn hear_tags(&mut self, tags: Vec<HeardTag>) {
        let words: Vec<&str> = tags.iter().map(|tag| tag.words.as_str()).collect();
        let words = words.join(" ");
        // A tag has its times by the sound's clock, our voice by the steady one.
        let clock = |at: At| self.desk.clock_time(at + self.offset);
        let from = tags.first().map_or(Duration::ZERO, |tag| clock(tag.at));
        let to = tags.last().map_or(Duration::MAX, |tag| clock(tag.end));
        if let Some(sounds) = &mut self.desk.sounds {
            if sounds.may_be_own(&words, from, to) {
                self.desk.printer.remark(&format!("heard our own voice: \"{words}\""));
                return;
            }
            // The trainer comes first: a tag ends the read-out at once.
            sounds.hush();
        }
        for tag in tags {
            let times = HeardTimes { end: tag.end, decided: tag.decided };
            self.said(tag.said, tag.words, Some(Onset { at: tag.at, times: Some(times) }));
        }
    }

    /// Something was said or typed; when, by the time of the sound, if that is not now.
    pub(super) fn said(&mut self, said: Said, words: String, onset: Option<Onset>) {
        // It counts from when it was said or pressed, however late that is known.
        let now = match onset {
            Some(onset) => self.desk.clock_time(onset.at + self.offset),
            None => self.clock.now(),
        };
        if onset.is_none_or(|onset| onset.times.is_none())
            && let Some(sounds) = &mut self.desk.sounds
        {
            sounds.hush();
        }
        // A tag that is heard while no session is under way answers a question, or is a doubt.
        if let Some(Onset { at, times: Some(times) }) = onset
            && matches!(self.dialogue.place(), Place::Ready(_))
            && self.dialogue.question().is_none()
            && self.conductor.waits_for_begin()
            && said.may_begin()
        {
            let times =
                HeardTimes { end: times.end + self.offset, decided: times.decided + self.offset };
            let tag = Input::Tagged { said, words };
            self.conductor.take(at + self.offset, tag, Some(times), self.desk);
            return self.sync();
        }
        let effects = self.dialogue.handle(now, dialogue::Input::Said { said, words });
        self.carry_out(effects, onset);
    }

    fn pass(&mut self, passed: Passed) {
        self.latest = passed.session + self.offset;
        self.desk.set_time(self.latest, passed.now);
        self.noise.hear(passed.level_dbfs);
        let latest = self.spoke.filter(|(_, at)| passed.now < *at + SPOKE_LATELY);
        if latest.is_none_or(|(loudest, _)| passed.level_dbfs >= loudest) {
            self.spoke = Some((passed.level_dbfs, passed.now));
        }
        if let Some(sounds) = &mut self.desk.sounds {
            let silent = sounds.nudges_are_silent();
            sounds.set_levels(passed.level_dbfs, self.noise.dbfs());
            if !silent && sounds.nudges_are_silent() {
                self.desk.printer.remark(
                    "the microphone hears what is played, so the animal does too: nudges stay silent and only show here; --loudspeaker plays them",
                );
            }
            if self.dictate && !sounds.speaking() {
                self.begin_dictation();
            }
        } else if self.dictate {
            self.begin_dictation();
        }
        let pressed = self.switches.pass(passed.now);
        self.pressed(pressed);
        let settled = self.settled(passed);
        self.conductor.pass(settled, self.desk);
        self.sync();
        // A question only runs out when no answer given in time can still come.
        let settled = self.desk.clock_time(settled);
        let effects = self.dialogue.pass(settled);
        self.carry_out(effects, None);
        self.desk.save_again();
        self.desk.printer.status(&Status {
            at: self.latest,
            level_dbfs: passed.level_dbfs,
            session: self.conductor.session(),
            lost: passed.lost,
        });
    }

    fn begin_dictation(&mut self) {
        self.dictate = false;
        if let Some(ears) = &self.to_ears {
            // When the thread has ended, the phase is ending too.
            let _ending = ears.send(ToEars::Dictate);
        }
    }

    /// Whether events belong to a session here. A plan named on the command line keeps everything.
    fn keeps_events(&self) -> bool {
        self.once || matches!(self.dialogue.place(), Place::Training(_))
    }

    /// Tells the dialogue what became of the session.
    pub(super) fn sync(&mut self) {
        // What the session leaves to others, the dialogue has already carried out.
        self.desk.asked.clear();
        let now = self.clock.now();
        let session = self.conductor.session();
        let (begun, paused) = (session.begun() && !session.finished(), session.paused());
        let mut effects = Vec::new();
        if begun && matches!(self.dialogue.place(), Place::Ready(_)) {
            effects.extend(self.dialogue.handle(now, dialogue::Input::Began));
        }
        if begun && paused != self.paused {
            self.paused = paused;
            effects.extend(self.dialogue.handle(now, dialogue::Input::Paused(paused)));
        }
        if std::mem::take(&mut self.desk.session_ended) {
            self.paused = false;
            if self.once {
                self.end = Some(PhaseEnd::Ended);
            } else {
                effects.extend(self.dialogue.handle(now, dialogue::Input::Ended));
                // The next one is by the plan as it is now.
                self.end = self.goes_on.then_some(PhaseEnd::Switch);
            }
        }
        if !effects.is_empty() {
            self.carry_out(effects, None);
        }
    }

    /// Which step the next session begins at.
    pub(super) fn begins_at(&self) -> Line {
        let session = self.conductor.session();
        let (plan, number) = (session.plan(), session.working());
        let name = plan.step(number).name.clone();
        Line::BeginsAt { number, of: plan.steps.len(), name }
    }

    /// Tells which step the next session begins at, where there is more than one.
    fn tell_step(&mut self) {
        if !matches!(self.phase, Phase::Plan(_)) || self.resumable.is_some() {
            return;
        }
        let line = self.begins_at();
        let session = self.conductor.session();
        if session.plan().steps.len() < 2 || session.begun() {
            return;
        }
        // Of an animal of which nothing is known it is the plan's first, and no voice is in the way of the begin.
        if session.prior().sessions.is_empty() {
            self.desk.show_line(&line);
        } else {
            self.desk.tell_line(At::ZERO, &line);
        }
    }

    fn tell_of_others(&mut self, elsewhere: &[OpenSession]) {
        for open in elsewhere {
            let line = resume::in_session(open, self.clock.utc());
            self.desk.tell_line(At::ZERO, &line);
        }
    }

    fn offer_to_resume(&mut self) {
        if let Some(resumable) = &self.resumable {
            let offer = resumable.offer();
            self.desk.tell_line(At::ZERO, &offer);
            let _nothing = self.dialogue.handle(self.clock.now(), dialogue::Input::Resumable);
        }
    }

    /// The first thing said to the session decides about one that was cut off. It is to be said to the next phase
    /// when that hears by the words of the plan that the session began with.
    pub(super) fn settle_resumable(&mut self, said: &Said, at: At) {
        let Some(resumable) = self.resumable.take() else { return };
        if !matches!(said, Said::Command { command: Command::GoOn }) {
            return resumable.leave(self.desk, EventId(self.clock.new_id()), self.clock.utc());
        }
        if resumable.plan_of_other_words().is_some() {
            self.going_on = Some(resumable);
            self.end = Some(PhaseEnd::Switch);
            return;
        }
        let resumed = resumable.go_on(at, self.desk);
        self.offset = resumed.offset;
        self.conductor.go_on_with(resumed.session);
    }
}
