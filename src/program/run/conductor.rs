//! One owner of the session: one input, all its outputs, then the next.
//!
//! A session begins when it is begun. What is heard before "begin" or after the end is an uncertain tag, in the session that
//! comes next or, when none comes, in one that never began: it is ended, has no recap, and `Filter::begun` keeps it out of
//! every "latest". The engine itself lets the first tag begin, so that what was kept before this rule, timed tags, and what
//! is typed or pressed are replayed as they were.

use std::time::Duration;

use super::{Happening, HeardTimes, Shell};
use crate::at::At;
use crate::hear::Heard;
use crate::interpret::{NotCounted, Said};
use crate::plan::Plan;
use crate::session::{
    Derived, Event, Input, Logged, MissedBecause, NudgeKind, Outcome, Output, Rep, Session,
};
use crate::sitting::{Of, Sitting};
use crate::wording::text;

/// What is not on disk is reported again after this, while it lasts.
const TROUBLE_AGAIN: Duration = Duration::from_secs(60);
/// A miss by itself.
const RAN_OUT: Outcome = Outcome::Missed(MissedBecause::HoldRanOut);

/// What became of the session, for whoever talks around it. It follows from the session's own outputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Its time was started.
    Began,
    /// It was paused, or goes on.
    Paused(bool),
    /// It has ended; what comes in next belongs to a new one.
    Ended,
}

/// Feeds a session and carries out what it asks for.
pub struct Conductor {
    sitting: Sitting,
    /// The next sessions, before their start.
    fresh: Vec<Session>,
    /// Whose turn the shell was told that it is.
    told: usize,
    /// Whether anything came in for the session.
    touched: bool,
    /// The step asked for before the start.
    step: Option<u8>,
    unsaved: bool,
    /// When it was last reported that something is not on disk.
    troubled: Option<At>,
    /// Whether it was paused when that was last reported.
    paused: bool,
    /// Whether a session begins by "begin" alone.
    by_word: bool,
}

impl Conductor {
    /// For a session by this plan, which its first tag begins; after its end the next tag begins another.
    pub fn new(plan: Plan) -> Self {
        Conductor::of(Session::new(plan))
    }

    /// For sessions that are like this one before its start.
    pub fn of(fresh: Session) -> Self {
        Conductor {
            sitting: Sitting::of(fresh.clone()),
            fresh: vec![fresh],
            told: 0,
            touched: false,
            step: None,
            unsaved: false,
            troubled: None,
            paused: false,
            by_word: false,
        }
    }

    /// The same, for what is heard: a tag before "begin" is a doubt, unless the plan says that a tag begins. What is
    /// typed or pressed is meant.
    #[must_use]
    pub fn begun_by_word(mut self) -> Self {
        self.by_word = !self.fresh[0].plan().words.marker_begins();
        self
    }

    /// Lets the sitting turn to sessions by these plans as well.
    #[must_use]
    pub fn and(mut self, others: impl IntoIterator<Item = Plan>) -> Self {
        self.fresh.extend(others.into_iter().map(Session::new));
        self.renew();
        self
    }

    /// Whether no session is under way and a tag that is heard does not begin one.
    pub fn waits_for_begin(&self) -> bool {
        self.by_word && (self.session().finished() || !self.sitting.begun())
    }

    /// Goes on with a session that is already under way; the next one will be as said at first.
    pub fn go_on_with(&mut self, session: Session) {
        self.go_on_with_another(0, session);
    }

    /// The same, with the one at this place of its sitting.
    pub fn go_on_with_another(&mut self, place: usize, session: Session) {
        self.sitting.go_on_with(place, session);
        self.touched = true;
    }

