//! A plan: animal, behaviour, steps, rewards, limits and words, checked. Pure: text in, plan or errors out.
//!
//! ```
//! use hushtally_core::plan::Plan;
//! let plan = Plan::parse("pepino.toml", r#"
//!     animal = "Pepino"
//!     species = "cockatiel"
//!     behaviour = "rests a foot on the nail file"
//!     [[step]]
//!     name = "looks at the file"
//! "#).unwrap();
//! assert_eq!(plan.steps.len(), 1);
//! let wrong = Plan::parse("x.toml", "animal = 3").unwrap_err();
//! assert!(wrong.to_string().contains("x.toml, line 1"));
//! ```

mod asked;
mod chain;
mod command;
mod details;
mod edit;
mod fresh;
mod moment;
mod parse;
mod species;
mod words;

use std::time::Duration;

use serde::{Deserialize, Serialize};

pub use asked::asked;
pub use chain::{Chain, Link, MOST_LINKS, MOST_PROMPTS, PromptOrder, Prompts, Training};
pub use command::Command;
pub use details::{Mood, RewardValue, Side};
pub use edit::{Described, EditError, PlanChange, change_plan};
pub use fresh::{Fresh, file_name, fresh};
pub use moment::{Moment, WordMeaning, by_moment};
pub use parse::{PlanError, PlanErrors, words as parse_words};
pub use species::BodyKind;
pub use words::{MarkerSound, Role, Words};

/// What is trained, how it is paid, when to stop, and which words say so.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Name of the animal.
    pub animal: String,
    /// Species, as the user writes it.
    pub species: String,
    /// The goal behaviour.
    pub behaviour: String,
    /// Free text for people.
    pub note: Option<String>,
    /// Steps in order; never empty. Those of a chain follow from its links.
    pub steps: Vec<Step>,
    /// The links, where the behaviour is a chain.
    pub chain: Option<Chain>,
    /// The step that sessions start at, counted from 1.
    pub start_step: u8,
    /// What each reward value is.
    pub rewards: Rewards,
    /// When to stop, how rare rewards may get.
    pub limits: Limits,
    /// When to raise and when to ease.
    pub advice: Advice,
    /// The animal's body, for the day's treat budget.
    pub body: Option<Body>,
    /// Whether the trainer is asked to look at the animal's health before the first try.
    pub look_first: bool,
    /// Words by role.
    pub words: Words,
    /// Speech model folder or name, when not the default.
    pub model: Option<String>,
}

/// One approximation on the way to the goal.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What the animal does.
    pub name: String,
    /// Which element of the behaviour this step raises.
    pub dimension: Dimension,
    /// Goal of a measured criterion (seconds, metres or count, by dimension).
    pub goal: Option<f64>,
    /// What a plain marker pays at this step; by default high at the step worked on, low below it.
    pub earns: Option<RewardValue>,
    /// What it is called in the record, so that its history follows it when the name changes; the
    /// name when not given.
    pub id: Option<String>,
    /// Ids or names of earlier steps whose history is this step's too.
    pub was: Vec<String>,
}

impl Step {
    /// What the step is called in the record: its id, or its name.
    pub fn key(&self) -> &str {
        self.id.as_deref().unwrap_or(&self.name)
    }
}

/// The element of a behaviour that a criterion measures.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// What the movement looks like.
    #[default]
    Form,
    /// How long it is held, in seconds.
    Duration,
    /// How far away, in metres.
    Distance,
    /// How much goes on around.
    Distraction,
    /// How soon after the cue, in seconds.
    Latency,
    /// Which side of the body.
    Side,
    /// Where.
    Place,
    /// With whom.
    Person,
}

/// What each reward value is made of.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rewards {
    /// Low-value reward.
    pub low: Treat,
    /// High-value reward.
    pub high: Treat,
    /// Jackpot.
    pub jackpot: Treat,
}

impl Rewards {
    /// The treat for a value.
    pub fn of(&self, value: RewardValue) -> &Treat {
        match value {
            RewardValue::Low => &self.low,
            RewardValue::High => &self.high,
            RewardValue::Jackpot => &self.jackpot,
        }
    }
}

/// What is given, how many pieces at once, and its energy.
#[derive(Debug, Clone, PartialEq)]
pub struct Treat {
    /// In words.
    pub what: String,
    /// Pieces at once.
    pub pieces: u32,
    /// Energy of one piece, in kcal, when known.
    pub kcal_per_piece: Option<f64>,
}

