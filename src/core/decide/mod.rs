//! The one decision about a step: is it ready, too hard, standing still, held, and where to work next. The live
//! nudge, the recap, the next plan, the card, the page and the handover all ask here, so that they cannot differ.
//!
//! What is known of a step ([`Known`]) goes from session to session: [`Known::with`] takes one more session in, the
//! session that goes on now or one of the record. How often it is met now is a beta distribution over all its tries,
//! older ones weighing less ([`crate::stats::faded`]); ready or too hard is decided when that is more likely than not
//! past the plan's threshold, and otherwise it is said how many more tries would tell.
//!
//! A nudge of the step is given only if it is decided so at its moment, and misses alone are not a decline. How long, how many
//! rewarded tries and whether the day's treats are used up is [`crate::history::next::how_much`], for the next plan, the
//! session ([`crate::session::Prior`]) and its recap; since when the animal declined is `Session::declining_since`. A session is told
//! what is known of each step when it begins, and [`Known::with`] takes its tries in as the record will later: a property
//! test drives all of them (`tests/all/history/decided.rs`).
//!
//! ```
//! use hushtally_core::decide::{Known, Says, decide};
//! use hushtally_core::plan::Plan;
//! let mut plan = Plan::of_default_words();
//! plan.steps = vec![plan.steps[0].clone(); 3];
//! let nineteen_of_twenty = (0..20).map(|i| i != 7);
//! let known = Known::of(2).with(nineteen_of_twenty, true, &plan.advice);
//! let decision = decide(&plan, &known, false);
//! assert_eq!((decision.says, decision.to), (Says::Ready, 3));
//! ```

mod because;
mod known;
mod links;
mod onward;
mod stuck;
#[cfg(test)]
mod tests;

use serde::Serialize;

pub use known::{Known, OneMore, SESSIONS};
pub use links::{Fade, LinkAdvice, LinkDoes, breaks};
pub use onward::{Onward, Unmeasured};

use crate::chain::LinkScores;
use crate::plan::{Advice, Plan};
use crate::reason::Reason;
use crate::stats::faded::{Faded, fade};
use crate::stats::{Estimate, Level};

/// Fewer tries than this say nothing (common practice, no source: sets of five).
pub const LEAST_TRIES: u32 = 5;
/// So likely must it be that a threshold is passed: more likely than not (chosen on tuning seeds of the bench; a
/// stricter bound raises too late more often than it saves a raise that comes too early).
pub const LIKELY: f64 = 0.5;
/// So sure is enough to say that more tries would tell.
const SURE: f64 = 0.8;
/// More tries than this do not answer "how many more".
const MOST_MORE: u32 = 60;
/// A step that rested this many days is tried before anything is built on it (common practice, no source).
pub const RESTED_DAYS: u32 = 14;

/// What is decided about a step, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decision {
    /// The step, counted from 1.
    pub step: u8,
    /// What of it.
    pub says: Says,
    /// The step to work on next.
    pub to: u8,
    /// Share of tries that meet it now, with its interval at 90 %; `None` before the first try.
    pub share: Option<Estimate>,
    /// Chance that it is ready: the share is at least what the plan raises at.
    pub ready: f64,
    /// Chance that it is too hard: the share is below what the plan eases at.
    pub too_hard: f64,
    /// While nothing is decided: about how many more tries would tell.
    pub more_tries: Option<u32>,
    /// Why it stands still, where it does.
    pub stuck: Option<Reason>,
    /// Days that it rested, when they are many.
    pub rested_days: Option<u32>,
    /// What comes after a step that is held.
    pub onward: Option<Onward>,
    /// A goal that nobody measured.
    pub unmeasured: Option<Unmeasured>,
    /// Of a chain: which link joins next, or which to work on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub link: Option<LinkAdvice>,
    /// Why.
    pub reason: Reason,
}

impl Decision {
    /// With what to do about a link, where the plan is a chain: by the links of tries, oldest first, each with the step that
    /// it worked on.
    #[must_use]
    pub fn with_link(
        self,
        plan: &Plan,
        tries: impl DoubleEndedIterator<Item = (u8, LinkScores)> + Clone,
    ) -> Self {
        let mut decision = self;
        if decision.says == Says::TooHard && !links::breaks(plan, decision.step, tries.clone()) {
            (decision.says, decision.to) = (Says::Stay, decision.step);
            // Of help that was planned nothing is inferred.
            decision.reason.probability = None;
        }
        decision.link = links::link(plan, &decision, tries);
        decision
    }
}

/// What of a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Says {
    /// Nobody tried it yet.
    Untried,
    /// Too few tries to say.
    TooFew,
    /// It rested for long: try it before anything is built on it.
    TryFirst,
    /// Ready: go on a step.
    Ready,
    /// Ready, and it is the last one.
    Held,
    /// Ready, but the body log says to take it easy.
    TakeItEasy,
    /// Too hard: go back a step, or make the first one easier.
    TooHard,
    /// It gains no more: change the plan.
    Stuck,
    /// Stay.
    Stay,
}

/// Chances of one step, without what takes longer to find out.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Chances {
    ready: f64,
    too_hard: f64,
}

