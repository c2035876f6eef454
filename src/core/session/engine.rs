//! The session as a state machine over its inputs, with every deadline at its own moment.

use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

use super::at_step::AtStep;
use super::detect::{Detectors, Earlier, LOOK_EVERY, Scene, Seen, reward_rate};
use super::elsewhere::{self, Between};
use super::hands::hands;
use super::nudging::{HeldBack, Nudging};
use super::prior::{Prior, Usual};
use super::recent::{Core, TakenBack, Undoable};
use super::tally::Tally;
use super::watch::Watch;
use super::{
    Answer, Derived, Event, Input, Logged, MissedBecause, NudgeKind, Outcome, Output, Rep, Summary,
    Tries, WhyEnded,
};
use crate::at::At;
use crate::chain::LinkScores;
use crate::interpret::Details;
use crate::machine::Machine;
use crate::plan::Plan;

/// One session. See the [module](super).
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    pub(super) plan: Plan,
    pub(super) prior: Prior,
    usual: BTreeMap<u8, Usual>,
    pub(super) reps: Vec<Rep>,
    pub(super) working: u8,
    pub(super) watch: Watch,
    pub(super) core: Core,
    /// What was between the tags, where it is one session of several.
    pub(super) between: Vec<Between>,
    pub(super) undo: VecDeque<Undoable>,
    pub(super) taken_back: VecDeque<TakenBack>,
    /// When the latest tag was that can be taken back no more.
    pub(super) forgotten: Option<At>,
    pub(super) now: At,
    /// How many inputs it took.
    pub(super) inputs: u32,
    pub(super) nudging: Nudging,
    /// A correction without a word after it, which may still come.
    pub(super) bare_correction: Option<At>,
    pub(super) finished: Option<(At, WhyEnded)>,
}

impl Session {
    /// A session by this plan, not yet begun; the first tag begins it.
    pub fn new(plan: Plan) -> Self {
        Session::with_prior(plan, Prior::default())
    }

    /// The same, knowing this animal's earlier sessions.
    pub fn with_prior(plan: Plan, prior: Prior) -> Self {
        let core = Core {
            cue_since: None,
            hold_since: None,
            next_look: LOOK_EVERY,
            tally: Tally::default(),
            at_step: AtStep::default(),
            detectors: Detectors::default(),
            unsure: 0,
            refills: Vec::new(),
            between: 0,
            took_over: Vec::new(),
        };
        Session {
            working: plan.start_step,
            usual: prior.usual(),
            plan,
            prior,
            reps: Vec::new(),
            watch: Watch::default(),
            core,
            between: Vec::new(),
            undo: VecDeque::new(),
            taken_back: VecDeque::new(),
            forgotten: None,
            now: At::ZERO,
            inputs: 0,
            nudging: Nudging::default(),
            bare_correction: None,
            finished: None,
        }
    }

    /// Lets it begin at this step, or at the plan's last; nothing once time was started.
    pub fn start_at(&mut self, step: u8) {
        if !self.begun() {
            let last = u8::try_from(self.plan.steps.len()).unwrap_or(u8::MAX);
            self.working = step.clamp(1, last.max(1));
            self.plan.start_step = self.working;
        }
    }

    /// Takes in what happened at `at`, after letting every deadline before it come due. A moment
    /// before the latest known one counts as the latest: time never runs backwards here.
    pub fn handle(&mut self, at: At, input: Input) -> Vec<Output> {
        let mut out = self.advance(at);
        let at = at.max(self.now);
        if self.finished.is_some() {
            return out;
        }
        self.inputs += 1;
        match input {
            Input::Tagged { said, words } => self.tagged(at, said, words, &mut out),
            Input::Doubted { words, other } => {
                self.doubt(at, words, other, &mut out);
            }
            Input::Gap { lasted, why } => {
                append(at, Event::Input(Input::Gap { lasted, why }), &mut out);
                self.nudging.raise(at, NudgeKind::Trouble, None);
            }
            Input::Trouble { why } => {
                append(at, Event::Input(Input::Trouble { why }), &mut out);
                self.nudging.raise(at, NudgeKind::Trouble, None);
            }
            Input::Noted { text } => {
                append(at, Event::Input(Input::Noted { text }), &mut out);
            }
            Input::Elsewhere(elsewhere) => {
                append(at, Event::Input(Input::Elsewhere(elsewhere.clone())), &mut out);
                self.told_of_elsewhere(at, elsewhere);
            }
        }
        out.extend(self.advance(at));
        out
    }

