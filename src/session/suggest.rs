//! What to do next time, as plain data with reasons: hold, raise or ease the criterion, the sides,
//! the treats. Nothing here is a health finding; a lasting difference goes to a veterinarian.

use serde::{Deserialize, Serialize};

use super::{PastSession, Quantity, Reason, Rep, Session};
use crate::plan::Advice;
use crate::stats::Level;
use crate::stats::proportions::{sides, wilson};
use crate::stats::tails::beta_lower;

/// Fewer recent tries than this say nothing.
const FEWEST: u32 = 5;
/// A try weighs a third after so many times the plan's recent tries.
const MEMORY: f64 = 1.5;
/// Sessions on one step without getting better, after which the plan is to change (common practice,
/// no source).
const STUCK_SESSIONS: usize = 2;
/// So unlikely must a side difference be before it is mentioned.
const SIDE_P: f64 = 0.05;
/// Sessions in which the same side must lead for a difference to be called lasting (common
/// practice, no source).
const LASTING_SESSIONS: usize = 3;

/// A suggestion for next time, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Suggestion {
    /// What.
    pub suggests: Suggests,
    /// Why.
    pub reason: Reason,
}

/// What is suggested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "suggests", rename_all = "snake_case")]
pub enum Suggests {
    /// Not enough reps yet to say; so many more are needed.
    MoreReps {
        /// How many.
        needed: u32,
    },
    /// Stay at this step.
    Hold {
        /// Which.
        step: u8,
    },
    /// Go on to this step.
    Raise {
        /// Which.
        step: u8,
    },
    /// Go back to this step.
    Ease {
        /// Which.
        step: u8,
    },
    /// The last step is reached: new places, other people, the cue.
    Generalise,
    /// No progress over several sessions: change the plan.
    ChangePlan,
    /// One side is used more, in this session.
    SideDiffers,
    /// One side has been used more over several sessions: have a veterinarian look.
    SeeVeterinarian,
    /// Fewer jackpots, so that they stay special.
    FewerJackpots,
}

impl Session {
    /// Suggestions for next time, the criterion first.
    pub fn advice(&self) -> Vec<Suggestion> {
        let mut all = vec![self.criterion()];
        all.extend(self.side_difference());
        all.extend(self.jackpots());
        all
    }

    /// Tries at the present step before any decline, the last ones, as the plan counts them.
    fn fresh_recent(&self) -> (u32, u32) {
        let most = self.plan().advice.tries as usize;
        self.fresh()
            .take(most)
            .fold((0, 0), |(met, tries), rep| (met + u32::from(rep.met_criterion()), tries + 1))
    }

    /// Reps at the present step before any decline, the last first.
    fn fresh(&self) -> impl Iterator<Item = &Rep> {
        let until = self.declining_since();
        let at_step = self.tally().reps_at_step(self.reps()).iter().rev();
        at_step.skip_while(move |rep| until.is_some_and(|until| rep.active > until))
    }

    /// What is known of the chance to meet the step now: beta distribution over the fresh tries,
    /// older ones fading with the plan's number of tries, earlier sessions at the end of the row.
    fn present_share(&self) -> (f64, f64) {
        let fades = 1.0 - 1.0 / (MEMORY * f64::from(self.plan().advice.tries.max(1)));
        let (mut met, mut missed, mut weight) = (0.5, 0.5, 1.0);
        for rep in self.fresh() {
            *(if rep.met_criterion() { &mut met } else { &mut missed }) += weight;
            weight *= fades;
        }
        let before = self.prior().sessions.iter().rev().flat_map(|past| past.steps.iter().rev());
        for past in before.filter(|past| past.step == self.working()).take(5) {
            // The tries of one session in a lump, as old as their middle.
            let tries = f64::from(past.tries);
            let lump = weight * fades.powf(tries / 2.0);
            met += lump * f64::from(past.met);
            missed += lump * (tries - f64::from(past.met));
            weight *= fades.powf(tries);
        }
        (met, missed)
    }

