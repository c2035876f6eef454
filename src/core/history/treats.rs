//! What to lay out: pieces of each kind, and their energy against what the day still allows.

use jiff::civil::Date;
use serde::Serialize;

use super::course::{Course, Placed};
use super::{AnimalHistory, Found, reason};
use crate::plan::{Body, Plan, RewardValue};
use crate::sentences::because;
use crate::session::Reason;
use crate::stats::energy::{Weight, daily_need, pieces};

/// A weight that is this many days old is said to be (common practice, no source).
pub(super) const WEIGH_AGAIN_DAYS: i32 = 14;
/// Latest sessions whose mix of rewards is expected again.
const SESSIONS: usize = 3;
/// Shares of low, high and jackpot while there is no history (common practice, no source).
const USUAL_MIX: [f64; 3] = [0.4, 0.55, 0.05];
/// Rewards that the usual mix counts as, so that a kind that was not needed lately is at hand all the same.
const USUAL_WEIGHS: f64 = 10.0;
const VALUES: [RewardValue; 3] = [RewardValue::Low, RewardValue::High, RewardValue::Jackpot];

/// What to lay out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Treats {
    /// One entry a kind of treat, the lowest first.
    pub kinds: Vec<Kind>,
    /// Rewarded reps that these are for.
    pub reps: u32,
    /// Energy of all in kcal; `None` when the plan does not say a piece's.
    pub kcal: Option<f64>,
    /// What the day still allows, in kcal.
    pub left_today_kcal: Found<f64>,
    /// What treats may bring on the whole day, in kcal.
    pub day_kcal: Option<f64>,
    /// Why.
    pub reason: Reason,
}

/// One kind of treat.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Kind {
    /// In words.
    pub what: String,
    /// Pieces.
    pub pieces: u32,
}

/// What to lay out for `reps` rewarded reps. `spent_kcal` is what today's treats brought already; `weighed`
/// the latest weight of the log in grams, which goes before the plan's.
pub fn lay_out(
    plan: &Plan,
    course: &Course,
    reps: u32,
    spent_kcal: f64,
    weighed: Option<f64>,
) -> Treats {
    let mix = mix(course);
    let energy_of_one: Option<f64> = VALUES
        .iter()
        .zip(mix)
        .map(|(value, share)| {
            let treat = plan.rewards.of(*value);
            treat.kcal_per_piece.map(|kcal| share * kcal * f64::from(treat.pieces))
        })
        .sum();
    let day = day_kcal(plan.body.as_ref(), weighed);
    let day_kcal = day.known().copied();
    let left = match day {
        Found::Known(day) => Found::Known((day - spent_kcal).max(0.0)),
        Found::NotYet(why) => Found::NotYet(why),
    };
    let mut fits = reps;
    if let (Some(one), Found::Known(left)) = (energy_of_one, &left)
        && one > 0.0
    {
        fits = reps.min(pieces(left.max(0.0), one).unwrap_or(reps));
    }
    let mut kinds: Vec<Kind> = Vec::new();
    for (value, share) in VALUES.iter().zip(mix) {
        let treat = plan.rewards.of(*value);
        let times = if fits == 0 { 0.0 } else { (share * f64::from(fits)).ceil() };
        let add = times as u32 * treat.pieces;
        match kinds.iter_mut().find(|kind| kind.what == treat.what) {
            Some(kind) => kind.pieces += add,
            None => kinds.push(Kind { what: treat.what.clone(), pieces: add }),
        }
    }
    let not_known = match &left {
        Found::Known(_) => String::new(),
        Found::NotYet(why) => why.clone(),
    };
    let inputs = [
        ("reps", f64::from(fits), ""),
        ("wanted", f64::from(reps), ""),
        ("energy of a usual reward", energy_of_one.unwrap_or(f64::NAN), "kcal"),
        ("left today", left.known().copied().unwrap_or(f64::NAN), "kcal"),
        ("given today", spent_kcal, "kcal"),
    ];
    let method = "reward mix of the latest three sessions, with the usual mix as ten more rewards; resting energy times activity times the share for treats";
    let kind = plan.body.as_ref().map_or("", |body| body.kind.source());
    let source = format!(
        "{kind}; share for treats: WSAVA and AAHA as stated in Veterinary Sciences 2025, 12:282. A veterinarian's number goes first"
    );
    let source = source.trim_start_matches("; ");
    Treats {
        kinds,
        reps: fits,
        kcal: energy_of_one.map(|one| one * f64::from(fits)),
        left_today_kcal: left,
        day_kcal,
        reason: reason("treats", ("treats", &[("not_known", &not_known)]), &inputs, method, source),
    }
}

fn mix(course: &Course) -> [f64; 3] {
    let recent = course.sessions.iter().rev().take(SESSIONS).flat_map(|trained| &trained.tries);
    let paid: Vec<RewardValue> = recent.filter_map(Placed::paid).collect();
    let total = paid.len() as f64 + USUAL_WEIGHS;
    let mut mix = USUAL_MIX.map(|share| share * USUAL_WEIGHS / total);
    for (share, value) in mix.iter_mut().zip(VALUES) {
        *share += paid.iter().filter(|one| **one == value).count() as f64 / total;
    }
    mix
}

fn day_kcal(body: Option<&Body>, grams: Option<f64>) -> Found<f64> {
    let Some(body) = body else {
        return Found::NotYet(because("no_body", &[], &[]));
    };
    Weight::grams(grams.unwrap_or(body.weight_g))
        .and_then(|weight| daily_need(weight, body.kind.metabolism(), body.activity))
        .map(|need| need * body.treat_share)
        .into()
}

/// Energy of the treats that the animal was given on this local date, in kcal: in every session, whatever was trained,
/// each by the plan that it was trained by.
pub fn given_on(history: &AnimalHistory, day: Date) -> f64 {
    let that_day = history.sessions.iter().filter(|session| session.day == day);
    let given = that_day.map(|session| {
        let Some(ladder) = history.ladder(session.version) else { return 0.0 };
        let of = |value: RewardValue| match value {
            RewardValue::Low => ladder.kcal[0],
            RewardValue::High => ladder.kcal[1],
            RewardValue::Jackpot => ladder.kcal[2],
        };
        session.tries.iter().filter_map(|one| one.paid).map(of).sum::<f64>()
    });
    given.sum()
}

/// Energy that a session's rewards brought, in kcal; zero where the plan does not say.
pub fn given_kcal(plan: &Plan, paid: impl Iterator<Item = RewardValue>) -> f64 {
    paid.map(|value| {
        let treat = plan.rewards.of(value);
        treat.kcal_per_piece.unwrap_or(0.0) * f64::from(treat.pieces)
    })
    .sum()
}
