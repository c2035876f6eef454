//! Tests of a change of plan: drawn by lot, kept, and how they stand; by the command line and by voice.

use super::carry_out::unreadable;
use super::live::Live;
use super::stage::{Stage, Told};
use crate::clock::Clock;
use crate::dialogue::{Dialogue, DialogueInput, Trials};
use crate::history::Ladder;
use crate::history::course::Course;
use crate::history::planned::{self, BASELINE, LOT, Planned, Stands};
use crate::known::Known;
use crate::plan::Plan;
use crate::store::Entry;
use crate::wording::text;

/// How the tests of the plan's behaviour stand, in the order in which they were begun.
pub fn tests_of(known: &Known, plan: &Plan) -> Vec<(Planned, Stands)> {
    let present = Ladder::of(0, plan);
    let course = Course::new(&known.history, &plan.behaviour, &present);
    planned::of(&course, &known.planned, &plan.behaviour)
}

/// Draws the session at which the plan is changed, for a baseline of this many sessions and a lot of this many.
///
/// # Errors
/// A sentence, when there cannot be such a baseline or lot.
pub fn draw(
    known: Option<&Known>,
    plan: &Plan,
    change: &str,
    sizes: (usize, usize),
    clock: &Clock,
) -> Result<Entry, String> {
    let present = Ladder::of(0, plan);
    let working = known
        .and_then(|known| Course::new(&known.history, &plan.behaviour, &present).working())
        .unwrap_or(plan.start_step);
    // The random half of a key made now.
    let seed = (clock.new_id().as_u128() as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let planned = Planned::draw(&plan.behaviour, change, working, sizes, seed)?;
    let Planned { behaviour, change, step, baseline, lot, drawn } = planned;
    Ok(Entry::Planned { behaviour, change, step, baseline, lot, drawn })
}

impl Live<'_> {
    /// Tells how the tests of the animal chosen stand, and the dialogue whether there are any.
    pub(super) fn trials(&self, stage: &mut Stage<'_>) -> Vec<Told<DialogueInput>> {
        if stage.desk.recorder.is_none() {
            stage.desk.printer.remark(&text("screen.no_record_no_test"));
            return Vec::new();
        }
        let tests = match self.known(stage.desk) {
            Ok(Some(known)) => tests_of(&known, self.conductor.session().plan()),
            Ok(None) => Vec::new(),
            Err(error) => {
                stage.desk.tell(stage.latest, unreadable(&error));
                return Vec::new();
            }
        };
        let is_over = |stands: &Stands| matches!(stands, Stands::Done(_));
        let trials = match tests.last() {
            None => Trials::None,
            Some(_) if tests.iter().all(|(_, stands)| is_over(stands)) => Trials::Over,
            Some(_) => Trials::GoOn,
        };
        // Results that were told already are not read again while another test goes on.
        let latest = tests.len().saturating_sub(1);
        let asked = tests.iter().enumerate().filter(|(place, (_, stands))| {
            if trials == Trials::Over { *place == latest } else { !is_over(stands) }
        });
        let told: Vec<String> = asked
            .map(|(_, (planned, stands))| format!("{}.", stands.said(&planned.change)))
            .collect();
        if !told.is_empty() {
            stage.desk.tell(stage.latest, told.join(" "));
        }
        vec![Told::new(self.clock.now(), DialogueInput::Trials(trials))]
    }

    /// Draws, keeps what was drawn, and tells what to do first.
    pub(super) fn begin_trial(
        &mut self,
        change: &str,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let plan = self.conductor.session().plan();
        let drawn = match self.known(stage.desk) {
            Ok(known) => draw(known.as_ref(), plan, change, (BASELINE, LOT), &self.clock),
            Err(error) => Err(unreadable(&error)),
        };
        match drawn {
            Ok(entry) => {
                let mut told = self.journal(entry, dialogue, stage);
                told.extend(self.trials(stage));
                told
            }
            Err(why) => {
                stage.desk.tell(stage.latest, why);
                Vec::new()
            }
        }
    }
}