    /// Makes the next session ready by what is known now. Nothing happens while one is under way.
    pub fn make_ready(&mut self, shell: &mut dyn Shell) {
        if self.touched && !self.session().finished() {
            return;
        }
        for place in 0..self.fresh.len() {
            let fresh = &self.fresh[place];
            // The step that is asked for is of the plan that was chosen.
            let step = self.step.filter(|_| place == 0);
            if let Some(outset) = shell.begins(place, step) {
                let plan = Plan { start_step: outset.step, ..fresh.plan().clone() };
                self.fresh[place] = Session::with_prior(plan, outset.told.prior);
            } else if let Some(start_step) = step {
                let plan = Plan { start_step, ..fresh.plan().clone() };
                self.fresh[place] = Session::with_prior(plan, fresh.prior().clone());
            }
        }
        self.renew();
        self.touched = false;
    }

    fn renew(&mut self) {
        let mut fresh = self.fresh.iter().cloned();
        if let Some(first) = fresh.next() {
            self.sitting = Sitting::of(first).and(fresh);
        }
    }

    /// Lets the next session begin at this step, or at the plan's last; nothing while one is under way.
    pub fn start_at(&mut self, step: u8, shell: &mut dyn Shell) {
        let last = u8::try_from(self.fresh[0].plan().steps.len()).unwrap_or(u8::MAX);
        self.step = Some(step.clamp(1, last.max(1)));
        self.make_ready(shell);
    }

    /// Lets the session at hand begin at this step, also when something came in for it before its start; nothing once
    /// time was started.
    pub fn begin_at(&mut self, step: u8, shell: &mut dyn Shell) {
        self.start_at(step, shell);
        self.sitting.start_at(step);
    }

    /// The session that is worked on.
    pub fn session(&self) -> &Session {
        self.sitting.session()
    }

    /// All sessions that the sitting may turn to.
    pub fn sitting(&self) -> &Sitting {
        &self.sitting
    }

    /// Takes in what was heard.
    pub fn hear(&mut self, heard: Heard, shell: &mut dyn Shell) -> Vec<Turn> {
        let mut turns = Vec::new();
        match heard {
            Heard::Tags(tags) => {
                for tag in tags {
                    let input = Input::Tagged { said: tag.said, words: tag.words };
                    let times = HeardTimes { end: tag.end, decided: tag.decided };
                    turns.extend(self.take(tag.at, input, Some(times), shell));
                }
            }
            Heard::Doubt(doubt) => {
                let input = Input::Doubted { words: doubt.words, other: doubt.other };
                let times = HeardTimes { end: doubt.end, decided: doubt.decided };
                return self.take(doubt.at, input, Some(times), shell);
            }
            Heard::Withdrawn(doubt) => {
                let times = HeardTimes { end: doubt.end, decided: doubt.decided };
                for (place, said) in self.sitting.undoing(doubt.at) {
                    let words = doubt.other.to_string();
                    let input = Input::Tagged { said, words };
                    turns.extend(self.take_in(Some(place), doubt.end, input, Some(times), shell));
                }
                let input = Input::Doubted { words: doubt.words, other: doubt.other };
                turns.extend(self.take(doubt.end, input, Some(times), shell));
            }
            Heard::Note { text, .. } if text.is_empty() => {}
            Heard::Note { to, text, .. } => {
                return self.take(to, Input::Noted { text }, None, shell);
            }
            Heard::Lost { from, to } => {
                let why = text("screen.recogniser_failed");
                return self.take(to, Input::Gap { lasted: to.since(from), why }, None, shell);
            }
            Heard::Other { .. } => {}
        }
        turns
    }

    /// Takes in something that happened at `at`.
    pub fn take(
        &mut self,
        at: At,
        input: Input,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) -> Vec<Turn> {
        self.take_in(None, at, input, heard, shell)
    }

