//! A simulated animal and its trainer, for tests, benches and demo data. Pure and seeded: the same
//! seed gives the same sessions everywhere. The engine never sees what is inside; it gets tags, as from
//! a real trainer, and is judged by the [`Truth`] afterwards.
//!
//! Learning follows the linear operator of Bush & Mosteller (1955, Stochastic Models for Learning):
//! a reward moves the chance of success a fixed part of the way to its ceiling, a try without one a
//! smaller part of the way down. Tiredness, worry, timing and the trainer's habits are assumptions made
//! for the purpose and written down in [`Animal`] and [`Trainer`]. They were set before any detector was
//! measured on them, but for one: animals at first faded from fresh to nothing within two minutes, so
//! that most stood still a minute after the decline began and no rule could speak in time; now they
//! take one and a half to ten minutes. The bench reports quick and slow declines apart.
//!
//! ```
//! use hushtally_core::plan::Plan;
//! use hushtally_core::session::Session;
//! use hushtally_core::sim;
//! let plan = Plan::of_default_words();
//! let twelve_weeks = sim::weeks(&plan, 7, 84);
//! let mut session = Session::new(plan);
//! for (at, input) in &twelve_weeks[0].simulated.inputs {
//!     session.handle(*at, input.clone());
//! }
//! assert!(session.rewarded() > 5);
//! ```

mod animal;
#[cfg(test)]
mod chains;
mod run;
mod sitting;
mod trainer;
mod weeks;
pub mod worlds;

use crate::at::At;
use crate::session::Input;

pub use animal::Animal;
pub use run::run;
pub use sitting::{SimulatedSitting, TryOf, sitting};
pub use trainer::Trainer;
pub use weeks::{Dated, weeks};

/// The random numbers of the simulation: a stream that does not change between releases.
pub type Dice = rand_chacha::ChaCha8Rng;

/// Dice from a seed.
pub fn dice(seed: u64) -> Dice {
    rand::SeedableRng::seed_from_u64(seed)
}

/// One simulated session: what the engine hears, and what was really so.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// Tags in order.
    pub inputs: Vec<(At, Input)>,
    /// What was really so.
    pub truth: Truth,
    /// Chance of success at the step worked on, were the animal fresh: after each try.
    pub habits: Vec<(At, f64)>,
}

impl Simulated {
    /// The chance of success at the step worked on at this moment, were the animal fresh.
    pub fn habit_at(&self, at: At) -> f64 {
        let next = self.habits.partition_point(|(after, _)| *after <= at);
        let known = next.checked_sub(1).and_then(|last| self.habits.get(last));
        known.or(self.habits.first()).map_or(self.truth.habit, |(_, habit)| *habit)
    }
}

/// What was really so in a simulated session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// When the decline began: tiredness set in, or worry was first felt.
    pub declined: Option<At>,
    /// When the animal would do no more.
    pub broke_down: Option<At>,
    /// When the session was over.
    pub ended: At,
    /// Step worked on.
    pub working: u8,
    /// Chance of success at this step at the end, were the animal fresh.
    pub habit: f64,
    /// When that chance first reached 0.8, if it did in this session.
    pub learnt: Option<At>,
}
