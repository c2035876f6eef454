//! What the trainer is told when asking, as numbers; templates in `prompts/` make sentences of it.

use std::time::Duration;

use serde::Serialize;

use super::hands::{Hand, begun_by};
use super::{HeldBack, NudgeKind, Reason, Rep, Tries};
use crate::decide::Decision;
use crate::plan::{Mood, Plan, RewardValue, Role, Side, Words};

/// An answer, as numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "answer", rename_all = "snake_case")]
pub enum Answer {
    /// Time since the start, pauses left out, and what was planned.
    Time {
        /// Seconds so far.
        active_s: f64,
        /// Seconds planned.
        planned_s: f64,
    },
    /// Rate of reinforcement.
    Rate {
        /// Rewards per minute over the window.
        per_min: f64,
        /// The plan's floor.
        floor_per_min: f64,
    },
    /// Tries so far.
    Count {
        /// Of them rewarded and missed.
        #[serde(flatten)]
        tries: Tries,
        /// Rewarded ones planned.
        planned: u32,
    },
    /// Pieces left of those laid out; `None` when the plan does not say how many were.
    Treats {
        /// Pieces given so far.
        given: u32,
        /// Pieces left.
        left: Option<u32>,
    },
    /// The pouch is full again.
    Refilled {
        /// Pieces in it; `None` when the plan does not say how many are laid out.
        laid_out: Option<u32>,
    },
    /// Somebody else trains from here on.
    TakesOver {
        /// Who.
        person: String,
    },
    /// Another session of the sitting is worked on now.
    WorksOn {
        /// The behaviour.
        behaviour: String,
        /// The step worked on, from 1.
        number: u8,
        /// The plan's last.
        of: usize,
        /// Its name.
        name: String,
    },
    /// The step worked on now.
    Step {
        /// Its number.
        number: u8,
        /// Its name.
        name: String,
    },
    /// Why the last nudge was given, and what was held back since; `None` when there was none.
    Why {
        /// Which nudge.
        nudge: Option<NudgeKind>,
        /// Its reason.
        reason: Option<Reason>,
        /// What waits or was held back, most important first.
        held_back: Vec<HeldBack>,
    },
    /// A session of an animal that is known has begun, at this step.
    Begun {
        /// Its number, from 1.
        number: u8,
        /// The plan's last.
        of: usize,
        /// Its name.
        name: String,
    },
    /// Session state changed: "begun", "paused", "going on".
    Now {
        /// One of `begun`, `paused`, `going_on`.
        state: &'static str,
    },
    /// A take-back took this; said where the plan wants it said.
    TookBack(Took),
    /// A correction left the latest try as it was; said where the plan wants take-backs said.
    Idle {
        /// The try's number, from 1.
        number: usize,
    },
    /// The whole session.
    Recap(Summary),
    /// A sitting of several sessions, in the order in which they were begun.
    RecapOfAll {
        /// Each in numbers.
        sessions: Vec<Summary>,
    },
}

/// What a take-back took.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum Took {
    /// A try.
    Try(TookTry),
    /// Details or a change; this is the try as it was before them.
    Details(TookTry),
    /// A state of the animal.
    Mood {
        /// Which.
        name: Mood,
    },
    /// The cue.
    Cue,
    /// The start of a hold.
    HoldStart,
    /// That the pouch was filled again.
    Refilled,
    /// That somebody else trains.
    TakesOver {
        /// Who.
        name: String,
    },
    /// A tag of the plan's own.
    Own {
        /// Which.
        name: String,
    },
    /// Something that was not heard for sure.
    Unsure,
}

/// A try as a take-back names it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TookTry {
    /// Its number, from 1.
    pub number: usize,
    /// Step reached or tried.
    pub step: u8,
    /// Whether that is another than the one worked on.
    pub step_named: bool,
    /// Its value as a person reads it; `None` for a miss.
    pub paid: Option<String>,
    /// Its side, when said.
    pub side: Option<Side>,
}

impl TookTry {
    pub(super) fn of(index: usize, rep: &Rep, words: &Words) -> Self {
        TookTry {
            number: index + 1,
            step: rep.step,
            step_named: rep.step != rep.working,
            paid: rep.paid_as(words),
            side: rep.side,
        }
    }
}

/// How often a value was named by a word, and not left to the plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Named {
    /// The plan's first word for it.
    pub word: String,
    /// How often.
    pub count: usize,
}

