//! The body log: weights and what else was noted. Nothing is judged here: what needs attention is told until
//! somebody says that it is over, and a limit may keep the animal from training, never the other way round.
//!
//! [`read`] is the one answer to "is there an open health concern"; every surface only words it
//! ([`crate::wording::Wording::warnings`]).
//!
//! Every surface says an open concern before all else, and a session then takes its command twice. What was noted stays open
//! until somebody says that the animal is well.

mod answer;
mod concern;
mod trend;
mod weight;

use jiff::civil::Date;
use serde::Serialize;

use super::{Found, reason};
use crate::plan::{BodyKind, Plan};
use crate::session::Reason;

pub use answer::{Answer, open_until_well, waiting};
pub use trend::{WeightTrend, most_loss_a_week};
pub use weight::{ACT_AT, ASK_AT, parse_weight};

/// One line of the body log.
#[derive(Debug, Clone, PartialEq)]
pub struct Noted {
    /// Local date.
    pub day: Date,
    /// What.
    pub fact: Fact,
}

/// What was noted.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// Body weight in grams.
    Weight(f64),
    /// Soreness, a wound, a limp: in words.
    Sore(String),
    /// A difference between the sides: in words.
    Sides(String),
    /// Ill from then on: in words.
    Ill(String),
    /// A health concern: what was noted, in words.
    Concern(String),
    /// Well again from then on.
    Well,
    /// A note with words of injury or illness, which nobody has said yet whether to log as a concern.
    Signs {
        /// The whole note.
        text: String,
        /// The words, as they stand in it.
        words: Vec<String>,
    },
    /// What was noted so far is not a health concern.
    NoConcern,
    /// Food, coat, a note.
    Other,
}

/// How the body log stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Body {
    /// Weight in grams that change is measured against.
    pub baseline_g: Found<f64>,
    /// The latest weight that can be, in grams.
    pub latest_g: Option<f64>,
    /// Its date.
    pub weighed: Option<Date>,
    /// Days since then.
    pub weighed_days_ago: Option<i32>,
    /// Change against the baseline in percent.
    pub change_pct: Option<f64>,
    /// How it goes over the latest weighings.
    pub trend: Option<WeightTrend>,
    /// What needs attention, the gravest first.
    pub alarms: Vec<Alarm>,
    /// Whether to train.
    pub train: Train,
    /// When the animal was last said to be well.
    pub well: Option<Date>,
}

/// Whether to train today, as far as the log can tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Train {
    /// As planned.
    AsPlanned,
    /// Half as long, and only what is easy.
    Less,
    /// Not at all.
    NotAtAll,
}

/// Something that needs attention; a template of its name makes a sentence of it, which ends at the veterinarian.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Alarm {
    /// What.
    #[serde(flatten)]
    pub warning: Warning,
    /// What it means for training.
    pub train: Train,
    /// Why.
    pub reason: Reason,
}

/// What needs attention.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "warning", rename_all = "snake_case")]
pub enum Warning {
    /// Noted ill, and not yet said to be well.
    Ill(Since),
    /// Logged as a health concern, and not yet said to be well.
    Concern(Since),
    /// Noted sore, and not yet said to be well.
    Sore(Since),
    /// The sides were noted to differ, and the animal not yet said to be well.
    Sides(Since),
    /// A note has words of injury or illness, and nobody has said whether it is a health concern.
    Unanswered {
        /// When and what.
        #[serde(flatten)]
        since: Since,
        /// The words.
        words: Vec<String>,
    },
    /// A weight that cannot be compared with the others.
    WeightSlip {
        /// Local date.
        day: Date,
        /// In grams.
        grams: f64,
        /// What may have been taken for what: "kilograms for grams".
        units: Option<&'static str>,
    },
    /// This much lighter than the baseline that training stops.
    WeightFarDown {
        /// Loss in percent, above zero.
        percent: f64,
    },
    /// Lighter than the baseline at three weighings running.
    WeightStaysDown {
        /// Latest loss in percent, above zero.
        percent: f64,
    },
    /// Lighter than the baseline.
    WeightDown {
        /// Loss in percent, above zero.
        percent: f64,
    },
    /// Heavier than the baseline.
    WeightUp {
        /// Gain in percent.
        percent: f64,
    },
    /// The weight falls over the latest weighings.
    WeightFalls {
        /// Loss a week in percent, above zero.
        percent: f64,
        /// Lower end of its 95 % interval.
        least: f64,
        /// Upper end.
        most: f64,
        /// Weighings.
        weighings: usize,
        /// What is held for the most that such an animal may lose in a week, in percent; when it loses more.
        held_for_most: Option<f64>,
    },
    /// The weight is outside the plan's bounds.
    WeightOutside {
        /// In grams.
        grams: f64,
        /// The bound, in grams.
        bound_g: f64,
        /// Whether it is below.
        below: bool,
    },
    /// Several signs point the same way.
    Together {
        /// Which, in words: "weight", "pace".
        signs: Vec<&'static str>,
    },
}

