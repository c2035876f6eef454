//! The habits of the simulated trainer: what is said, what is forgotten, how long things take.

use rand::RngExt;

use super::Dice;

/// How a trainer works. Times in seconds, chances per occasion.
#[derive(Debug, Clone, PartialEq)]
pub struct Trainer {
    /// Gives a cue before each try, and tags it.
    pub cues: bool,
    /// Chance that a miss is said.
    pub says_miss: f64,
    /// Chance that the step reached is said.
    pub says_step: f64,
    /// Chance that the side is said.
    pub says_side: f64,
    /// Chance that a success is paid a jackpot.
    pub jackpots: f64,
    /// Chance that a tag is not recognised.
    pub lost: f64,
    /// Chance that a marker slips out and is taken back.
    pub slips: f64,
    /// Pays a lesser rep after this long without a reward.
    pub patience: f64,
    /// Eating a low, a high reward, a jackpot.
    pub eating: [f64; 3],
    /// Getting ready for the next try.
    pub setting_up: f64,
    /// Says "tired" some time after it shows.
    pub says_mood: bool,
    /// Goes on at most this long.
    pub stops_after: f64,
}

impl Trainer {
    /// A trainer drawn at random, who notices nothing and works until `stops_after`.
    pub fn draw(stops_after: f64, dice: &mut Dice) -> Self {
        Trainer {
            cues: dice.random_bool(0.5),
            says_miss: dice.random_range(0.6..1.0),
            says_step: dice.random_range(0.0..0.5),
            says_side: dice.random_range(0.0..0.5),
            jackpots: dice.random_range(0.0..0.06),
            lost: dice.random_range(0.0..0.04),
            slips: 0.01,
            patience: dice.random_range(10.0..30.0),
            eating: [2.5, 3.2, 6.0].map(|median| median * dice.random_range(0.8..1.3)),
            setting_up: dice.random_range(0.5..1.5),
            says_mood: false,
            stops_after,
        }
    }
}
