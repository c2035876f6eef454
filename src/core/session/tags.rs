//! What each tag does.

use super::detect::Seen;
use super::engine::append;
use super::hands::TookOver;
use super::{Answer, Event, Input, MissedBecause, NudgeKind, Output, Session, WhyEnded};
use crate::at::At;
use crate::interpret::{NotCounted, OtherReading, Said};
use crate::plan::Command;

impl Session {
    pub(super) fn tagged(&mut self, at: At, said: Said, words: String, out: &mut Vec<Output>) {
        let said = match &self.plan.chain {
            Some(chain) => said.of_a_chain(chain.len()),
            None => said,
        };
        if let Said::Command { command } = said {
            if command == Command::Refilled && self.begun() {
                // It can be taken back like a tag, and is said in a pause as well.
                self.remember(at, Some(said.clone()));
                self.apply(at, self.inputs, &said);
            }
            append(at, Event::Input(Input::Tagged { said, words }), out);
            self.command(at, command, out);
            return;
        }
        if let Some(mine) = self.is_mine(&said) {
            append(at, Event::Input(Input::Tagged { said: said.clone(), words }), out);
            return if mine { self.worked_on(at, &said, out) } else { self.rest(at) };
        }
        if let Said::TakesOver { person } = &said {
            // Hands change in a pause as well as in the middle of it all.
            self.remember(at, Some(said.clone()));
            self.apply(at, self.inputs, &said);
            let answer = Answer::TakesOver { person: person.clone() };
            append(at, Event::Input(Input::Tagged { said, words }), out);
            out.push(Output::Say(answer));
            return;
        }
        let corrects = matches!(said, Said::TakeBack | Said::PutBack { .. } | Said::Change(_));
        if self.watch.paused() || (self.resting() && !corrects) {
            self.doubt(at, words, NotCounted::InPause.into(), out);
            return;
        }
        if matches!(said, Said::Rep(_) | Said::Miss(_)) {
            self.nudging.marker(at);
        }
        self.bare_correction = None;
        let done = match &said {
            Said::TakeBack => self.take_back(at),
            Said::PutBack { said_at } => self.put_back(*said_at, at),
            Said::Change(details) => self.revise(at, said.clone(), *details),
            Said::Detail(details) => {
                self.may_complete(at) && self.revise(at, said.clone(), *details)
            }
            _ => {
                if !self.begun() {
                    self.begin(at, out);
                }
                let played_on = self.watch.playing().then(|| self.watch.clone());
                if played_on.is_some() {
                    // Whatever is tagged ends a break for play.
                    self.watch.go_on(at);
                }
                self.remember(at, Some(said.clone()));
                if let Some(entry) = self.undo.back_mut() {
                    entry.played_on = played_on;
                }
                self.apply(at, self.inputs, &said);
                true
            }
        };
        if !done {
            self.doubt(at, words, NotCounted::NothingToChange.into(), out);
            return;
        }
        append(at, Event::Input(Input::Tagged { said, words }), out);
        self.nudging.receipt(at);
        out.extend(self.told_back(at).map(Output::Say));
    }

    /// What is said of the take-back or correction at `at`, where the plan wants it said.
    fn told_back(&mut self, at: At) -> Option<Answer> {
        if !self.plan.words.say_taken_back() {
            return None;
        }
        let took = self.took_back(at).map(Answer::TookBack);
        let latest = self.undo.back().and_then(|entry| entry.said.as_ref());
        let idle = match latest {
            Some(Said::Change(details)) if self.changed_nothing(at) => {
                // One without details may still get them.
                self.bare_correction = details.is_empty().then_some(at);
                (!details.is_empty()).then_some(Answer::Idle { number: self.reps.len() })
            }
            _ => None,
        };
        took.or(idle)
    }

    /// Something that may be a tag: kept for the review, without effect on the reps.
    pub(super) fn doubt(
        &mut self,
        at: At,
        words: String,
        other: OtherReading,
        out: &mut Vec<Output>,
    ) {
        self.remember(at, None);
        self.core.unsure += 1;
        // A parrot that repeats each marker would be told of each time. A trainer who was too soft misses the sound
        // for a tag on disk.
        if other != OtherReading::NotCounted(NotCounted::SaidByAnother) {
            self.nudging.raise(at, NudgeKind::NotSure, None);
        }
        append(at, Event::Input(Input::Doubted { words, other }), out);
    }

