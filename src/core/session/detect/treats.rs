//! The treats: a word before they run out (pieces laid out, energy of the day), and when jackpots
//! come too often to stay special.

use super::{Alarm, Detector, Scene, Seen};
use crate::plan::{Body, BodyKind, Plan, RewardValue, Treat};
use crate::sentences::because;
use crate::session::tally::Tally;
use crate::session::{NudgeKind, Quantity, Reason};
use crate::stats::StatsError;
use crate::stats::energy::{Weight, daily_need};

/// This many high rewards before the end is the time to speak (common practice, no source).
const HIGH_LEFT: f64 = 3.0;
/// Jackpots are one reward in this many, at most (common practice, no source).
const JACKPOT_ONE_IN: u32 = 10;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Treats {
    pieces_told: bool,
    energy_told: bool,
    jackpots_told: bool,
    day_kcal: Option<f64>,
}

/// Energy that treats may bring in a day, in kcal.
///
/// # Errors
/// [`StatsError`] for a body that cannot be, or is too large for the equations.
pub(crate) fn day_budget_kcal(body: &Body) -> Result<f64, StatsError> {
    Ok(daily_need(Weight::grams(body.weight_g)?, body.kind.metabolism(), body.activity)?
        * body.treat_share)
}

/// What must be left, at least, when the word comes: a few high rewards, or one jackpot.
fn reserve(plan: &Plan, of: impl Fn(&Treat) -> f64) -> f64 {
    (HIGH_LEFT * of(&plan.rewards.high)).max(of(&plan.rewards.jackpot))
}

fn kcal(treat: &Treat) -> f64 {
    f64::from(treat.pieces) * treat.kcal_per_piece.unwrap_or(0.0)
}

impl Treats {
    fn pieces(&mut self, scene: &Scene) -> Option<Alarm> {
        let laid = scene.plan.limits.treats_laid_out?;
        let given = scene.tally.pieces.saturating_add(scene.elsewhere.pieces);
        let left = laid.saturating_sub(given);
        let reserve = reserve(scene.plan, |treat| f64::from(treat.pieces));
        if self.pieces_told || left == 0 || f64::from(left) > reserve {
            return None;
        }
        self.pieces_told = true;
        let inputs = vec![
            Quantity::new("pieces laid out", f64::from(laid), ""),
            Quantity::new("pieces given", f64::from(given), ""),
            Quantity::new("speak up at", reserve, "pieces"),
        ];
        let method = "pieces left against three high rewards or one jackpot";
        let source = "common practice, no source";
        Some(low("pieces_low", inputs, method, source))
    }

    fn energy(&mut self, scene: &Scene) -> Option<Alarm> {
        let budget = self.day_kcal?;
        let given = scene.earlier.prior.kcal_today + scene.tally.kcal + scene.elsewhere.kcal;
        let left = budget - given;
        let reserve = reserve(scene.plan, kcal);
        if self.energy_told || left > reserve || reserve <= 0.0 {
            return None;
        }
        self.energy_told = true;
        let inputs = vec![
            Quantity::new("treats today", given, "kcal"),
            Quantity::new("the day's budget for treats", budget, "kcal"),
            Quantity::new("speak up at", reserve, "kcal left"),
        ];
        let method = "share of the daily energy need (allometric) that treats may take";
        let share = "share: WSAVA and AAHA, as stated in Veterinary Sciences 2025, 12:282. A veterinarian's number comes first.";
        let from = match scene.plan.body.as_ref().map(|body| body.kind) {
            Some(kind @ (BodyKind::Horse | BodyKind::Donkey)) => {
                format!("{}; {share}", kind.source())
            }
            // As older programs wrote it: what is stored is compared.
            _ => format!(
                "Small Animal Clinical Nutrition, 5th ed., table 5-2; Hand-Rearing Birds, 2nd ed., tables B.1 and B.2; {share}"
            ),
        };
        Some(low("energy_low", inputs, method, &from))
    }

    fn jackpots(&mut self, scene: &Scene) -> Option<Alarm> {
        if self.jackpots_told {
            return None;
        }
        let mut reason = jackpots_often(scene.tally)?;
        self.jackpots_told = true;
        let one_in = f64::from(JACKPOT_ONE_IN);
        reason.inputs.push(Quantity::new("one in", one_in, "rewards at most"));
        Some(Alarm { nudge: NudgeKind::JackpotsOften, reason })
    }
}

/// Why jackpots are too many to surprise, where they are.
pub(crate) fn jackpots_often(tally: &Tally) -> Option<Reason> {
    let (jackpots, rewards) = (tally.paid[2], tally.rewarded);
    if jackpots < 2 || jackpots * JACKPOT_ONE_IN <= rewards {
        return None;
    }
    let inputs = vec![
        Quantity::new("jackpots", f64::from(jackpots), ""),
        Quantity::new("rewards", f64::from(rewards), ""),
    ];
    Some(Reason {
        detector: "treats".into(),
        because: because("jackpots", &inputs, &[]),
        inputs,
        probability: None,
        method: "at most one reward in ten, from the second jackpot on".into(),
        source: "common practice, no source".into(),
    })
}

fn low(why: &str, inputs: Vec<Quantity>, method: &str, source: &str) -> Alarm {
    Alarm {
        nudge: NudgeKind::BudgetLow,
        reason: Reason {
            detector: "treats".into(),
            because: because(why, &inputs, &[]),
            inputs,
            probability: None,
            method: method.into(),
            source: source.into(),
        },
    }
}

impl Detector for Treats {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        if let Seen::Began = seen {
            // By the latest weight where one is known, as in the next plan.
            let told = scene.earlier.prior.allowed.and_then(|allowed| allowed.day_kcal);
            let planned = || scene.plan.body.as_ref().and_then(|body| day_budget_kcal(body).ok());
            self.day_kcal = told.or_else(planned);
        }
        if let Seen::Refilled = seen {
            self.pieces_told = false;
        }
        if let Seen::Rep(rep) = seen
            && rep.paid() != Some(RewardValue::Jackpot)
        {
            // The next jackpot may be told of again once they have become rare.
            self.jackpots_told &= scene.tally.paid[2] * JACKPOT_ONE_IN > scene.tally.rewarded;
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        self.pieces(scene).or_else(|| self.energy(scene)).or_else(|| self.jackpots(scene))
    }
}
