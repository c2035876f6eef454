//! Weeks of sessions of one animal, for demo data and for tests of the history.

use rand::RngExt;

use super::{Animal, Simulated, Trainer, dice, run};
use crate::interpret::Said;
use crate::plan::{Command, Plan};
use crate::session::Input;

/// A simulated session with its place in the weeks.
#[derive(Debug, Clone, PartialEq)]
pub struct Dated {
    /// Days since the first session.
    pub day: u32,
    /// Seconds since midnight.
    pub second_of_day: u32,
    /// The session, ended with the finish command.
    pub simulated: Simulated,
}

/// This many sessions of one animal, one a day on most days, at the plan's length. The trainer begins
/// at the plan's first step, and goes on a step after a whole session above 8 of 10.
pub fn weeks(plan: &Plan, seed: u64, sessions: usize) -> Vec<Dated> {
    let mut dice = dice(seed);
    let mut animal = Animal::draw(plan.steps.len(), &mut dice);
    let planned = plan.limits.planned.as_secs_f64();
    let mut trainer = Trainer { says_mood: true, ..Trainer::draw(planned, &mut dice) };
    let (mut working, mut day) = (plan.start_step, 0);
    let mut dated = Vec::with_capacity(sessions);
    for _ in 0..sessions {
        // Nobody stops to the second.
        trainer.stops_after = planned * dice.random_range(0.7..1.15);
        let mut simulated = run(&mut animal, &trainer, plan, working, &mut dice);
        let finish = Input::said(Said::Command { command: Command::Finish }, "tally finish");
        simulated.inputs.push((simulated.truth.ended, finish));
        let second_of_day = 17 * 3600 + dice.random_range(0..5400);
        let met = met_share(&simulated);
        dated.push(Dated { day, second_of_day, simulated });
        if met > 0.8 && usize::from(working) < plan.steps.len() {
            working += 1;
        }
        day += if dice.random_bool(0.85) { 1 } else { 2 };
    }
    dated
}

/// Share of tagged tries that met the step worked on.
fn met_share(simulated: &Simulated) -> f64 {
    let working = simulated.truth.working;
    let (mut met, mut tries) = (0.0, 0.0_f64);
    for (_, input) in &simulated.inputs {
        match input {
            Input::Tagged { said: Said::Rep(details), .. } => {
                tries += 1.0;
                met += f64::from(u8::from(details.step.is_none_or(|step| step >= working)));
            }
            Input::Tagged { said: Said::Miss(_), .. } => tries += 1.0,
            _ => {}
        }
    }
    met / tries.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weeks_are_the_same_for_the_same_seed_and_climb() {
        let mut plan = Plan::of_default_words();
        plan.steps = vec![plan.steps[0].clone(); 6];
        let first = weeks(&plan, 11, 84);
        assert_eq!(first, weeks(&plan, 11, 84));
        assert_ne!(first, weeks(&plan, 12, 84));
        let reached = first.last().unwrap().simulated.truth.working;
        assert!(reached > 1, "{reached}");
        assert!(first.last().unwrap().day >= 84);
        for dated in &first {
            let truth = dated.simulated.truth;
            assert!(truth.habit > 0.0 && truth.habit < 1.0);
            assert!(dated.simulated.inputs.is_sorted_by_key(|(at, _)| *at));
        }
    }
}
