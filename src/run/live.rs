//! A live session: the hearing thread on one side, session, record and ear on the other.

use std::time::Duration;

use anyhow::Context;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use super::ears_thread::{EarsThread, FromEars, Passed};
use super::printer::Status;
use super::resume::Resumable;
use super::{Conductor, Desk, Shell};
use crate::at::At;
use crate::audio::choice::DeviceChoice;
use crate::clock::Clock;
use crate::hear::{Ears, Heard};
use crate::interpret::Said;
use crate::plan::{Command, Plan};
use crate::session::{Answer, Input, NudgeKind};
use crate::store::EventId;

/// How a live run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LiveEnd {
    /// The trainer finished the session or asked to close down.
    Finished,
    /// The program was told to stop (Ctrl-C, or by the system).
    Stopped,
}

/// Listens until the session is finished or the program is told to stop.
///
/// # Errors
/// When the microphone cannot be opened at all. A loss later on is bridged and told.
pub fn listen(
    plan: Plan,
    ears: Ears,
    microphone: DeviceChoice,
    resumable: Option<Resumable>,
    desk: &mut Desk,
    clock: &Clock,
) -> anyhow::Result<LiveEnd> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .context("the system gives no event loop")?;
    let (tell, told) = unbounded_channel();
    let thread = EarsThread::start(microphone, ears, clock.clone(), tell)?;
    let mut live = Live {
        conductor: Conductor::new(plan),
        desk,
        resumable,
        offset: Duration::ZERO,
        latest: At::ZERO,
        clock: clock.clone(),
    };
    live.offer_to_resume();
    let end = runtime.block_on(live.run(told));
    let (end, mut rest) = end?;
    thread.stop();
    // What was said up to the stop still counts.
    rest.close();
    while let Ok(message) = rest.try_recv() {
        live.take(message);
    }
    live.conductor.close(live.latest, live.desk);
    live.desk.save_again();
    Ok(end)
}

struct Live<'a> {
    conductor: Conductor,
    desk: &'a mut Desk,
    /// A session that was cut off, until the trainer goes on with it or begins another.
    resumable: Option<Resumable>,
    /// What is added to the time of the sound to make it the session's, after a resume.
    offset: Duration,
    latest: At,
    clock: Clock,
}

impl Live<'_> {
    async fn run(
        &mut self,
        mut told: UnboundedReceiver<FromEars>,
    ) -> anyhow::Result<(LiveEnd, UnboundedReceiver<FromEars>)> {
        use tokio::signal::unix::{SignalKind, signal};
        let mut hang_up = signal(SignalKind::terminate()).context("no signals on this system")?;
        loop {
            let message = tokio::select! { biased;
                _ = tokio::signal::ctrl_c() => return Ok((LiveEnd::Stopped, told)),
                _ = hang_up.recv() => return Ok((LiveEnd::Stopped, told)),
                message = told.recv() => message,
            };
            let Some(message) = message else { return Ok((LiveEnd::Stopped, told)) };
            self.take(message);
            for command in std::mem::take(&mut self.desk.asked) {
                if self.carry_out(command) {
                    return Ok((LiveEnd::Finished, told));
                }
            }
            if std::mem::take(&mut self.desk.session_ended) {
                return Ok((LiveEnd::Finished, told));
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
                self.desk.play(at, NudgeKind::Trouble);
            }
            FromEars::Gap(gap) => {
                let lasted = gap.to.since(gap.from);
                let input = Input::Gap { lasted, why: format!("{:?}", gap.why).to_lowercase() };
                self.conductor.take(gap.to + self.offset, input, None, self.desk);
            }
            FromEars::Passed(passed) => self.pass(passed),
        }
    }

    fn hear(&mut self, heard: Heard) {
        if let Heard::Tags(tags) = &heard {
            let words: Vec<&str> = tags.iter().map(|tag| tag.words.as_str()).collect();
            let words = words.join(" ");
            if let Some(sounds) = &mut self.desk.sounds {
                if sounds.may_be_own(&words) {
                    return;
                }
                // The trainer comes first: a tag ends the read-out at once.
                sounds.hush();
            }
            if let Some(first) = tags.first() {
                self.settle_resumable(&first.said, first.at);
            }
        }
        self.conductor.hear(heard.later(self.offset), self.desk);
    }

    fn pass(&mut self, passed: Passed) {
        self.latest = passed.session + self.offset;
        self.desk.set_time(self.latest, passed.now);
        self.conductor.pass(passed.settled + self.offset, self.desk);
        self.desk.save_again();
        self.desk.printer.status(&Status {
            at: self.latest,
            level_dbfs: passed.level_dbfs,
            session: self.conductor.session(),
            lost: passed.lost,
        });
    }

    /// A command that is not the engine's; true when it ends the program.
    fn carry_out(&mut self, command: Command) -> bool {
        let at = self.latest;
        match command {
            Command::Quit => return true,
            Command::Repeat => self.desk.repeat(at),
            Command::Recap => {
                let recap = Answer::Recap(self.conductor.session().summary());
                self.desk.say(at, &recap);
            }
            other => self.desk.tell(at, format!("I cannot do that here yet: {other:?}.")),
        }
        false
    }

    fn offer_to_resume(&mut self) {
        if let Some(resumable) = &self.resumable {
            let offer = resumable.offer();
            self.desk.tell(At::ZERO, offer);
        }
    }

    /// The first thing said decides about a session that was cut off.
    fn settle_resumable(&mut self, said: &Said, at: At) {
        let Some(resumable) = self.resumable.take() else { return };
        if !matches!(said, Said::Command { command: Command::GoOn }) {
            return resumable.leave(self.desk, EventId(self.clock.new_id()), self.clock.utc());
        }
        let resumed = resumable.go_on(at, self.desk);
        self.offset = resumed.offset;
        self.conductor = Conductor::go_on_with(resumed.session);
    }
}