    /// Lets time pass up to `to`. How often this is called makes no difference to what comes out.
    pub fn advance(&mut self, to: At) -> Vec<Output> {
        let mut out = Vec::new();
        while let Some(due) = self.wake_at().filter(|due| *due <= to) {
            self.now = self.now.max(due);
            self.come_due(due, &mut out);
        }
        self.now = self.now.max(to);
        out
    }

    /// When something comes due next by itself.
    pub fn wake_at(&self) -> Option<At> {
        if self.finished.is_some() {
            return None;
        }
        let nudge = self.nudging.due(self.plan.limits.nudge_gap);
        [self.pass_due(), nudge, self.nothing_came_due()].into_iter().flatten().min()
    }

    /// Ends the session because the sound ended or the program closes; also one that never began, when something that
    /// may have been said waits in it.
    pub fn close(&mut self, at: At) -> Vec<Output> {
        let mut out = self.advance(at);
        if (self.begun() || self.core.unsure > 0) && self.finished.is_none() {
            self.finish(at.max(self.now), WhyEnded::SoundEnded, &mut out);
        }
        out
    }

    /// How many inputs it took: the number of the latest. What comes after its end is not taken.
    pub fn inputs(&self) -> u32 {
        self.inputs
    }

    /// Tries in order, misses included.
    pub fn reps(&self) -> &[Rep] {
        &self.reps
    }

    /// Number of rewarded tries.
    pub fn rewarded(&self) -> usize {
        self.core.tally.rewarded as usize
    }

    /// Tries so far, of them rewarded and missed.
    pub fn tries(&self) -> Tries {
        Tries::of(&self.reps)
    }

    /// Running counts.
    pub fn tally(&self) -> &Tally {
        &self.core.tally
    }

    /// Since when, in active time, the animal declines, when a nudge said that it does and was not taken
    /// back.
    pub fn declining_since(&self) -> Option<Duration> {
        self.core.detectors.decline().since()
    }

    /// When the pouch was filled again, in active time.
    pub fn refills(&self) -> &[Duration] {
        &self.core.refills
    }

    /// Alarms of a decline that turned out to be none.
    pub fn alarms_taken_back(&self) -> u32 {
        self.core.detectors.decline().taken_back()
    }

    /// Nudges that wait for their moment, or were held back since the latest was given.
    pub fn held_back(&self) -> Vec<HeldBack> {
        self.nudging.held_back()
    }

    /// What was known before the session.
    pub fn prior(&self) -> &Prior {
        &self.prior
    }

    /// The plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Step worked on, counted from 1.
    pub fn working(&self) -> u8 {
        self.working
    }

    /// Whether time has been started.
    pub fn begun(&self) -> bool {
        self.watch.began().is_some()
    }

    /// Whether time stands still for a pause.
    pub fn paused(&self) -> bool {
        self.watch.paused()
    }

    /// Whether the session has ended.
    pub fn finished(&self) -> bool {
        self.finished.is_some()
    }

    /// Active time so far, pauses left out.
    pub fn active(&self) -> Duration {
        self.watch.active(self.finished.map_or(self.now, |(at, _)| at))
    }

    /// Rewards per minute over the plan's window.
    pub fn rate_per_min(&self) -> Option<f64> {
        reward_rate::rate_per_min(&self.reps, self.active(), self.plan.limits.rate_window)
    }

    /// The session in numbers.
    pub fn summary(&self) -> Summary {
        let summary = Summary::of(
            &self.plan,
            &self.reps,
            self.working,
            self.active(),
            self.core.unsure,
            self.nudging.main(),
            self.declining_since(),
            self.decision(),
        );
        let hands = hands(self.took_over(), &self.reps);
        let (breaks, played) = self.breaks();
        let held_back = self.nudging.never_given();
        Summary { held_back, hands, breaks, played_s: played.as_secs_f64(), ..summary }
    }

