//! Other worlds than the first one: several laws of tiring, gaps with heavy tails, animals that look
//! away, trainers who reload their pouch, three paces of trainer and of species, with and without cues.
//!
//! A rule that was chosen in one world may hold in that world only. So the laws are divided: rules are
//! chosen on the laws of one [`Half`] and reported on those of the other, which they have not met. All
//! numbers are assumptions, and were written down before any detector was measured on them.
//!
//! ```
//! use hushtally_core::plan::Plan;
//! use hushtally_core::sim::{self, worlds::{Law, Subject, World}};
//! let mut dice = sim::dice(5);
//! let world = World::draw(Law::Abrupt, &mut dice);
//! let mut animal = Subject::draw(world, &mut dice);
//! let session = animal.session(900.0, &Plan::of_default_words(), &mut dice);
//! assert!(session.truth.declined.is_some() && session.inputs.len() > 20);
//! ```

mod course;
mod subject;
#[cfg(test)]
mod tests;

use rand::RngExt;

use super::Dice;

pub use subject::Subject;

/// Where and how tiring shows once it has begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Law {
    /// Answers slow down and misses grow, evenly.
    Linear,
    /// Answers slow down evenly; success stays.
    LatencyOnly,
    /// From one moment on it does nothing more.
    Silence,
    /// From one moment on it is slow and misses much.
    Abrupt,
    /// Misses grow evenly; answers stay as quick.
    MissesOnly,
    /// Answers slow down and success falls, by the same share each second.
    Exponential,
    /// It never tires.
    Never,
    /// From one moment on the share that succeeds is lost evenly; answers stay as quick.
    Careless,
}

/// Which laws: rules are chosen on one half, and reported on the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Half {
    /// To choose on.
    Tuning,
    /// To report.
    Reported,
}

impl Half {
    /// Its laws. Animals that never tire are in both, as other animals.
    pub const fn laws(self) -> &'static [Law] {
        match self {
            Half::Tuning => {
                &[Law::Linear, Law::LatencyOnly, Law::Silence, Law::Careless, Law::Never]
            }
            Half::Reported => &[Law::Abrupt, Law::MissesOnly, Law::Exponential, Law::Never],
        }
    }
}

impl Law {
    /// Its name in tables.
    pub const fn name(self) -> &'static str {
        match self {
            Law::Linear => "linear",
            Law::LatencyOnly => "latency only",
            Law::Silence => "silence",
            Law::Abrupt => "abrupt",
            Law::MissesOnly => "misses only",
            Law::Exponential => "exponential",
            Law::Never => "never tires",
            Law::Careless => "careless",
        }
    }
}

/// The tails of times on their log scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tails {
    /// Log-normal.
    Normal,
    /// The logs follow Student's t with three degrees of freedom.
    StudentT,
    /// One time in ten is longer by a Pareto factor of index 1.5.
    Pareto,
}

/// How quick a trainer or a species is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// A parrot; a trainer who has the next treat ready.
    Quick,
    /// A dog; an ordinary trainer.
    Medium,
    /// A donkey; a trainer who walks back to the start.
    Slow,
}

impl Pace {
    fn draw(dice: &mut Dice) -> Self {
        [Pace::Quick, Pace::Medium, Pace::Slow][dice.random_range(0..3)]
    }

    fn of<T>(self, [quick, medium, slow]: [T; 3]) -> T {
        match self {
            Pace::Quick => quick,
            Pace::Medium => medium,
            Pace::Slow => slow,
        }
    }
}

/// What is so of one animal and its trainer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct World {
    /// How it tires.
    pub law: Law,
    /// Tails of its times.
    pub tails: Tails,
    /// Whether it looks away now and then.
    pub looks_away: bool,
    /// Whether the trainer now and then stops to reload.
    pub reloads: bool,
    /// Whether it is slow in the first minute.
    pub warms_up: bool,
    /// Whether its pace drifts up and down without meaning anything.
    pub drifts: bool,
    /// Whether a cue is given and tagged before each try.
    pub cues: bool,
    /// The trainer's pace.
    pub trainer: Pace,
    /// The species' pace.
    pub species: Pace,
}

impl World {
    /// A world under this law, all else drawn.
    pub fn draw(law: Law, dice: &mut Dice) -> Self {
        let tails = [Tails::Normal, Tails::StudentT, Tails::Pareto][dice.random_range(0..3)];
        World {
            law,
            tails,
            looks_away: dice.random_bool(0.5),
            reloads: dice.random_bool(0.5),
            warms_up: dice.random_bool(0.25),
            drifts: dice.random_bool(0.5),
            cues: dice.random_bool(0.5),
            trainer: Pace::draw(dice),
            species: Pace::draw(dice),
        }
    }

    /// Log-normal times, and nothing that disturbs.
    pub fn clean(self) -> Self {
        World {
            tails: Tails::Normal,
            looks_away: false,
            reloads: false,
            warms_up: false,
            drifts: false,
            ..self
        }
    }

    /// Heavy tails, and everything that disturbs.
    pub fn with_everything(self) -> Self {
        World {
            tails: Tails::Pareto,
            looks_away: true,
            reloads: true,
            warms_up: true,
            drifts: true,
            ..self
        }
    }

    /// Seconds from try to try while fresh, roughly: for a plan that fits this pair.
    pub fn usual_gap_s(&self) -> f64 {
        let answer = subject::ANSWER_S;
        self.species.of(answer)
            + self.trainer.of(course::SETTING_UP_S)
            + self.trainer.of(course::EATING_S)
    }
}
