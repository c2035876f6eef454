//! Running counts of a session, so that no look has to go through the reps again.

use std::time::Duration;

use super::rep::Rep;
use crate::plan::{Plan, RewardValue, Side};

/// Counts so far, restored with the rest when a tag is taken back.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    /// Tries, misses included.
    pub tries: u32,
    /// Rewarded tries.
    pub rewarded: u32,
    /// Tries that met the criterion of their time.
    pub met: u32,
    /// Rewards by value: low, high, jackpot.
    pub paid: [u32; 3],
    /// Pieces given since the pouch was last filled.
    pub pieces: u32,
    /// Energy given, in kcal, of the treats whose energy is known.
    pub kcal: f64,
    /// Active time of the last reward; zero before the first.
    pub last_reward: Duration,
    /// Active time of the last try; `None` before the first.
    pub last_try: Option<Duration>,
    /// Misses since the last reward.
    pub misses_since: u32,
    /// Rewarded reps on the left and on the right, where said.
    pub sides: [u32; 2],
    /// Tries since work on the present step began.
    pub at_step: u32,
    /// Those of them that met the criterion.
    pub met_at_step: u32,
    /// Of the last tries at this step, as many as the plan counts: how many there are.
    pub recent: u32,
    /// How many of those met the criterion.
    pub recent_met: u32,
    /// Rewards in the plan's window, as of the last look or rep.
    pub window_rewards: u32,
    /// Where the window begins among the reps.
    window_from: usize,
}

impl Tally {
    /// Counts the last of `reps`.
    pub(super) fn count(&mut self, reps: &[Rep], plan: &Plan) {
        let Some(rep) = reps.last() else { return };
        let met = u32::from(rep.met_criterion());
        self.tries = self.tries.saturating_add(1);
        self.met += met;
        self.at_step += 1;
        self.met_at_step += met;
        self.last_try = Some(rep.active);
        if let Some(value) = rep.paid() {
            let treat = plan.rewards.of(value);
            self.rewarded += 1;
            self.paid[place(value)] += 1;
            self.pieces = self.pieces.saturating_add(treat.pieces);
            self.kcal += f64::from(treat.pieces) * treat.kcal_per_piece.unwrap_or(0.0);
            self.last_reward = rep.active;
            self.misses_since = 0;
            self.window_rewards += 1;
            if let Some(side) = rep.side {
                self.sides[usize::from(side == Side::Right)] += 1;
            }
        } else {
            self.misses_since += 1;
        }
        self.recent += 1;
        self.recent_met += met;
        let most = plan.advice.tries.max(1);
        if self.recent > most {
            let out = &reps[reps.len() - 1 - most as usize];
            self.recent -= 1;
            self.recent_met -= u32::from(out.met_criterion());
        }
    }

    /// Lets the window slide to `now`: it holds the rewards in `(now - window, now]`.
    pub(super) fn slide(&mut self, reps: &[Rep], now: Duration, window: Duration) {
        let Some(edge) = now.checked_sub(window) else { return };
        while let Some(rep) = reps.get(self.window_from).filter(|rep| rep.active <= edge) {
            self.window_rewards -= u32::from(rep.rewarded());
            self.window_from += 1;
        }
    }

    /// The pouch is full again. What the animal ate today stays what it is.
    pub(super) fn refill(&mut self) {
        self.pieces = 0;
    }

    /// Work on another step begins with the next rep.
    pub(super) fn new_step(&mut self) {
        (self.at_step, self.met_at_step) = (0, 0);
        (self.recent, self.recent_met) = (0, 0);
    }
}

/// Place of a reward value in an array of three.
pub(crate) fn place(value: RewardValue) -> usize {
    match value {
        RewardValue::Low => 0,
        RewardValue::High => 1,
        RewardValue::Jackpot => 2,
    }
}