    fn criterion(&self) -> Suggestion {
        let (plan, step) = (self.plan(), self.working());
        let (met, tries) = self.fresh_recent();
        if tries < FEWEST.min(plan.advice.tries) {
            let needed = FEWEST.min(plan.advice.tries) - tries;
            let because = format!("{tries} tries at step {step} are not enough yet");
            let inputs = vec![
                Quantity::new("tries at this step", f64::from(tries), ""),
                Quantity::new("more needed", f64::from(needed), ""),
            ];
            let reason = Reason {
                detector: "criterion".into(),
                because,
                inputs,
                probability: None,
                method: "at least five tries before anything is said".into(),
                source: "common practice, no source (sets of five)".into(),
            };
            return Suggestion { suggests: Suggests::MoreReps { needed }, reason };
        }
        let (hits, misses) = self.present_share();
        let reaches = |goal: f64| 1.0 - beta_lower(hits, misses, goal);
        let (raise, ease) = (reaches(plan.advice.raise_at), 1.0 - reaches(plan.advice.ease_below));
        let explain = |because: String, chance: f64| {
            let mut reason = bounds(met, tries, &plan.advice);
            reason.because = because;
            reason.inputs.push(Quantity::new(
                "share now, older tries fading",
                hits / (hits + misses),
                "",
            ));
            reason.inputs.push(Quantity::new("tries that it rests on", hits + misses, ""));
            reason.inputs.push(Quantity::new("chance that it is ready", raise, ""));
            reason.inputs.push(Quantity::new("chance that it is too much", ease, ""));
            reason.probability = Some((1.0 - chance).clamp(0.0, 1.0));
            reason.method = "beta distribution of the present share, older tries and sessions \
                             fading: raise or ease when it is more likely than not past the \
                             plan's threshold; 90 % Wilson bounds of the recent tries beside it; \
                             probability: that the advice is wrong"
                .into();
            reason.source =
                "Brown, Cai & DasGupta 2001, Stat Sci 16:101 (prior of a half); Wilson \
                             1927, JASA 22:209; thresholds: common practice, no source"
                    .into();
            reason
        };
        if raise > 0.5 {
            let reason = explain(format!("{met} of {tries} recent tries met step {step}"), raise);
            let last = usize::from(step) >= plan.steps.len();
            let suggests =
                if last { Suggests::Generalise } else { Suggests::Raise { step: step + 1 } };
            return Suggestion { suggests, reason };
        }
        if ease > 0.5 {
            let because = format!("only {met} of {tries} recent tries met step {step}");
            let reason = explain(because, ease);
            let suggests =
                if step > 1 { Suggests::Ease { step: step - 1 } } else { Suggests::ChangePlan };
            return Suggestion { suggests, reason };
        }
        let because = format!("{met} of {tries} recent tries met step {step}");
        let mut reason = explain(because, 1.0 - raise - ease);
        let suggests = if self.stuck() { Suggests::ChangePlan } else { Suggests::Hold { step } };
        if suggests == Suggests::ChangePlan {
            reason.because += &format!(", no better than in the {STUCK_SESSIONS} sessions before");
        }
        Suggestion { suggests, reason }
    }

    /// Whether this step was worked on in the last sessions too, without getting better since.
    fn stuck(&self) -> bool {
        let share = |met: u32, tries: u32| f64::from(met) / f64::from(tries.max(1));
        let before: Vec<f64> = self
            .prior()
            .sessions
            .iter()
            .rev()
            .take(STUCK_SESSIONS)
            .filter_map(|session| session.steps.last())
            .filter(|past| past.step == self.working() && past.tries >= FEWEST)
            .map(|past| share(past.met, past.tries))
            .collect();
        let now = share(self.tally().met_at_step, self.tally().at_step);
        before.len() == STUCK_SESSIONS && before.iter().all(|earlier| now <= *earlier)
    }

