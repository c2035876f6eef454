//! What a trainer does between begin and finish: one or more sessions, each of one animal by one plan. Exactly one is
//! worked on; the others rest. Pure, and thin: each session keeps all that is its own, and goes through its own log alone
//! as it went through it here ([`Elsewhere`] says how), so the sitting itself has nothing to keep.
//!
//! - A name says what is worked on from there on. It goes to the session that is left and to the one that is entered.
//! - What is said goes to the session that is worked on; what takes back goes to whichever has the latest tag, and a
//!   change to whichever has the latest try. Nothing is taken back past a tag that stands for good.
//! - Before it is begun, a name only chooses. "Finish" ends all.
//!
//! With one session it is that session.

mod order;
#[cfg(test)]
mod tests;

#[cfg(test)]
use order::{Standing, order};

use std::collections::BTreeMap;
use std::time::Duration;

use crate::at::At;
use crate::interpret::{NotCounted, Said};
use crate::machine::Machine;
use crate::plan::Command;
use crate::session::{Answer, Elsewhere, Hands, Input, Output, Session, Summary, Took};

/// What one of the sessions asks for.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an output not carried out is lost"]
pub struct Of {
    /// Which session, by its place.
    pub place: usize,
    /// What.
    pub output: Output,
}

/// See the [module](self).
#[derive(Debug, Clone, PartialEq)]
pub struct Sitting {
    sessions: Vec<Session>,
    active: usize,
    /// Who took over, in order, and in which session it was said.
    hands: Vec<(usize, String)>,
    /// Those that were taken back, and when.
    taken_back: Vec<(At, (usize, String))>,
}

impl Sitting {
    /// A sitting of one session, begun or not.
    pub fn of(session: Session) -> Self {
        Sitting { sessions: vec![session], active: 0, hands: Vec::new(), taken_back: Vec::new() }
    }

    /// These can be worked on as well, and rest until one is named.
    #[must_use]
    pub fn and(mut self, others: impl IntoIterator<Item = Session>) -> Self {
        self.sessions.extend(others);
        self
    }

    /// The one that is worked on.
    pub fn session(&self) -> &Session {
        &self.sessions[self.active]
    }

    /// Its place.
    pub fn active(&self) -> usize {
        self.active
    }

    /// All of them, by place.
    pub fn sessions(&self) -> &[Session] {
        &self.sessions
    }

    /// Lets the one that is worked on begin at this step; nothing once its time was started.
    pub fn start_at(&mut self, step: u8) {
        self.sessions[self.active].start_at(step);
    }

    /// Puts another in place of one that nothing came in for yet.
    pub fn make_ready(&mut self, place: usize, session: Session) {
        self.sessions[place] = session;
    }

    /// Goes on with a session that is under way already.
    pub fn go_on_with(&mut self, place: usize, session: Session) {
        if !session.resting() {
            self.active = place;
        }
        self.sessions[place] = session;
    }

    /// Whether time was started in any.
    pub fn begun(&self) -> bool {
        self.sessions.iter().any(Session::begun)
    }

    /// Takes in what happened at `at`.
    pub fn handle(&mut self, at: At, input: Input) -> Vec<Of> {
        if self.sessions.len() == 1 {
            return self.give(0, at, input);
        }
        let mut out = self.pass(at);
        let Input::Tagged { said, words } = &input else {
            out.extend(self.give(self.active, at, input));
            return out;
        };
        match said {
            Said::Behaviour { .. } | Said::Animal { .. } => match self.named(said) {
                Some(place) => out.extend(self.work_on(place, at, input)),
                None => out.extend(self.doubt(at, words.clone())),
            },
            Said::Command { command: Command::Finish } => out.extend(self.finish(at, &input)),
            Said::TakeBack | Said::PutBack { .. } | Said::Change(_) => match self.held_by(said) {
                Some(place) => out.extend(self.correct(place, at, input)),
                None => out.extend(self.doubt(at, words.clone())),
            },
            Said::TakesOver { person } => {
                self.hands.push((self.active, person.clone()));
                out.extend(self.give(self.active, at, input));
            }
            // One plan has more steps than another, and the words of all are listened for.
            said if self.has_no_step(said) => out.extend(self.doubt(at, words.clone())),
            _ => out.extend(self.give(self.active, at, input)),
        }
        out
    }