    /// The effect of a tag on reps and detectors.
    pub(super) fn apply(&mut self, at: At, input: u32, said: &Said) {
        match said {
            Said::Rep(details) => self.add_rep(at, Some(input), *details, None),
            Said::Miss(details) => {
                let missed = Some(MissedBecause::Said);
                self.add_rep(at, Some(input), details.of_a_miss(), missed);
            }
            Said::State { mood } => self.show(&Seen::Mood(*mood), at),
            Said::Cue => {
                self.core.cue_since = Some(self.watch.active(at));
                self.show(&Seen::Cue, at);
            }
            Said::HoldStart => self.core.hold_since = Some(self.watch.active(at)),
            // Details were already taken into their rep.
            Said::Detail(_)
            | Said::Change(_)
            | Said::TakeBack
            | Said::PutBack { .. }
            | Said::Behaviour { .. }
            | Said::Animal { .. } => {}
            Said::TakesOver { person } => {
                let person = Some(person.clone());
                self.core.took_over.push(TookOver { at, input, person });
            }
            Said::Own { name } => self.show(&Seen::Own(name), at),
            Said::Command { command: Command::Refilled } => {
                self.core.tally.refill();
                self.core.refills.push(self.watch.active(at));
                self.show(&Seen::Refilled, at);
            }
            Said::Command { .. } => {}
        }
    }

    fn command(&mut self, at: At, command: Command, out: &mut Vec<Output>) {
        let answer = match command {
            Command::Begin if self.reps.is_empty() => {
                self.begin(at, out);
                self.begun_at()
            }
            Command::Pause => {
                self.watch.pause(at);
                Answer::Now { state: "paused" }
            }
            Command::PlayBreak => {
                self.watch.play(at);
                Answer::Now { state: if self.begun() { "playing" } else { "not_begun" } }
            }
            Command::Begin | Command::GoOn if self.begun() && !self.watch.stands_still() => {
                Answer::Now { state: "running" }
            }
            // Begin said in a pause means: go on.
            Command::Begin | Command::GoOn => {
                self.watch.go_on(at);
                Answer::Now { state: "going_on" }
            }
            Command::Finish => return self.finish(at, WhyEnded::Said, out),
            Command::StepUp => self.work_on(self.working.saturating_add(1), at),
            Command::StepBack => self.work_on(self.working.saturating_sub(1), at),
            Command::Stay => self.work_on(self.working, at),
            Command::WorkOn(step) => self.work_on(step, at),
            Command::Time => Answer::Time {
                active_s: self.animal_active().as_secs_f64(),
                planned_s: self.prior.planned(&self.plan.limits).0.as_secs_f64(),
            },
            Command::Rate => Answer::Rate {
                per_min: self.rate_per_min().unwrap_or(0.0),
                floor_per_min: self.plan.limits.rate_floor_per_min,
            },
            Command::Count => Answer::Count {
                tries: self.tries(),
                planned: self.prior.planned(&self.plan.limits).1,
            },
            Command::Treats => self.treats(),
            Command::Refilled => Answer::Refilled { laid_out: self.plan.limits.treats_laid_out },
            Command::Why => {
                let (nudge, reason) = self.nudging.latest().unzip();
                Answer::Why { nudge, reason: reason.cloned(), held_back: self.held_back() }
            }
            // It stands in the log; whoever is around the session carries it out.
            _ => return,
        };
        out.push(Output::Say(answer));
    }

    /// It is this session that is worked on from here on.
    fn worked_on(&mut self, at: At, said: &Said, out: &mut Vec<Output>) {
        if !self.begun() {
            self.begin(at, out);
            self.goes_on(at);
        } else if self.resting() {
            self.goes_on(at);
        } else {
            // Named once more: in a pause that means to go on, and otherwise nothing changes.
            self.watch.go_on(at);
        }
        // An animal may be named with every try, so that a sentence each time would be in the way.
        if matches!(said, Said::Animal { .. }) {
            self.nudging.receipt(at);
            return;
        }
        out.push(Output::Say(self.works_on()));
    }

    /// What is worked on here.
    pub(crate) fn works_on(&self) -> Answer {
        let number = self.working;
        Answer::WorksOn {
            behaviour: self.plan.behaviour.clone(),
            number,
            of: self.plan.steps.len(),
            name: self.plan.step(number).name.clone(),
        }
    }

    /// Of an animal that is known it is said which step it is.
    fn begun_at(&self) -> Answer {
        let (number, of) = (self.working, self.plan.steps.len());
        if self.prior.sessions.is_empty() || of < 2 {
            return Answer::Now { state: "begun" };
        }
        Answer::Begun { number, of, name: self.plan.step(number).name.clone() }
    }

    fn work_on(&mut self, step: u8, at: At) -> Answer {
        let last = u8::try_from(self.plan.steps.len()).unwrap_or(u8::MAX);
        let step = step.clamp(1, last);
        if step != self.working {
            let before = std::mem::replace(&mut self.working, step);
            self.core.tally.new_step();
            // What was said at another step cannot be taken back across the change.
            self.forgotten = self.undo.back().map(|entry| entry.at).or(self.forgotten);
            self.undo.clear();
            self.taken_back.clear();
            self.nudging.step_changed(at);
            self.show(&Seen::Step(before), at);
        }
        Answer::Step { number: step, name: self.plan.step(step).name.clone() }
    }

    fn treats(&self) -> Answer {
        let given = self.core.tally.pieces.saturating_add(self.elsewhere().pieces);
        let left = self.plan.limits.treats_laid_out.map(|laid| laid.saturating_sub(given));
        Answer::Treats { given, left }
    }
}