/// Since when something is noted, and in which words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Since {
    /// Local date.
    pub day: Date,
    /// Days ago.
    pub days_ago: i32,
    /// As it was noted.
    pub text: String,
}

/// A note that has words of injury or illness, whoever answered it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NotedSigns {
    /// The animal's name.
    pub animal: String,
    /// Local date.
    pub day: Date,
    /// The words.
    pub words: Vec<String>,
    /// The whole note.
    pub text: String,
}

impl Alarm {
    /// Whether it is an open health concern: it is said before all else, and training takes its command twice.
    pub fn is_concern(&self) -> bool {
        self.train > Train::AsPlanned
            || matches!(self.warning, Warning::Unanswered { .. } | Warning::WeightFalls { .. })
    }
}

/// Whether what is open keeps the animal from training as planned: then no step is named for the next session.
pub fn holds(concerns: &[Alarm]) -> bool {
    concerns.iter().any(|alarm| alarm.train > Train::AsPlanned)
}

impl Body {
    /// Open health concerns, the gravest first.
    pub fn concerns(&self) -> Vec<Alarm> {
        self.alarms.iter().filter(|alarm| alarm.is_concern()).cloned().collect()
    }
}

/// What a plan says of the body.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Bounds {
    /// Below this weight in grams it is told.
    pub lowest_g: Option<f64>,
    /// Above this one.
    pub highest_g: Option<f64>,
    /// Which kind of animal.
    pub kind: Option<BodyKind>,
}

impl Bounds {
    /// Those of a plan.
    pub fn of(plan: &Plan) -> Self {
        plan.body.as_ref().map_or_else(Bounds::default, |body| Bounds {
            lowest_g: body.lowest_g,
            highest_g: body.highest_g,
            kind: Some(body.kind),
        })
    }
}

/// Reads the log as of `today`, without a plan. See [`read_by`].
pub fn read(log: &[Noted], today: Date) -> Body {
    read_by(log, today, &Bounds::default())
}

/// Reads the log as of `today`; lines in order of time. What was noted of an animal's health stays open, however
/// long ago it was, until it is said to be well.
pub fn read_by(log: &[Noted], today: Date, bounds: &Bounds) -> Body {
    let mut alarms = concern::open(log, today);
    let weighed = weight::read(log, bounds, &mut alarms);
    alarms.sort_by_key(|alarm| std::cmp::Reverse(alarm.train));
    let day = weighed.latest.map(|(day, _)| day);
    Body {
        train: alarms.iter().map(|alarm| alarm.train).max().unwrap_or(Train::AsPlanned),
        change_pct: weighed.change_pct,
        latest_g: weighed.latest.map(|(_, weight)| weight.as_grams()),
        weighed: day,
        weighed_days_ago: day.map(|day| today.since(day).map_or(0, |span| span.get_days())),
        trend: weighed.trend,
        baseline_g: weighed.baseline_g,
        well: log.iter().rev().find(|noted| noted.fact == Fact::Well).map(|noted| noted.day),
        alarms,
    }
}