    fn has_no_step(&self, said: &Said) -> bool {
        let steps = self.session().plan().steps.len();
        match said {
            Said::Rep(details) | Said::Miss(details) | Said::Detail(details) => {
                details.step.is_some_and(|step| usize::from(step) > steps)
            }
            _ => false,
        }
    }

    /// Lets time pass up to `to`.
    pub fn pass(&mut self, to: At) -> Vec<Of> {
        let mut out = Vec::new();
        let next = |sessions: &[Session]| {
            let due = sessions
                .iter()
                .enumerate()
                .filter_map(|(place, one)| Some((one.wake_at()?, place)));
            due.filter(|(due, _)| *due <= to).min()
        };
        while let Some((due, place)) = next(&self.sessions) {
            out.extend(of(place, self.sessions[place].advance(due)));
        }
        for (place, session) in self.sessions.iter_mut().enumerate() {
            out.extend(of(place, session.advance(to)));
        }
        out
    }

    /// When something comes due next by itself.
    pub fn wake_at(&self) -> Option<At> {
        self.sessions.iter().filter_map(Session::wake_at).min()
    }

    /// Ends all that something came in for, because the sound ended or the program closes.
    pub fn close(&mut self, at: At) -> Vec<Of> {
        let mut out = self.pass(at);
        let begun = self.begun_ones();
        for place in self.active_last() {
            out.extend(of(place, self.sessions[place].close(at)));
        }
        self.one_recap(&begun, out)
    }

    /// What must be handled by which session, in this order, so that nothing said at `since` or later counts any more.
    pub fn undoing(&self, since: At) -> Vec<(usize, Said)> {
        let each = self.sessions.iter().enumerate();
        each.flat_map(|(place, one)| one.undoing(since).into_iter().map(move |said| (place, said)))
            .collect()
    }

    /// Gives this to one of them, whichever is worked on.
    pub fn give(&mut self, place: usize, at: At, input: Input) -> Vec<Of> {
        of(place, self.sessions[place].handle(at, input))
    }

    /// The session that is named: a behaviour of the animal at work, or else of the only other one that has it; of an
    /// animal the session that was worked on last.
    fn named(&self, said: &Said) -> Option<usize> {
        let at_work = &self.session().plan().animal;
        let places = 0..self.sessions.len();
        match said {
            Said::Behaviour { name } => {
                let has_it = |place: &usize| self.sessions[*place].plan().behaviour == *name;
                let own = |place: &usize| self.sessions[*place].plan().animal == *at_work;
                let having: Vec<usize> = places.filter(has_it).collect();
                let only = having.first().copied().filter(|_| having.len() == 1);
                having.into_iter().find(own).or(only)
            }
            Said::Animal { name } if name == at_work => Some(self.active),
            Said::Animal { name } => {
                let its: Vec<usize> =
                    places.filter(|place| self.sessions[*place].plan().animal == *name).collect();
                let last = its.iter().copied().max_by_key(|place| self.sessions[*place].left_at());
                let begun = last.filter(|place| self.sessions[*place].begun());
                begun.or(its.first().copied())
            }
            _ => None,
        }
    }

    fn work_on(&mut self, place: usize, at: At, input: Input) -> Vec<Of> {
        if !self.begun() {
            self.active = place;
            return of(place, vec![Output::Say(self.session().works_on())]);
        }
        if place == self.active {
            return self.give(place, at, input);
        }
        let mut out = self.give(self.active, at, input.clone());
        let elsewhere = self.elsewhere(place);
        self.active = place;
        out.extend(self.give(place, at, Input::Elsewhere(elsewhere)));
        out.extend(self.give(place, at, input));
        out
    }

