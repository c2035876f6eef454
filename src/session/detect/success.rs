//! Success is falling: misses add up (CUSUM), or too many come in a row.

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen, budget};
use crate::session::{NudgeKind, Quantity, Reason};
use crate::stats::runs::mean_trials_to_run;
use crate::stats::self_starting::quick_miss_threshold;

/// The change to notice: the odds of a miss multiply by so much.
const ODDS: f64 = 3.0;
/// While nothing is known, the middle of the plan's thresholds counts as so many tries.
const ASSUMED_TRIES: f64 = 5.0;
/// The usual chance of a miss is kept within these, so that the sum stays meaningful.
const MISS_RANGE: (f64, f64) = (0.05, 0.5);
/// A run of misses is stretched at most so far beyond the plan's, to keep the false nudges rare.
const LONGEST_STRETCH: u32 = 7;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Success {
    met: f64,
    tries: f64,
    /// Tries since the sum left zero, which the usual chance does not include yet.
    pending: (f64, f64),
    sum: f64,
    threshold: f64,
    run: u32,
    run_allowed: u32,
    settling: u32,
    rising_since: Duration,
    alarm: Option<Cause>,
    told: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Cause {
    AddedUp,
    InARow,
}

impl Success {
    fn start(&mut self, scene: &Scene) {
        let advice = &scene.plan.advice;
        let (met, tries) = match scene.usual().and_then(|usual| usual.success) {
            Some(known) => known,
            None => {
                let middle = f64::midpoint(advice.raise_at, advice.ease_below);
                (middle * ASSUMED_TRIES, ASSUMED_TRIES)
            }
        };
        *self = Success { met: met + 0.5, tries: tries + 1.0, ..Success::default() };
        self.bound(scene);
    }

    /// The usual chance of a miss.
    fn miss(&self) -> f64 {
        let miss = 1.0 - self.met / self.tries;
        if miss.is_finite() { miss.clamp(MISS_RANGE.0, MISS_RANGE.1) } else { MISS_RANGE.1 }
    }

    fn bound(&mut self, scene: &Scene) {
        let (miss, limits) = (self.miss(), &scene.plan.limits);
        let per_hour = scene.tries_per_hour();
        let run = |share| budget::run_length(per_hour, limits.false_nudges_per_hour, share);
        self.threshold = quick_miss_threshold(miss, ODDS, run(budget::SUCCESS));
        let wanted = run(budget::MISSES);
        let plain = scene.plan.advice.misses_in_a_row.max(1);
        self.run_allowed = (plain..plain.saturating_add(LONGEST_STRETCH))
            .find(|run| mean_trials_to_run(miss, *run).is_ok_and(|mean| mean >= wanted))
            .unwrap_or(plain.saturating_add(LONGEST_STRETCH));
    }

    fn learn(&mut self, met: f64, tries: f64) {
        self.met += met;
        self.tries += tries;
    }

    fn take(&mut self, met: bool, scene: &Scene) {
        if self.settling > 0 {
            // Just after a raise the old level says little, and slipping is expected.
            self.settling -= 1;
            self.learn(f64::from(u8::from(met)), 1.0);
            self.bound(scene);
            return;
        }
        self.run = if met { 0 } else { self.run + 1 };
        let miss = self.miss();
        let worse = miss * ODDS / (1.0 - miss + miss * ODDS);
        let reference = ((1.0 - miss) / (1.0 - worse)).ln() / ODDS.ln();
        if self.sum <= 0.0 {
            self.rising_since = scene.now;
        }
        self.sum = (self.sum + f64::from(u8::from(!met)) - reference).max(0.0);
        self.pending.0 += f64::from(u8::from(met));
        self.pending.1 += 1.0;
        if self.sum <= 0.0 {
            let (met, tries) = std::mem::take(&mut self.pending);
            self.learn(met, tries);
            self.bound(scene);
        }
        if met {
            self.told = false;
        }
        if self.sum >= self.threshold {
            self.alarm = Some(Cause::AddedUp);
            (self.sum, self.pending) = (0.0, (0.0, 0.0));
        } else if self.run >= self.run_allowed {
            self.alarm = Some(Cause::InARow);
        }
    }
}

impl Detector for Success {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began => self.start(scene),
            Seen::Step(before) => {
                self.start(scene);
                if scene.working > *before {
                    self.settling = scene.plan.advice.settle_tries;
                }
            }
            Seen::Rep(rep) => self.take(rep.met_criterion(), scene),
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let cause = self.alarm.take()?;
        if self.told {
            return None;
        }
        self.told = true;
        let tally = scene.tally;
        let (recent, met) = (tally.recent, tally.recent_met);
        let miss = self.miss();
        let probability = crate::stats::proportions::binomial_test(met, recent, 1.0 - miss)
            .map(|test| test.p_less)
            .ok();
        let plain = scene.plan.advice.misses_in_a_row;
        let (because, probability, method, source) = match cause {
            Cause::AddedUp => (
                format!(
                    "{met} of the last {recent} tries met the criterion, where about {:.0} are \
                     usual",
                    f64::from(recent) * (1.0 - miss)
                ),
                probability,
                "cumulative sum of misses (Bernoulli), its threshold from the plan's false nudges \
                 an hour; probability: binomial tail of the recent tries",
                "Reynolds & Stoumbos 1999, J Qual Technol 31:87",
            ),
            Cause::InARow => (
                format!("{} misses in a row", self.run),
                Some(miss.powi(i32::try_from(self.run).unwrap_or(i32::MAX))),
                "misses in a row; at the usual success so long a run is rare enough for the \
                 plan's false nudges an hour",
                "rule: common practice, no source; run lengths: Feller 1968, XIII.7",
            ),
        };
        Some(Alarm {
            nudge: NudgeKind::StepTooMuch,
            since: Some(self.rising_since),
            reason: Reason {
                detector: "success".into(),
                because,
                inputs: vec![
                    Quantity::new("recent tries", f64::from(recent), ""),
                    Quantity::new("met the criterion", f64::from(met), ""),
                    Quantity::new("usual chance of a miss", miss, ""),
                    Quantity::new("misses in a row", f64::from(self.run), ""),
                    Quantity::new("misses in a row, plain rule", f64::from(plain), ""),
                    Quantity::new(
                        "misses in a row that alarm here",
                        f64::from(self.run_allowed),
                        "",
                    ),
                ],
                probability,
                method: method.into(),
                source: source.into(),
            },
        })
    }
}