/// A session in numbers, for the recap.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// The animal's name.
    pub animal: String,
    /// The goal behaviour.
    pub behaviour: String,
    /// Name of the step worked on at the end.
    pub step_name: String,
    /// Its number.
    pub step: u8,
    /// Active seconds.
    pub active_s: f64,
    /// Tries, of them rewarded and missed.
    #[serde(flatten)]
    pub tries: Tries,
    /// Rewards by value: low, high, jackpot.
    pub paid: [usize; 3],
    /// Of low and high rewards, those whose value was named, by the plan's words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub named: Vec<Named>,
    /// Rewards per minute over the whole session; `None` without time.
    pub rate_per_min: Option<f64>,
    /// Highest step reached.
    pub best_step: Option<u8>,
    /// Median seconds from cue to marker, when at least three were taken.
    pub latency_median_s: Option<f64>,
    /// Longest hold in seconds, when holds were begun.
    pub longest_hold_s: Option<f64>,
    /// Things heard that wait for the review.
    pub unsure: usize,
    /// Most important nudge of the session.
    pub main_nudge: Option<NudgeKind>,
    /// Nudges that were held back and never given, most important first.
    pub held_back: Vec<NudgeKind>,
    /// Whether the last try was rewarded.
    pub ended_well: bool,
    /// Active seconds at which the animal began to decline, when it did.
    pub declined_s: Option<f64>,
    /// What each person scored, in order; empty when nobody took over.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub hands: Vec<Hand>,
    /// Breaks for play.
    #[serde(skip_serializing_if = "is_none")]
    pub breaks: u32,
    /// How long they were in all, in seconds; no active time.
    #[serde(skip_serializing_if = "is_no_time")]
    pub played_s: f64,
    /// What is decided about the step, for the next session.
    pub next: Box<Decision>,
}

impl Summary {
    /// Sums up a session.
    #[allow(clippy::too_many_arguments, reason = "each is one thing that the engine alone knows")]
    pub fn of(
        plan: &Plan,
        reps: &[Rep],
        working: u8,
        active: Duration,
        unsure: usize,
        main_nudge: Option<NudgeKind>,
        declining_since: Option<Duration>,
        next: Decision,
    ) -> Self {
        let tries = Tries::of(reps);
        let of_value = |value| reps.iter().filter(|rep| rep.paid() == Some(value)).count();
        let minutes = active.as_secs_f64() / 60.0;
        let latencies = reps.iter().filter_map(|rep| rep.latency).map(|l| l.as_secs_f64());
        Summary {
            animal: plan.animal.clone(),
            behaviour: plan.behaviour.clone(),
            step_name: plan.step(working).name.clone(),
            step: working,
            active_s: active.as_secs_f64(),
            tries,
            paid: [RewardValue::Low, RewardValue::High, RewardValue::Jackpot].map(of_value),
            named: [RewardValue::Low, RewardValue::High]
                .into_iter()
                .filter_map(|value| {
                    let named = |rep: &&Rep| rep.value_named && rep.paid() == Some(value);
                    let count = reps.iter().filter(named).count();
                    let word = plan.words.of(&Role::Value(value)).first()?.clone();
                    (count > 0).then_some(Named { word, count })
                })
                .collect(),
            rate_per_min: (minutes > 0.0).then(|| f64::from(tries.rewarded) / minutes),
            best_step: reps
                .iter()
                .filter(|rep| rep.rewarded() && rep.step > 0)
                .map(|rep| rep.step)
                .max(),
            latency_median_s: usual(latencies.collect()),
            longest_hold_s: reps
                .iter()
                .filter(|rep| rep.rewarded())
                .filter_map(|rep| rep.duration)
                .max()
                .map(|longest| longest.as_secs_f64()),
            unsure,
            main_nudge,
            held_back: Vec::new(),
            hands: Vec::new(),
            breaks: 0,
            played_s: 0.0,
            ended_well: reps.last().is_some_and(Rep::rewarded),
            declined_s: declining_since.map(|since| since.as_secs_f64()),
            next: Box::new(next),
        }
    }
}

impl Summary {
    /// Gives whoever began a name, where hands changed and the record knows it.
    pub fn was_begun_by(&mut self, person: Option<&str>) {
        if let Some(name) = person {
            begun_by(&mut self.hands, name);
        }
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature serde asks for")]
fn is_none(number: &u32) -> bool {
    *number == 0
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature serde asks for")]
fn is_no_time(seconds: &f64) -> bool {
    *seconds <= 0.0
}

/// Fewer values than this have no usual.
const LEAST_USUAL: usize = 3;

fn usual(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        ..LEAST_USUAL => None,
        n if n % 2 == 1 => Some(values[middle]),
        _ => Some(f64::midpoint(values[middle - 1], values[middle])),
    }
}