    /// What the animal of a session did in its other ones.
    fn elsewhere(&self, place: usize) -> Elsewhere {
        let target = &self.sessions[place];
        let its = |one: &&Session| one.plan().animal == target.plan().animal && one.begun();
        let its: Vec<&Session> = self.sessions.iter().filter(its).collect();
        let others = || {
            let is_other = |one: &&Session| one.plan().behaviour != target.plan().behaviour;
            its.iter().copied().filter(is_other)
        };
        let refilled = its.iter().filter_map(|one| one.refilled_at()).max();
        // What was given before the pouch was filled is out of the count.
        let since_refill = |one: &&Session| {
            refilled.is_none_or(|refilled| one.left_at().is_none_or(|left| left >= refilled))
        };
        let latest =
            its.iter().copied().max_by_key(|one| one.left_at().unwrap_or(At::after(Duration::MAX)));
        let elsewhere = latest.filter(|one| one.plan().behaviour != target.plan().behaviour);
        let mut sounded = BTreeMap::new();
        for (kind, at) in self.sessions.iter().flat_map(Session::sounded) {
            let latest = sounded.entry(*kind).or_insert(*at);
            *latest = (*latest).max(*at);
        }
        Elsewhere {
            active: others().map(Session::active).sum(),
            rewarded: others().map(|one| one.tally().rewarded).sum(),
            pieces: others().filter(since_refill).map(|one| one.tally().pieces).sum(),
            refilled: target
                .left_at()
                .zip(refilled)
                .is_some_and(|(left, refilled)| left < refilled),
            kcal: others().map(|one| one.tally().kcal).sum::<f64>() + 0.0,
            declining: latest.is_some_and(|one| one.declining_since().is_some()),
            evidence: elsewhere.and_then(Session::evidence),
            end_told: its.iter().filter_map(|one| one.end_told()).max(),
            sounded,
            hands: self.news_of_hands(place),
        }
    }

    /// The session in which this finds what it is about; `None` where there is nothing.
    fn held_by(&self, said: &Said) -> Option<usize> {
        // Of the same moment, the session that is worked on has the later one, and then the one that was left last.
        let later = |place: &usize| (*place == self.active, self.sessions[*place].left_at());
        let places = 0..self.sessions.len();
        match said {
            Said::TakeBack => {
                let held = |place: &usize| self.sessions[*place].latest_standing_at();
                let place = places
                    .clone()
                    .filter(|place| held(place).is_some())
                    .max_by_key(|place| (held(place), later(place)))?;
                let stands = |other: usize| self.sessions[other].latest_forgotten_at();
                let past_another = places
                    .filter(|other| *other != place)
                    .filter_map(stands)
                    .any(|forgotten| Some(forgotten) > held(&place));
                (!past_another).then_some(place)
            }
            Said::PutBack { said_at } => {
                let took = |place: &usize| self.sessions[*place].took_back(*said_at).is_some();
                places.filter(took).max_by_key(later).or(Some(self.active))
            }
            Said::Change(details) => {
                let tried = |place: &usize| self.sessions[*place].latest_try();
                let latest = places
                    .filter(|place| tried(place).is_some())
                    .max_by_key(|place| (tried(place), later(place)));
                let place = latest.unwrap_or(self.active);
                // What finds nothing is a doubt of the session that is worked on.
                let can = place == self.active || self.sessions[place].can_change(*details);
                can.then_some(place)
            }
            _ => Some(self.active),
        }
    }

    /// Who trains, where the session knows otherwise.
    fn news_of_hands(&self, place: usize) -> Option<Hands> {
        let person = self.hands.last().map(|(_, person)| person.as_str());
        let known = self.sessions[place].person();
        (known != person).then(|| Hands { person: person.map(str::to_owned) })
    }

