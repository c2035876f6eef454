//! The animal of a world: what is its own, what differs from day to day, and what tiring does to it.

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal, StudentT};

use super::super::animal::spread;
use super::super::{Dice, Simulated};
use super::course::Course;
use super::{Law, Tails, World};
use crate::plan::Plan;

/// Median seconds to an answer, by the species' pace.
pub(super) const ANSWER_S: [f64; 3] = [1.2, 2.5, 5.0];
/// Good work lasts this long in the median animal, with such scatter of the logs between animals, and
/// between the days of one: half and half, so that the last session says little of the next.
const GOOD_S: (f64, f64) = (240.0, 0.45);
const GOOD_DAYS: f64 = 0.45;
/// It never begins to tire before, and always has by then.
const GOOD_RANGE_S: (f64, f64) = (45.0, 720.0);
/// Median seconds of the fading, and scatter of the logs.
const FADES_S: (f64, f64) = (150.0, 0.5);
/// Nothing becomes longer than this many times the usual, before the animal's chance alone.
const SLOWEST: f64 = 8.0;
/// No chance of success below.
const LEAST_SUCCESS: f64 = 0.05;
/// Time constant of the drift of pace, and scatter of its logs.
const DRIFT: (f64, f64) = (90.0, 0.2);
/// Chance to look away before a try, and the median of how long.
const LOOKS_AWAY: (f64, f64) = (0.06, 6.0);

/// A simulated animal in its world. All chances are per try, all times in seconds.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// Its world.
    pub world: World,
    answers_in: f64,
    scatter: f64,
    success: f64,
    good_for: f64,
    fades_in: f64,
}

/// How it is in one session.
pub(super) struct Day {
    pub(super) tires_at: f64,
    fades_in: f64,
    pace: f64,
    success: f64,
    drift: f64,
    drift_at: f64,
}

impl Subject {
    /// An animal of this world, drawn at random.
    pub fn draw(world: World, dice: &mut Dice) -> Self {
        Subject {
            world,
            answers_in: spread(world.species.of(ANSWER_S), 0.25, dice),
            scatter: dice.random_range(0.25..0.6),
            success: dice.random_range(0.6..0.95),
            good_for: spread(GOOD_S.0, GOOD_S.1, dice),
            fades_in: spread(FADES_S.0, FADES_S.1, dice),
        }
    }

    /// One session that the trainer, who notices nothing, ends after this many seconds. It is not
    /// learnt from: the animals here show how they tire, not how they learn.
    pub fn session(&mut self, stops_after_s: f64, plan: &Plan, dice: &mut Dice) -> Simulated {
        let day = self.day(dice);
        Course::new(self, day, plan, dice).run(stops_after_s, dice)
    }

    fn day(&self, dice: &mut Dice) -> Day {
        let good = spread(self.good_for, GOOD_DAYS, dice).clamp(GOOD_RANGE_S.0, GOOD_RANGE_S.1);
        Day {
            tires_at: if self.world.law == Law::Never { f64::INFINITY } else { good },
            fades_in: spread(self.fades_in, 0.2, dice),
            pace: spread(1.0, 0.15, dice),
            success: (self.success + dice.random_range(-0.05..0.05)).min(0.97),
            drift: 0.0,
            drift_at: 0.0,
        }
    }

    /// Seconds until it answers or offers a try; `None` when it will not any more.
    pub(super) fn answer_time(&self, day: &mut Day, now: f64, dice: &mut Dice) -> Option<f64> {
        let slow = day.slower(self.world.law, now)?;
        let warming = if self.world.warms_up { 1.0 + (-now / 30.0).exp() } else { 1.0 };
        let drift = if self.world.drifts { day.drift(now, dice).exp() } else { 1.0 };
        let chance = chance_factor(self.world.tails, self.scatter, dice);
        let away = if self.world.looks_away && dice.random_bool(LOOKS_AWAY.0) {
            spread(LOOKS_AWAY.1, 0.8, dice)
        } else {
            0.0
        };
        Some(self.answers_in * day.pace * slow * warming * drift * chance + away)
    }
}

impl Day {
    /// How far it has tired: seconds since the onset in units of the fading; `None` while fresh.
    fn tired(&self, now: f64) -> Option<f64> {
        (now >= self.tires_at).then(|| (now - self.tires_at) / self.fades_in)
    }

    fn slower(&self, law: Law, now: f64) -> Option<f64> {
        let Some(tired) = self.tired(now) else { return Some(1.0) };
        let slower = match law {
            Law::Linear => 1.0 + 2.0 * tired,
            Law::LatencyOnly => 1.0 + 2.5 * tired,
            Law::Abrupt => 2.2,
            Law::Exponential => tired.exp(),
            Law::MissesOnly | Law::Careless | Law::Never => 1.0,
            Law::Silence => return None,
        };
        Some(slower.min(SLOWEST))
    }

    /// Chance that a try succeeds now.
    pub(super) fn success(&self, law: Law, now: f64) -> f64 {
        let Some(tired) = self.tired(now) else { return self.success };
        let worse_odds = match law {
            Law::Linear => 1.0 + 3.0 * tired,
            Law::MissesOnly => 1.0 + 5.0 * tired,
            Law::Abrupt => 4.0,
            Law::Exponential => {
                return (self.success * (-tired / 2.0).exp()).max(LEAST_SUCCESS);
            }
            Law::Careless => return (self.success * (1.0 - tired / 2.0)).max(LEAST_SUCCESS),
            Law::LatencyOnly | Law::Silence | Law::Never => 1.0,
        };
        let odds = self.success / (1.0 - self.success) / worse_odds;
        (odds / (1.0 + odds)).max(LEAST_SUCCESS)
    }

    /// A slow wandering of the log pace (Ornstein and Uhlenbeck's process), as of `now`.
    fn drift(&mut self, now: f64, dice: &mut Dice) -> f64 {
        let kept = (-(now - self.drift_at) / DRIFT.0).exp();
        let step: f64 = StandardNormal.sample(dice);
        self.drift = kept * self.drift + DRIFT.1 * (1.0 - kept * kept).sqrt() * step;
        self.drift_at = now;
        self.drift
    }
}

/// What chance does to a time: a factor around 1.
pub(super) fn chance_factor(tails: Tails, scatter: f64, dice: &mut Dice) -> f64 {
    match tails {
        Tails::Normal => spread(1.0, scatter, dice),
        Tails::StudentT => {
            // Three degrees of freedom are always accepted.
            let t = StudentT::new(3.0).map_or(0.0, |t| t.sample(dice));
            // No time of an hour: the session would be over.
            (scatter * 0.8 * t).clamp(-3.0, 4.5).exp()
        }
        Tails::Pareto => {
            let usual = spread(1.0, scatter, dice);
            if !dice.random_bool(0.1) {
                return usual;
            }
            let uniform: f64 = dice.random_range(0.001..1.0);
            usual * uniform.powf(-1.0 / 1.5)
        }
    }
}