    /// The same, for the session at this place whichever is worked on.
    fn take_in(
        &mut self,
        place: Option<usize>,
        at: At,
        input: Input,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) -> Vec<Turn> {
        let mut turns = self.pick_up(shell);
        // What it is told is as of its first tag, however long it was waited for.
        self.make_ready(shell);
        (self.touched, self.step) = (true, None);
        let input = match input {
            Input::Tagged { said, words }
                if heard.is_some() && self.waits_for_begin() && said.may_begin() =>
            {
                Input::Doubted { words, other: NotCounted::BeforeBegin.into() }
            }
            other => other,
        };
        let outputs = match place {
            Some(place) => self.sitting.correct(place, at, input),
            None => self.sitting.handle(at, input),
        };
        turns.extend(self.carry_out(at, outputs, heard, shell));
        turns
    }

    /// Lets time pass up to `settled`: no tag with an earlier onset can still come.
    pub fn pass(&mut self, settled: At, shell: &mut dyn Shell) -> Vec<Turn> {
        let mut turns = self.pick_up(shell);
        let outputs = self.sitting.pass(settled);
        turns.extend(self.carry_out(settled, outputs, None, shell));
        turns
    }

    /// Ends the session because the sound ended or the program closes.
    pub fn close(&mut self, at: At, shell: &mut dyn Shell) -> Vec<Turn> {
        let mut turns = self.pick_up(shell);
        let outputs = self.sitting.close(at);
        turns.extend(self.carry_out(at, outputs, None, shell));
        turns
    }

    fn carry_out(
        &mut self,
        at: At,
        outputs: Vec<Of>,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) -> Vec<Turn> {
        let mut turns = Vec::new();
        let mut outputs = outputs.into_iter().peekable();
        while let Some(first) = outputs.next() {
            let place = first.place;
            let mut its = vec![first.output];
            while let Some(next) = outputs.next_if(|next| next.place == place) {
                its.push(next.output);
            }
            turns.extend(self.carry_out_of(place, at, its, heard, shell));
        }
        let paused = self.session().paused() && !self.session().finished();
        if std::mem::replace(&mut self.paused, paused) != paused {
            turns.push(Turn::Paused(paused));
        }
        turns
    }

    /// What follows is of this session.
    fn turn_to(&mut self, place: usize, shell: &mut dyn Shell) {
        if std::mem::replace(&mut self.told, place) != place {
            shell.turn_to(place);
        }
    }

    fn carry_out_of(
        &mut self,
        place: usize,
        at: At,
        outputs: Vec<Output>,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) -> Vec<Turn> {
        self.turn_to(place, shell);
        // A tag and what follows from it are on disk together, or neither is.
        let appended = outputs.iter().filter_map(|output| match output {
            Output::Append(logged) => Some(logged.clone()),
            _ => None,
        });
        let appended: Vec<Logged> = appended.collect();
        if !appended.is_empty() {
            self.unsaved = !shell.append(&appended);
            self.troubled = self.troubled.filter(|_| self.unsaved);
        }
        if let Some(came_in) = shell.adrift(self.sitting.sessions()[place].working()) {
            return self.begin_anew(came_in, heard, shell);
        }
        let mut trouble = false;
        let mut turns = Vec::new();
        for output in outputs {
            match output {
                Output::Append(logged) => {
                    self.show(&logged, heard, shell);
                    turns.extend(self.turn_of(place, &logged.event));
                }
                // "Heard" means that it is on disk, so it is not played for what is not.
                Output::Play(NudgeKind::Heard) if self.unsaved => {
                    let again = |told: At| at.since(told) >= TROUBLE_AGAIN;
                    trouble = self.troubled.is_none_or(again);
                }
                Output::Play(nudge) => shell.play(at, nudge),
                Output::Say(answer) => shell.say(at, &answer),
            }
        }
        if trouble {
            self.troubled = Some(at);
            turns.extend(self.trouble(at, &text("screen.not_on_disk"), shell));
        }
        turns
    }

    /// What an event means to whoever talks around the sitting: it begins with the first of its sessions, and ends with
    /// the one that is worked on, which ends last.
    fn turn_of(&self, place: usize, event: &Event) -> Option<Turn> {
        match event {
            Event::Derived(Derived::Began { .. }) => Some(Turn::Began),
            Event::Derived(Derived::Finished { .. }) if place == self.sitting.active() => {
                Some(Turn::Ended)
            }
            _ => None,
        }
    }

