//! Plans made and changed by voice, and what the weeks say of the next session: carries out what the dialogue asks for.

use jiff::ZonedDateTime;
use jiff::tz::TimeZone;

use super::carry_out::unreadable;
use super::live::Live;
use super::phase::Phase;
use super::stage::{Stage, Told};
use crate::dialogue::{ChangeRead, DialogueInput, DialogueLine};
use crate::history::body::read_by;
use crate::history::next::{self, Next};
use crate::known::Known;
use crate::plan::{Fresh, PlanChange, asked};
use crate::store::StoreError;
use crate::wording::{handover, text};

impl Live<'_> {
    fn told(&self, input: DialogueInput) -> Told<DialogueInput> {
        Told::new(self.clock.now(), input)
    }

    /// The plan chosen, by its index.
    fn chosen(&self) -> Option<usize> {
        match self.phase {
            Phase::Plan(index) => Some(index),
            Phase::Lobby | Phase::Over => None,
        }
    }

    pub(super) fn make_plan(&mut self, new: &Fresh) -> Told<DialogueInput> {
        let made = self.shelf.make(new).map_err(|error| format!("{error:#}"));
        // The words for choosing have one more name.
        self.reload |= made.is_ok();
        self.told(DialogueInput::PlanMade(made))
    }

    pub(super) fn read_change(&mut self, text: String) -> Told<DialogueInput> {
        let working = self.conductor.session().working();
        let read = match (self.chosen(), asked(&text, working)) {
            (Some(index), Some(change)) => match self.shelf.try_change(index, &change) {
                Ok(described) => ChangeRead::Possible { text, change, described },
                Err(error) => ChangeRead::Impossible { text, why: format!("{error:#}") },
            },
            _ => ChangeRead::NotUnderstood { text },
        };
        self.told(DialogueInput::ChangeRead(read))
    }

    pub(super) fn change_plan(&mut self, change: &PlanChange) -> Told<DialogueInput> {
        let changed = match self.chosen() {
            Some(index) => self.shelf.change(index, change).map_err(|error| format!("{error:#}")),
            None => Err(text("screen.no_plan_chosen")),
        };
        self.told(DialogueInput::PlanChanged(changed))
    }

    /// Tells what to do in the next session.
    pub(super) fn what_next(&self, stage: &mut Stage<'_>) {
        let text = match self.next(stage) {
            Ok(Some((_, next))) => stage.desk.wording().next(&next),
            Ok(None) => {
                let plan = self.conductor.session().plan();
                stage.desk.wording().line(&DialogueLine::FirstSession {
                    step: plan.step(plan.start_step).name.clone(),
                    number: plan.start_step,
                    tries: plan.limits.planned_reps,
                    minutes: plan.limits.planned.as_secs_f64() / 60.0,
                    treat: plan.rewards.high.what.clone(),
                })
            }
            Err(error) => unreadable(&error),
        };
        stage.desk.tell(stage.latest, text);
    }

    /// Reads what whoever trains next should know.
    pub(super) fn hand_over(&self, stage: &mut Stage<'_>) {
        let text = match self.next(stage) {
            Ok(Some((known, next))) => handover::note(&known.history, &next).lines.join(" "),
            Ok(None) => stage.desk.wording().nothing_yet(),
            Err(error) => unreadable(&error),
        };
        stage.desk.tell(stage.latest, text);
    }

    /// What the record says of the next session by this plan; `None` before the first.
    fn next(&self, stage: &Stage<'_>) -> Result<Option<(Known, Next)>, StoreError> {
        let plan = self.conductor.session().plan();
        let known = self.known(stage.desk)?;
        Ok(known.filter(|known| known.plans.contains_key(&plan.behaviour)).map(|known| {
            let today = ZonedDateTime::new(self.clock.utc(), TimeZone::system()).date();
            let body = read_by(&known.body, today, &known.bounds());
            let next = next::plan(&known.history, plan, &body, today);
            (known, next)
        }))
    }

    pub(super) fn report(&mut self, stage: &mut Stage<'_>) {
        let place = match self.chosen() {
            Some(index) => self.shelf.report(index).map_err(|error| format!("{error:#}")),
            None => Err(text("screen.no_plan_chosen")),
        };
        tell_written("report", place, stage);
    }

    pub(super) fn backup(&mut self, stage: &mut Stage<'_>) {
        tell_written("backup", self.shelf.backup().map_err(|error| format!("{error:#}")), stage);
    }
}

fn tell_written(what: &'static str, place: Result<String, String>, stage: &mut Stage<'_>) {
    let line = match place {
        Ok(place) => DialogueLine::Wrote { what, place },
        Err(why) => DialogueLine::NotWritten { what, why },
    };
    stage.desk.tell_line(stage.latest, &line);
}