    fn side_difference(&self) -> Option<Suggestion> {
        let here = PastSession { sides: self.tally().sides, ..PastSession::default() };
        let past = self.prior().sessions.iter().chain([&here]);
        let counted: Vec<[u32; 2]> =
            past.map(|session| session.sides).filter(|[left, right]| left + right > 0).collect();
        let leads = |[left, right]: &[u32; 2]| (*right).cmp(left);
        let last = counted.last()?;
        let same = counted.iter().filter(|count| leads(count) == leads(last)).count();
        let lasting = counted.len() >= LASTING_SESSIONS && same == counted.len();
        let [left, right] = if lasting {
            counted.iter().fold([0, 0], |sum: [u32; 2], count| {
                [sum[0].saturating_add(count[0]), sum[1].saturating_add(count[1])]
            })
        } else {
            self.tally().sides
        };
        let test = sides(right, left).ok().filter(|test| test.p < SIDE_P)?;
        let over =
            if lasting { format!("over {} sessions", counted.len()) } else { "today".into() };
        let advice = if lasting {
            "; unless you asked for it, have a veterinarian look before you go on"
        } else {
            "; one session says little, watch whether it lasts"
        };
        Some(Suggestion {
            suggests: if lasting { Suggests::SeeVeterinarian } else { Suggests::SideDiffers },
            reason: Reason {
                detector: "sides".into(),
                because: format!("{left} left and {right} right {over}{advice}"),
                inputs: vec![
                    Quantity::new("left", f64::from(left), ""),
                    Quantity::new("right", f64::from(right), ""),
                    Quantity::new("side index", test.index.unwrap_or(0.0), ""),
                    Quantity::new("sessions", counted.len() as f64, ""),
                ],
                probability: Some(test.p),
                method: "exact two-sided binomial test against one half; lasting: the same side \
                         leads in every one of at least three sessions"
                    .into(),
                source: "exact binomial test (Clopper & Pearson 1934, Biometrika 26:404); \
                         referral: common practice, no source"
                    .into(),
            },
        })
    }

    fn jackpots(&self) -> Option<Suggestion> {
        let (jackpots, rewards) = (self.tally().paid[2], self.tally().rewarded);
        if jackpots < 2 || jackpots * 10 <= rewards {
            return None;
        }
        Some(Suggestion {
            suggests: Suggests::FewerJackpots,
            reason: Reason {
                detector: "treats".into(),
                because: format!("{jackpots} jackpots in {rewards} rewards"),
                inputs: vec![
                    Quantity::new("jackpots", f64::from(jackpots), ""),
                    Quantity::new("rewards", f64::from(rewards), ""),
                ],
                probability: None,
                method: "at most one reward in ten, from the second jackpot on".into(),
                source: "common practice, no source".into(),
            },
        })
    }
}

/// Why a step is ready to rise, when it is: enough of the recent tries met it, and the lower bound of
/// their share is not below the easing threshold.
pub(crate) fn ready_to_raise(met: u32, tries: u32, advice: &Advice) -> Option<Reason> {
    let share = wilson(met, tries, Level::NINETY).ok()?;
    let enough = tries >= FEWEST.min(advice.tries);
    if !enough || share.point + 1e-9 < advice.raise_at || share.low < advice.ease_below {
        return None;
    }
    let mut reason = bounds(met, tries, advice);
    reason.because = format!("{met} of the last {tries} tries met the criterion");
    Some(reason)
}

fn bounds(met: u32, tries: u32, advice: &Advice) -> Reason {
    let mut inputs = vec![
        Quantity::new("met the criterion", f64::from(met), ""),
        Quantity::new("recent tries", f64::from(tries), ""),
        Quantity::new("raise at", advice.raise_at, ""),
        Quantity::new("ease below", advice.ease_below, ""),
    ];
    if let Ok(share) = wilson(met, tries, Level::NINETY) {
        inputs.push(Quantity::new("lower bound of the share", share.low, ""));
        inputs.push(Quantity::new("upper bound of the share", share.high, ""));
    }
    Reason {
        detector: "criterion".into(),
        because: String::new(),
        inputs,
        probability: None,
        method: "share of the recent tries before any decline against the plan's thresholds, with \
                 90 % Wilson bounds"
            .into(),
        source: "Wilson 1927, JASA 22:209; thresholds: common practice, no source".into(),
    }
}
