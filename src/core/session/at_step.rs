//! What is known of the step worked on with this session's tries, each taken in once and not again after every try.

use std::time::Duration;

use super::{Prior, Rep};
use crate::decide::{Known, OneMore};
use crate::plan::{Dimension, Plan};
use crate::stats::faded::Faded;

/// The tries of a session at one step, up to since when it declines. Restored with the rest when a tag is taken back.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct AtStep {
    /// Counted from 1; 0 before the first look.
    step: u8,
    declining_since: Option<Duration>,
    /// So many of the session's tries are taken in, those at other steps too.
    taken_in: usize,
    session: OneMore,
}

impl AtStep {
    /// Takes in the tries that it has not taken in yet: all of them when the step is another, or the animal declines since
    /// another moment.
    pub(super) fn catch_up(
        &mut self,
        plan: &Plan,
        prior: &Prior,
        reps: &[Rep],
        step: u8,
        declining_since: Option<Duration>,
    ) {
        if (self.step, self.declining_since) != (step, declining_since) {
            let session = prior.step(step, &plan.advice).one_more();
            *self = AtStep { step, declining_since, taken_in: 0, session };
        }
        let dimension = plan.step(step).dimension;
        for rep in reps.get(self.taken_in..).unwrap_or_default() {
            if declining_since.is_some_and(|since| rep.active > since) {
                break;
            }
            self.taken_in += 1;
            if rep.working == step {
                let measured = match dimension {
                    Dimension::Duration => rep.duration.is_some(),
                    Dimension::Latency => rep.latency.is_some(),
                    _ => false,
                };
                self.session = self.session.and(rep.met_criterion(), measured, &plan.advice);
            }
        }
    }

    /// How often the step is met now.
    pub(super) fn faded(&self) -> Faded {
        self.session.faded()
    }

    /// All that is known of the step.
    pub(super) fn known(&self, plan: &Plan, prior: &Prior) -> Known {
        prior.step(self.step, &plan.advice).with_one_more(self.session, &plan.advice)
    }

    /// The same of these tries, all taken in at once.
    pub(super) fn known_from_scratch(
        plan: &Plan,
        prior: &Prior,
        reps: &[Rep],
        step: u8,
        declining_since: Option<Duration>,
    ) -> Known {
        let mut at_step = AtStep::default();
        at_step.catch_up(plan, prior, reps, step, declining_since);
        at_step.known(plan, prior)
    }
}