    /// Gives a correction to the session that it is about: what is said of an earlier one changes what the present one is
    /// told of it.
    pub fn correct(&mut self, place: usize, at: At, input: Input) -> Vec<Of> {
        let told = |sitting: &Sitting| sitting.elsewhere(sitting.active);
        let before = told(self);
        let put_back = match &input {
            Input::Tagged { said: Said::PutBack { said_at }, .. } => Some(*said_at),
            _ => None,
        };
        let mut out = self.give(place, at, input);
        self.hands_again(place, at, put_back);
        // What sounded, and what speaks for a decline, was told when work went on here.
        let now = Elsewhere { evidence: None, refilled: false, ..told(self) };
        let before = Elsewhere { evidence: None, refilled: false, ..before };
        if now.hands.is_some() || (place != self.active && before != now) {
            out.extend(self.give(self.active, at, Input::Elsewhere(now)));
        }
        out
    }

    /// Whether what was taken, or put, back is that somebody took over.
    fn hands_again(&mut self, place: usize, at: At, put_back: Option<At>) {
        let session = &self.sessions[place];
        match put_back {
            None if matches!(session.took_back(at), Some(Took::TakesOver { .. })) => {
                if let Some(gone) = self.hands.iter().rposition(|(of, _)| *of == place) {
                    self.taken_back.push((at, self.hands.remove(gone)));
                }
            }
            Some(said_at) if session.took_back(said_at).is_none() => {
                let again = self.taken_back.iter().rposition(|(at, _)| *at == said_at);
                self.hands.extend(again.map(|again| self.taken_back.remove(again).1));
            }
            _ => {}
        }
    }

    fn doubt(&mut self, at: At, words: String) -> Vec<Of> {
        let other = NotCounted::NothingToChange.into();
        self.give(self.active, at, Input::Doubted { words, other })
    }

    fn finish(&mut self, at: At, input: &Input) -> Vec<Of> {
        let begun = self.begun_ones();
        let mut out = Vec::new();
        for place in self.active_last() {
            if place == self.active || self.sessions[place].inputs() > 0 {
                out.extend(self.give(place, at, input.clone()));
            }
        }
        self.one_recap(&begun, out)
    }

    fn active_last(&self) -> Vec<usize> {
        let others = (0..self.sessions.len()).filter(|place| *place != self.active);
        others.chain([self.active]).collect()
    }

    fn begun_ones(&self) -> Vec<usize> {
        let begun =
            |place: &usize| self.sessions[*place].begun() && !self.sessions[*place].finished();
        (0..self.sessions.len()).filter(begun).collect()
    }

    /// Several sessions are told as one sitting.
    fn one_recap(&self, begun: &[usize], mut out: Vec<Of>) -> Vec<Of> {
        if begun.len() < 2 {
            return out;
        }
        let is_recap = |of: &Of| matches!(of.output, Output::Say(Answer::Recap(_)));
        out.retain(|of| !is_recap(of));
        let sessions = self.summaries();
        out.extend(of(self.active, vec![Output::Say(Answer::RecapOfAll { sessions })]));
        out
    }

    /// Each that was begun in numbers, in the order in which they were.
    pub fn summaries(&self) -> Vec<Summary> {
        let mut begun: Vec<&Session> = self.sessions.iter().filter(|one| one.begun()).collect();
        begun.sort_by_key(|one| one.began_at());
        begun.into_iter().map(Session::summary).collect()
    }
}

impl Machine for Sitting {
    type Time = At;
    type Input = Input;
    type Effect = Of;

    fn handle(&mut self, at: At, input: Input) -> Vec<Of> {
        Sitting::handle(self, at, input)
    }

    fn pass(&mut self, to: At) -> Vec<Of> {
        Sitting::pass(self, to)
    }

    fn wake_at(&self) -> Option<At> {
        Sitting::wake_at(self)
    }
}

fn of(place: usize, outputs: Vec<Output>) -> Vec<Of> {
    outputs.into_iter().map(|output| Of { place, output }).collect()
}