impl Chances {
    fn of(faded: Faded, advice: &Advice) -> Self {
        Chances {
            ready: faded.at_least(advice.raise_at),
            too_hard: 1.0 - faded.at_least(advice.ease_below),
        }
    }

    /// How sure the likeliest of ready, too hard and neither is.
    fn sure(self) -> f64 {
        let neither = 1.0 - self.ready - self.too_hard;
        self.ready.max(self.too_hard).max(neither)
    }

    /// A step keeps its animal for a whole session at least, so that there is something to go back to.
    fn is_ready(self, tries: u32, advice: &Advice) -> bool {
        tries >= advice.tries.max(1) && self.ready > LIKELY
    }

    fn is_too_hard(self, tries: u32, advice: &Advice) -> bool {
        tries >= least_tries(advice) && !self.is_ready(tries, advice) && self.too_hard > LIKELY
    }
}

/// This many tries say something.
fn least_tries(advice: &Advice) -> u32 {
    LEAST_TRIES.min(advice.tries.max(1))
}

/// Whether the step is ready, without words: for those who ask after every try.
pub fn is_ready(faded: Faded, advice: &Advice) -> bool {
    Chances::of(faded, advice).is_ready(faded.tries, advice)
}

/// Whether the step is too hard, and the chance that it is not is below `wrong`, without words: for those who ask after
/// every try.
pub fn is_too_hard(faded: Faded, advice: &Advice, wrong: f64) -> bool {
    let chances = Chances::of(faded, advice);
    chances.is_too_hard(faded.tries, advice) && 1.0 - chances.too_hard < wrong
}

/// Whether the step is ready, and why; the same as [`decide`] says.
pub fn ready(known: &Known, advice: &Advice) -> Option<Reason> {
    let chances = Chances::of(known.faded, advice);
    is_ready(known.faded, advice)
        .then(|| because::reason(advice, known, Says::Ready, chances.ready, chances.too_hard))
}

/// Why the step is too hard, where it is and the chance that it is not is below `wrong`; below one half the same as
/// [`decide`] says of a step that did not rest for long.
pub fn too_hard(known: &Known, advice: &Advice, wrong: f64) -> Option<Reason> {
    let chances = Chances::of(known.faded, advice);
    is_too_hard(known.faded, advice, wrong)
        .then(|| because::reason(advice, known, Says::TooHard, chances.ready, chances.too_hard))
}

/// Why the step gains no more or hardly comes, where it does and is not ready; the same as [`decide`] says.
pub fn stuck(known: &Known, advice: &Advice) -> Option<Reason> {
    let is_ready = Chances::of(known.faded, advice).is_ready(known.faded.tries, advice);
    if is_ready { None } else { stuck::why(known, advice) }
}

/// Decides about a step. `easy` is set where the body log says to take it easy.
pub fn decide(plan: &Plan, known: &Known, easy: bool) -> Decision {
    let advice = &plan.advice;
    let faded = known.faded;
    let step = known.step.clamp(1, last(plan));
    let chances = Chances::of(faded, advice);
    let rested_days = known.rested_days.filter(|days| *days >= RESTED_DAYS && faded.tries > 0);
    let is_ready = chances.is_ready(faded.tries, advice);
    let stuck = stuck(known, advice);
    let says = if faded.tries == 0 {
        Says::Untried
    } else if rested_days.is_some() {
        Says::TryFirst
    } else if faded.tries < least_tries(advice) {
        Says::TooFew
    } else if is_ready {
        match (easy, step == last(plan)) {
            (true, _) => Says::TakeItEasy,
            (false, true) => Says::Held,
            (false, false) => Says::Ready,
        }
    } else if chances.is_too_hard(faded.tries, advice) {
        Says::TooHard
    } else if stuck.is_some() {
        Says::Stuck
    } else {
        Says::Stay
    };
    let to = match says {
        Says::Ready => step + 1,
        Says::TooHard => step.saturating_sub(1).max(1),
        _ => step,
    };
    let more_tries = match says {
        Says::TooFew => Some(least_tries(advice) - faded.tries),
        Says::Stay => more(faded, advice),
        _ => None,
    };
    let is_last_and_held = step == last(plan) && is_ready;
    Decision {
        step,
        says,
        to,
        share: (faded.tries > 0).then(|| faded.share(Level::NINETY)),
        ready: chances.ready,
        too_hard: chances.too_hard,
        more_tries,
        stuck,
        rested_days,
        onward: is_last_and_held.then(|| Onward::of(known)),
        link: None,
        unmeasured: if is_ready { onward::unmeasured(plan.step(step), known) } else { None },
        reason: because::reason(advice, known, says, chances.ready, chances.too_hard),
    }
}

/// About how many more tries, going as the share is now, would tell; `None` where even many would not, because the
/// share is so near a threshold.
fn more(faded: Faded, advice: &Advice) -> Option<u32> {
    let fade = fade(advice.tries);
    (1..=MOST_MORE)
        .find(|tries| Chances::of(faded.going_on(*tries, fade), advice).sure() >= SURE)
        .filter(|_| Chances::of(faded, advice).sure() < SURE)
}

fn last(plan: &Plan) -> u8 {
    u8::try_from(plan.steps.len()).unwrap_or(u8::MAX).max(1)
}