impl Default for Treat {
    fn default() -> Self {
        Treat { what: "a treat".into(), pieces: 1, kcal_per_piece: None }
    }
}

/// When to stop and how rare rewards may get. Defaults are common practice of the trade, no source.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Planned length of a session.
    pub planned: Duration,
    /// Planned number of reps, misses not counted.
    pub planned_reps: u32,
    /// Rewards per minute below which the pace is too thin.
    pub rate_floor_per_min: f64,
    /// Window over which the rate is taken.
    pub rate_window: Duration,
    /// After a cue, no marker within this span is a miss by itself.
    pub limited_hold: Option<Duration>,
    /// Details said this long after a rep still belong to it.
    pub detail_window: Duration,
    /// False nudges per hour of good work that the trainer will stand.
    pub false_nudges_per_hour: f64,
    /// Least time between two nudges.
    pub nudge_gap: Duration,
    /// Pieces of each kind laid out for the session, when counted.
    pub treats_laid_out: Option<u32>,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            planned: Duration::from_secs(180),
            planned_reps: 20,
            rate_floor_per_min: 6.0,
            rate_window: Duration::from_secs(30),
            limited_hold: None,
            detail_window: Duration::from_secs(4),
            false_nudges_per_hour: 1.0,
            nudge_gap: Duration::from_secs(20),
            treats_laid_out: None,
        }
    }
}

/// Thresholds of the criterion advice. Default of the trade: 8 of 10 (common practice, no source).
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Raise when this share of the recent tries succeeded.
    pub raise_at: f64,
    /// Ease when the share falls below this.
    pub ease_below: f64,
    /// How many recent tries count.
    pub tries: u32,
    /// Misses in a row that ask to ease at once.
    pub misses_in_a_row: u32,
    /// After a raise, this many tries in which other elements may slip.
    pub settle_tries: u32,
    /// Share of reps that a measured criterion should let pass (percentile schedule).
    pub pay_share: f64,
}

impl Default for Advice {
    fn default() -> Self {
        Advice {
            raise_at: 0.8,
            ease_below: 0.5,
            tries: 10,
            misses_in_a_row: 3,
            settle_tries: 5,
            pay_share: 0.7,
        }
    }
}

/// The animal's body, for the energy of treats against the day's budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Weight in grams.
    pub weight_g: f64,
    /// Which energy equation fits.
    pub kind: BodyKind,
    /// Multiplies the resting need (activity, neutering, growth).
    pub activity: f64,
    /// Share of the day's energy that treats may take.
    pub treat_share: f64,
    /// Lightest that the animal should be, in grams.
    pub lowest_g: Option<f64>,
    /// Heaviest that it should be, in grams.
    pub highest_g: Option<f64>,
}

impl Plan {
    /// Reads a plan from TOML text. `file` is only used to name the place of an error.
    ///
    /// # Errors
    /// Every problem found, each with file, line, what was found and what was expected.
    pub fn parse(file: &str, text: &str) -> Result<Plan, PlanErrors> {
        parse::plan(file, text)
    }

    /// A plan with the default words and one step, for tools that only need words.
    pub fn of_default_words() -> Plan {
        Plan {
            animal: "any animal".into(),
            species: "any species".into(),
            behaviour: "any behaviour".into(),
            note: None,
            steps: vec![Step {
                name: "as it comes".into(),
                dimension: Dimension::Form,
                goal: None,
                earns: None,
                id: None,
                was: Vec::new(),
            }],
            chain: None,
            start_step: 1,
            rewards: Rewards::default(),
            limits: Limits::default(),
            advice: Advice::default(),
            body: None,
            look_first: false,
            words: Words::english(),
            model: None,
        }
    }

    /// The step with this number, counted from 1; the nearest there is when out of range.
    pub fn step(&self, number: u8) -> &Step {
        let index = usize::from(number.max(1)) - 1;
        &self.steps[index.min(self.steps.len() - 1)]
    }

    /// What a marker without a spoken value pays for reaching `reached` while working on `working`.
    pub fn default_value(&self, reached: u8, working: u8) -> RewardValue {
        self.step(reached).earns.unwrap_or(if reached < working {
            RewardValue::Low
        } else {
            RewardValue::High
        })
    }
}
