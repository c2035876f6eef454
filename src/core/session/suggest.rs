//! What to do next time, as plain data with reasons: hold, raise or ease the criterion, the sides,
//! the treats. Nothing here is a health finding; a lasting difference goes to a veterinarian.

use serde::{Deserialize, Serialize};

use super::at_step::AtStep;
use super::detect::jackpots_often;
use super::{NudgeKind, PastSession, Quantity, Reason, Rep, Session};
use crate::decide::{self, Decision, Says};
use crate::sentences::because;
use crate::stats::proportions::sides;

/// So unlikely must a side difference be before it is mentioned.
const SIDE_P: f64 = 0.05;
/// Sessions in which the same side must lead for a difference to be called lasting (common
/// practice, no source).
const LASTING_SESSIONS: usize = 3;

/// A suggestion for next time, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Suggestion {
    /// What.
    pub suggests: Suggests,
    /// Why.
    pub reason: Reason,
}

/// What is suggested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "suggests", rename_all = "snake_case")]
pub enum Suggests {
    /// Not enough reps yet to say; this many more are needed.
    MoreReps {
        /// How many.
        needed: u32,
    },
    /// Stay at this step.
    Hold {
        /// Which.
        step: u8,
    },
    /// Go on to this step.
    Raise {
        /// Which.
        step: u8,
    },
    /// Go back to this step.
    Ease {
        /// Which.
        step: u8,
    },
    /// The last step is reached: new places, other people, the cue.
    Generalise,
    /// No progress over several sessions: change the plan.
    ChangePlan,
    /// One side is used more, in this session.
    SideDiffers,
    /// One side has been used more over several sessions: have a veterinarian look.
    SeeVeterinarian,
    /// Fewer jackpots, so that they stay special.
    FewerJackpots,
}

impl Session {
    /// Suggestions for next time, the criterion first.
    pub fn advice(&self) -> Vec<Suggestion> {
        let mut all = vec![self.criterion()];
        all.extend(self.side_difference());
        all.extend(self.jackpots());
        all
    }

    /// What is decided about the step worked on, by all that is known of it now.
    pub fn decision(&self) -> Decision {
        self.decision_on(self.reps())
    }

    /// The same, with these tries in place of the session's own: corrections may be laid over them.
    pub fn decision_on(&self, reps: &[Rep]) -> Decision {
        let (plan, prior) = (self.plan(), self.prior());
        let since = self.declining_since();
        let known = AtStep::known_from_scratch(plan, prior, reps, self.working(), since);
        let links = reps.iter().map(|rep| (rep.working, rep.links));
        decide::decide(plan, &known, prior.easy).with_link(plan, links)
    }

    /// Whether what this nudge says of the step is decided now.
    pub(super) fn is_decided(&mut self, kind: NudgeKind) -> bool {
        self.catch_up_at_step();
        let (faded, advice) = (self.core.at_step.faded(), &self.plan.advice);
        match kind {
            NudgeKind::StepReady => decide::is_ready(faded, advice),
            NudgeKind::StepTooMuch => {
                let links = self.reps.iter().map(|rep| (rep.working, rep.links));
                decide::is_too_hard(faded, advice, decide::LIKELY)
                    && decide::breaks(&self.plan, self.working, links)
            }
            _ => true,
        }
    }

    fn criterion(&self) -> Suggestion {
        let decision = self.decision();
        let suggests = match decision.says {
            Says::Untried | Says::TooFew => {
                Suggests::MoreReps { needed: decision.more_tries.unwrap_or(decide::LEAST_TRIES) }
            }
            Says::Ready => Suggests::Raise { step: decision.to },
            Says::Held => Suggests::Generalise,
            Says::TooHard if decision.to < decision.step => Suggests::Ease { step: decision.to },
            Says::TooHard | Says::Stuck => Suggests::ChangePlan,
            Says::TryFirst | Says::TakeItEasy | Says::Stay => Suggests::Hold { step: decision.to },
        };
        Suggestion { suggests, reason: decision.reason }
    }

    fn side_difference(&self) -> Option<Suggestion> {
        let here = PastSession { sides: self.tally().sides, ..PastSession::default() };
        let past = self.prior().sessions.iter().chain([&here]);
        let counted: Vec<[u32; 2]> =
            past.map(|session| session.sides).filter(|[left, right]| left + right > 0).collect();
        let leads = |[left, right]: &[u32; 2]| (*right).cmp(left);
        let last = counted.last()?;
        let same = counted.iter().filter(|count| leads(count) == leads(last)).count();
        let lasting = counted.len() >= LASTING_SESSIONS && same == counted.len();
        let [left, right] = if lasting {
            counted.iter().fold([0, 0], |sum: [u32; 2], count| {
                [sum[0].saturating_add(count[0]), sum[1].saturating_add(count[1])]
            })
        } else {
            self.tally().sides
        };
        let test = sides(right, left).ok().filter(|test| test.p < SIDE_P)?;
        let inputs = vec![
            Quantity::new("left", f64::from(left), ""),
            Quantity::new("right", f64::from(right), ""),
            Quantity::new("side index", test.index.unwrap_or(0.0), ""),
            Quantity::new("sessions", counted.len() as f64, ""),
        ];
        let lasts = if lasting { "lasting" } else { "" };
        Some(Suggestion {
            suggests: if lasting { Suggests::SeeVeterinarian } else { Suggests::SideDiffers },
            reason: Reason {
                detector: "sides".into(),
                because: because("sides", &inputs, &[("lasting", lasts)]),
                inputs,
                probability: Some(test.p),
                method: "exact two-sided binomial test against one half; lasting: the same side \
                         leads in every one of at least three sessions"
                    .into(),
                source: "exact binomial test (Clopper & Pearson 1934, Biometrika 26:404); \
                         referral: common practice, no source"
                    .into(),
            },
        })
    }

    fn jackpots(&self) -> Option<Suggestion> {
        let reason = jackpots_often(self.tally())?;
        Some(Suggestion { suggests: Suggests::FewerJackpots, reason })
    }
}