    pub(super) fn begin(&mut self, at: At, out: &mut Vec<Output>) {
        self.watch.begin(at);
        self.core.next_look = LOOK_EVERY;
        append(at, Event::Derived(Derived::Began { step: self.working }), out);
        self.show(&Seen::Began, at);
        self.begun_before_what_is_remembered();
    }

    pub(super) fn finish(&mut self, at: At, why: WhyEnded, out: &mut Vec<Output>) {
        self.finished = Some((at, why));
        append(at, Event::Derived(Derived::Finished { why }), out);
        if self.begun() {
            out.push(Output::Say(Answer::Recap(self.summary())));
        }
    }

    /// Lets the detectors see something that happened at `at`.
    pub(super) fn show(&mut self, seen: &Seen, at: At) {
        let now = self.watch.active(at);
        self.with_detectors(now, |detectors, scene| detectors.see(seen, scene));
    }

    /// Hands the detectors the session as it is at this active time.
    pub(super) fn with_detectors<R>(
        &mut self,
        now: Duration,
        ask: impl FnOnce(&mut Detectors, &Scene) -> R,
    ) -> R {
        let declining_since = self.catch_up_at_step();
        let Core { tally, at_step, detectors, between, .. } = &mut self.core;
        tally.slide(&self.reps, now, self.plan.limits.rate_window);
        let scene = Scene {
            plan: &self.plan,
            earlier: Earlier { prior: &self.prior, usual: &self.usual },
            reps: &self.reps,
            tally,
            working: self.working,
            now,
            declining_since,
            watch: &self.watch,
            at_step,
            elsewhere: elsewhere::latest(&self.between, *between),
        };
        ask(detectors, &scene)
    }

    /// Takes in what is not known of the step worked on yet; gives since when the animal declines.
    pub(super) fn catch_up_at_step(&mut self) -> Option<Duration> {
        let since = self.declining_since();
        self.core.at_step.catch_up(&self.plan, &self.prior, &self.reps, self.working, since);
        since
    }

    /// Adds a rep that the detectors then see; `input` is the number of the one it was said with.
    pub(super) fn add_rep(
        &mut self,
        at: At,
        input: Option<u32>,
        details: Details,
        missed: Option<MissedBecause>,
    ) {
        let active = self.watch.active(at);
        let cue = self.core.cue_since.take();
        let hold = self.core.hold_since.take();
        let links = self
            .plan
            .chain
            .as_ref()
            .map(|chain| LinkScores::of(chain, self.working, details.links, missed.is_some()));
        let step = match self.plan.chain.as_ref().zip(links) {
            Some((chain, links)) => links.reached(chain, self.working),
            None => details.step.unwrap_or(self.working),
        };
        let outcome = match missed {
            Some(because) => Outcome::Missed(because),
            None => Outcome::Rewarded(
                details.value.unwrap_or_else(|| self.plan.default_value(step, self.working)),
            ),
        };
        let rep = Rep {
            input,
            at,
            active,
            working: self.working,
            step,
            outcome,
            value_named: missed.is_none() && details.value.is_some(),
            side: details.side,
            latency: cue.map(|since| active.saturating_sub(since)),
            duration: hold.map(|since| active.saturating_sub(since)),
            links: links.unwrap_or_default(),
        };
        self.reps.push(rep.clone());
        self.core.tally.count(&self.reps, &self.plan);
        self.show(&Seen::Rep(&rep), at);
    }
}

impl Machine for Session {
    type Time = At;
    type Input = Input;
    type Effect = Output;

    fn handle(&mut self, at: At, input: Input) -> Vec<Output> {
        Session::handle(self, at, input)
    }

    fn pass(&mut self, to: At) -> Vec<Output> {
        self.advance(to)
    }

    fn wake_at(&self) -> Option<At> {
        Session::wake_at(self)
    }
}

pub(super) fn append(at: At, event: Event, out: &mut Vec<Output>) {
    out.push(Output::Append(Logged { at, event }));
}