    /// Takes in a problem of Hushtally's own, in words for a person. Its sound comes when the engine gives it, as that of
    /// every nudge, so that no two come at once. Outside a session there is nothing to keep apart.
    pub fn trouble(&mut self, at: At, why: &str, shell: &mut dyn Shell) -> Vec<Turn> {
        if self.session().begun() && !self.session().finished() {
            return self.take(at, Input::Trouble { why: why.to_owned() }, None, shell);
        }
        shell.play(at, NudgeKind::Trouble);
        Vec::new()
    }

    /// The session may have been lost when something that waited was tried again.
    fn pick_up(&mut self, shell: &mut dyn Shell) -> Vec<Turn> {
        let mut turns = Vec::new();
        for place in 0..self.fresh.len() {
            self.turn_to(place, shell);
            let came_in = shell.adrift(self.sitting.sessions()[place].working());
            turns.extend(
                came_in.map_or_else(Vec::new, |came_in| self.begin_anew(came_in, None, shell)),
            );
        }
        turns
    }

    /// Goes through what could not be written to its session once more, as a session of its own. What is told of it
    /// then is told because it is on disk.
    fn begin_anew(
        &mut self,
        came_in: Vec<(At, Input)>,
        heard: Option<HeardTimes>,
        shell: &mut dyn Shell,
    ) -> Vec<Turn> {
        let place = self.told;
        let fresh = &self.fresh[place];
        let mut plan = fresh.plan().clone();
        plan.start_step = self.sitting.sessions()[place].working();
        let fresh = Session::with_prior(plan, fresh.prior().clone());
        self.fresh[place] = fresh.clone();
        self.sitting.make_ready(place, fresh);
        self.touched = true;
        let mut turns = Vec::new();
        for (at, input) in came_in {
            let outputs = self.sitting.give(place, at, input);
            turns.extend(self.carry_out(at, outputs, heard, shell));
        }
        turns
    }

    fn show(&mut self, logged: &Logged, heard: Option<HeardTimes>, shell: &mut dyn Shell) {
        let session = &self.sitting.sessions()[self.told];
        let came_in = matches!(logged.event, Event::Input(_));
        let rep = rep_of(session, logged);
        let heard = heard.filter(|_| came_in);
        let took = match &logged.event {
            Event::Input(Input::Tagged { said: Said::TakeBack, .. }) => {
                session.took_back(logged.at)
            }
            _ => None,
        };
        let words = &session.plan().words;
        let idle = session.changed_nothing(logged.at);
        let working = session.working();
        let of = (self.fresh.len() > 1).then(|| session.plan());
        let (took, person) = (took.as_ref(), session.person());
        shell.show(Happening { logged, heard, rep, words, took, idle, working, of, person });
    }
}

/// The rep that an event made or changed.
fn rep_of<'s>(session: &'s Session, logged: &Logged) -> Option<(usize, &'s Rep)> {
    let reps = session.reps();
    let number_of = |index: usize| Some((index + 1, &reps[index]));
    match &logged.event {
        Event::Input(Input::Tagged { said: Said::Rep(_) | Said::Miss(_), .. }) => {
            let latest = Some(session.inputs());
            number_of(reps.iter().rposition(|rep| rep.input == latest)?)
        }
        // By its time: what came with it may have taken it back already, and then an earlier one is not meant.
        Event::Derived(Derived::HoldRanOut) => {
            number_of(reps.iter().rposition(|rep| rep.at == logged.at && rep.outcome == RAN_OUT)?)
        }
        // Only the latest try is ever changed.
        Event::Input(Input::Tagged { said: Said::Detail(_) | Said::Change(_), .. }) => {
            number_of(reps.len().checked_sub(1)?)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests;
