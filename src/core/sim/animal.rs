//! What goes on inside the simulated animal.

use rand::RngExt;
use rand_distr::{Distribution, LogNormal};

use super::Dice;

/// Chance of success above which a step counts as learnt.
pub(super) const LEARNT: f64 = 0.8;
/// No animal succeeds always.
const CEILING: f64 = 0.97;
/// Below this vigour it will do no more.
pub(super) const QUITS: f64 = 0.35;

/// A simulated animal. All chances are per try, all times in seconds.
#[derive(Debug, Clone, PartialEq)]
pub struct Animal {
    /// Chance of success at each step while fresh.
    habits: Vec<f64>,
    /// How much of a step's habit carries over to the next, step by step.
    carry: Vec<f64>,
    /// Bush–Mosteller: part of the way up after a reward.
    up: f64,
    /// Part of the way down after a try without one.
    down: f64,
    /// Median time to answer or to offer a try, and its scatter on the log scale.
    answers_in: f64,
    answers_scatter: f64,
    /// Chance to look away before a try, and for how long on average.
    looks_away: f64,
    away_for: f64,
    /// Median working time before it tires, and how fast it then goes down to nothing.
    stamina: f64,
    fades_in: f64,
    /// How strongly lost vigour shows in time (power) and in success (power).
    slows: f64,
    fails: f64,
    /// It bears this long without a reward before it worries.
    bears: f64,
    /// Chance that a try comes from the right side.
    pub(super) right: f64,
}

/// How the animal is in one session.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Day {
    tires_at: f64,
    fades_in: f64,
    pace: f64,
    worry: f64,
}

impl Animal {
    /// An animal with this many steps to learn, drawn at random.
    pub fn draw(steps: usize, dice: &mut Dice) -> Self {
        let mut habits = vec![dice.random_range(0.45..0.75)];
        let carry: Vec<f64> = (0..steps).map(|_| dice.random_range(0.45..0.8)).collect();
        for step in 1..steps.max(1) {
            let before: f64 = habits[step - 1];
            habits.push((before * carry[step]).max(0.05));
        }
        let up = dice.random_range(0.015..0.05);
        Animal {
            habits,
            carry,
            up,
            down: up / 4.0,
            answers_in: spread(2.2, 0.35, dice),
            answers_scatter: dice.random_range(0.3..0.55),
            looks_away: dice.random_range(0.0..0.06),
            away_for: dice.random_range(2.0..6.0),
            stamina: spread(170.0, 0.4, dice),
            fades_in: spread(240.0, 0.5, dice),
            slows: dice.random_range(0.5..1.5),
            fails: dice.random_range(0.25..1.0),
            bears: dice.random_range(15.0..40.0),
            right: dice.random_range(0.4..0.6),
        }
    }

    /// How it is today: stamina and pace differ from day to day.
    pub(super) fn day(&self, dice: &mut Dice) -> Day {
        Day {
            tires_at: spread(self.stamina, 0.25, dice),
            fades_in: spread(self.fades_in, 0.2, dice),
            pace: spread(1.0, 0.1, dice),
            worry: 0.0,
        }
    }

    /// Chance of success at a step (counted from 1) while fresh.
    pub fn habit(&self, step: u8) -> f64 {
        let index = usize::from(step.max(1)) - 1;
        self.habits[index.min(self.habits.len() - 1)]
    }

    /// Vigour from 1 (fresh) to 0.
    pub(super) fn vigour(&self, day: &Day, now: f64) -> f64 {
        let tired = ((now - day.tires_at) / day.fades_in).clamp(0.0, 1.0);
        (1.0 - tired) * (1.0 - 0.6 * day.worry)
    }

    /// Seconds until it answers or offers a try.
    pub(super) fn answer_time(&self, day: &Day, now: f64, dice: &mut Dice) -> f64 {
        let slow = self.vigour(day, now).max(0.1).powf(-self.slows);
        let away = if dice.random_bool(self.looks_away) {
            -self.away_for * (1.0 - dice.random::<f64>()).ln()
        } else {
            0.0
        };
        spread(self.answers_in * day.pace, self.answers_scatter, dice) * slow + away
    }

    /// Chance that a try at this step succeeds now.
    pub(super) fn success(&self, day: &Day, step: u8, now: f64) -> f64 {
        self.habit(step) * self.vigour(day, now).powf(self.fails)
    }

    /// Learns from a try at a step.
    pub(super) fn learn(&mut self, step: u8, rewarded: bool) {
        let index = usize::from(step.max(1)) - 1;
        let index = index.min(self.habits.len() - 1);
        let habit = &mut self.habits[index];
        if rewarded {
            *habit += self.up * (CEILING - *habit);
        } else {
            *habit -= self.down * *habit;
        }
        // What is learnt here helps with the next step.
        let carried = *habit * self.carry.get(index + 1).copied().unwrap_or(0.0);
        if let Some(next) = self.habits.get_mut(index + 1)
            && carried > *next
        {
            *next = carried;
        }
    }

    /// Feels `waited` seconds without a reward: past what it bears, worry grows.
    pub(super) fn wait(&self, day: &mut Day, waited: f64, elapsed: f64) {
        if waited > self.bears {
            day.worry = (day.worry + elapsed / 60.0).min(1.0);
        }
    }
}

impl Day {
    pub(super) fn tires_at(&self) -> f64 {
        self.tires_at
    }

    pub(super) fn worry(&self) -> f64 {
        self.worry
    }

    pub(super) fn comfort(&mut self) {
        self.worry *= 0.7;
    }
}

/// A positive number around `median`, log-normal.
pub(super) fn spread(median: f64, scatter: f64, dice: &mut Dice) -> f64 {
    // Finite medians and scatters are always accepted.
    LogNormal::new(median.ln(), scatter).map_or(median, |spread| spread.sample(dice))
}
