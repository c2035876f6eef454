//! The chance that a decline has begun: time (answers to the cue, or tries) and misses together.
//!
//! Tiredness and worry show in slower answers and in more misses at once, a little in each. Each try
//! is judged by how much likelier it is in a decline than in good work at this animal's own level,
//! which is learnt from earlier sessions and on the way; see [`crate::stats::onset`].

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen, budget};
use crate::session::prior::{gap_place, response_time};
use crate::session::{MissedBecause, NudgeKind, Outcome, Quantity, Reason, Rep};
use crate::stats::good_time::GoodTime;
use crate::stats::normal_scores::Reference;
use crate::stats::onset::{Onset, STAGES};

/// How much longer times are at each stage but the standstill.
const LONGER: [f64; STAGES - 1] = [1.2, 1.45, 1.9];
/// How much the odds of a miss multiply.
const ODDS: [f64; STAGES - 1] = [1.4, 2.2, 4.0];
/// Seconds that each stage lasts on average.
const STAGE_S: f64 = 60.0;
/// Log likelihood ratio of a try at a standstill.
const NO_TRY: f64 = -5.0;
/// Scatter of log times is taken to be within these: a handful of times may look too much alike.
const SCATTER: (f64, f64) = (0.2, 0.8);
/// While nothing is known: the middle of the plan's thresholds counts as so many tries.
const ASSUMED_TRIES: f64 = 5.0;

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Decline {
    watch: Option<Watch>,
    told: u32,
}

#[derive(Debug, Clone, PartialEq)]
struct Watch {
    onset: Onset,
    /// Seconds from cue to answer.
    answers: Reference,
    /// Seconds from try to try after a miss, a low, a high reward.
    gaps: [Reference; 3],
    met: f64,
    tries: f64,
    /// How long good work lasts.
    good: GoodTime,
    /// Where the present chance counts from, in active time.
    seen: Duration,
    cue: Option<Duration>,
    last: Option<(Duration, Option<usize>)>,
    settling: u32,
    /// When the chance last was small.
    small_at: Duration,
}

impl Watch {
    fn new(scene: &Scene) -> Option<Self> {
        let usual = scene.usual();
        let advice = &scene.plan.advice;
        let middle = f64::midpoint(advice.raise_at, advice.ease_below) * ASSUMED_TRIES;
        let (met, tries) = usual.and_then(|usual| usual.success).unwrap_or((middle, ASSUMED_TRIES));
        Some(Watch {
            onset: Onset::default(),
            answers: usual.map(|usual| usual.answers.clone()).unwrap_or_default(),
            gaps: usual.map(|usual| usual.gaps.clone()).unwrap_or_default(),
            met: met + 0.5,
            tries: tries + 1.0,
            good: good_time(scene),
            seen: scene.now,
            cue: None,
            last: None,
            settling: 0,
            small_at: scene.now,
        })
    }

    fn miss(&self) -> f64 {
        let miss = 1.0 - self.met / self.tries;
        if miss.is_finite() { miss.clamp(0.05, 0.6) } else { 0.5 }
    }

    fn level(&self, place: Option<usize>) -> Option<&Reference> {
        if self.cue.is_some() { Some(&self.answers) } else { self.gaps.get(place?) }
    }

    /// Seconds of the time that runs, with the level it is to be compared with.
    fn running(&self, scene: &Scene) -> Option<(f64, &Reference)> {
        let (from, place) = match (self.cue, self.last) {
            (Some(cue), _) => (cue, None),
            (None, Some((last, place))) => (last, place),
            _ => return None,
        };
        Some((scene.unbroken_since(from)?, self.level(place)?))
    }

    fn take(&mut self, rep: &Rep, scene: &Scene) {
        let onset = self.passed(scene.now);
        let time = match self.cue {
            Some(_) => response_time(rep).map(|seconds| (seconds, None)),
            None => self.last.and_then(|(from, place)| Some((scene.unbroken_since(from)?, place))),
        };
        let met = rep.met_criterion();
        let mut ratios = miss_ratios(self.miss(), met);
        let declined = self.onset.chance();
        if let Some((seconds, place)) = time.filter(|(seconds, _)| *seconds > 0.0) {
            let whole = rep.outcome != Outcome::Missed(MissedBecause::HoldRanOut);
            let level = if self.cue.is_some() {
                Some(&mut self.answers)
            } else {
                place.and_then(|place| self.gaps.get_mut(place))
            };
            if let Some(level) = level {
                if let (Some(score), Some(centre)) = (level.score(seconds), level.centre()) {
                    add_time(&mut ratios, score, scatter(centre));
                }
                if whole && declined < 0.5 {
                    level.learn(seconds);
                }
            }
        }
        if self.settling > 0 {
            self.settling -= 1;
        } else {
            self.onset = onset.seen(ratios);
        }
        let part = 1.0 - declined;
        self.met += part * f64::from(u8::from(met));
        self.tries += part;
        self.seen = scene.now;
        self.cue = None;
        self.last = Some((rep.active, gap_place(rep)));
        if self.onset.chance() < 0.1 {
            self.small_at = scene.now;
        }
    }

    /// The chances as they are when time has passed and nothing was seen.
    fn passed(&self, now: Duration) -> Onset {
        let seconds = now.saturating_sub(self.seen).as_secs_f64();
        let begins = self.good.chance(self.seen.as_secs_f64(), now.as_secs_f64());
        self.onset.passed(begins, -(-seconds / STAGE_S).exp_m1())
    }

    /// The chance now, with the time that runs counted as far as it has come.
    fn chance(&self, scene: &Scene) -> f64 {
        let Some((seconds, level)) = self.running(scene).filter(|_| self.settling == 0) else {
            return self.onset.chance();
        };
        let Some(usual) = level.at_least(seconds) else { return self.onset.chance() };
        // How much likelier so long a time is at each stage; at a standstill it goes on for ever.
        let mut ratios = [-usual.ln(); STAGES];
        for (ratio, longer) in ratios.iter_mut().zip(LONGER) {
            *ratio = level.at_least(seconds / longer).map_or(0.0, |slow| (slow / usual).ln());
        }
        self.passed(scene.now).seen(ratios).chance()
    }
}

/// How long good work lasts, from the declines of earlier sessions and the planned length.
fn good_time(scene: &Scene) -> GoodTime {
    let past = scene.past.prior.sessions.iter();
    let watched = past.map(|past| match past.declined_s {
        Some(declined) => (declined, true),
        None => (past.active_s, false),
    });
    GoodTime::of(scene.plan.limits.planned.as_secs_f64(), watched)
}

/// Scatter of the logs, from the scatter of the times about their middle.
fn scatter((middle, sd): (f64, f64)) -> f64 {
    let relative = sd / middle.max(f64::MIN_POSITIVE);
    relative.clamp(SCATTER.0, SCATTER.1)
}

/// A finished time shows no standstill; at the other stages it is likelier or less likely.
fn add_time(ratios: &mut [f64; STAGES], score: f64, scatter: f64) {
    for (ratio, longer) in ratios.iter_mut().zip(LONGER) {
        let shift = longer.ln() / scatter;
        *ratio += shift * score - shift * shift / 2.0;
    }
}

fn miss_ratios(miss: f64, met: bool) -> [f64; STAGES] {
    let mut ratios = [NO_TRY; STAGES];
    for (ratio, odds) in ratios.iter_mut().zip(ODDS) {
        let worse = miss * odds / (1.0 - miss + miss * odds);
        *ratio = if met { ((1.0 - worse) / (1.0 - miss)).ln() } else { (worse / miss).ln() };
    }
    ratios
}

impl Detector for Decline {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        match seen {
            Seen::Began => self.watch = Watch::new(scene),
            Seen::Step(before) => {
                self.watch = Watch::new(scene);
                if let Some(watch) = &mut self.watch
                    && scene.working > *before
                {
                    watch.settling = scene.plan.advice.settle_tries;
                }
            }
            Seen::Cue => {
                if let Some(watch) = &mut self.watch {
                    watch.cue = Some(scene.now);
                }
            }
            Seen::Rep(rep) => {
                if let Some(watch) = &mut self.watch {
                    watch.take(rep, scene);
                }
            }
            _ => {}
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let watch = self.watch.as_mut()?;
        let chance = watch.chance(scene);
        let limits = &scene.plan.limits;
        // One session in so many may be wrong, if each has so long of good work.
        let good_h = watch.good.median() / 3600.0;
        let wrong = limits.false_nudges_per_hour * budget::DECLINE * good_h;
        let wanted = 1.0 - wrong.clamp(1e-6, 0.5);
        if chance < wanted {
            return None;
        }
        let since = watch.small_at;
        let miss = watch.miss();
        let running = watch
            .running(scene)
            .map(|(seconds, level)| (seconds, level.centre().map_or(0.0, |(middle, _)| middle)));
        watch.onset = Onset::default();
        watch.seen = scene.now;
        watch.small_at = scene.now;
        // The time that runs has been counted.
        if watch.cue.take().is_some() {
            watch.last = None;
        } else if let Some(last) = &mut watch.last {
            last.1 = None;
        }
        self.told = self.told.saturating_add(1);
        let tally = scene.tally;
        let mut inputs = vec![
            Quantity::new("chance that a decline has begun", chance, ""),
            Quantity::new("chance that is enough to speak", wanted, ""),
            Quantity::new("recent tries", f64::from(tally.recent), ""),
            Quantity::new("met the criterion", f64::from(tally.recent_met), ""),
            Quantity::new("usual chance of a miss", miss, ""),
            Quantity::new("good work expected", watch.good.median(), "s"),
        ];
        if let Some((seconds, usual)) = running {
            inputs.push(Quantity::new("time running", seconds, "s"));
            inputs.push(Quantity::new("usual time", usual, "s"));
        }
        Some(Alarm {
            nudge: if self.told == 1 { NudgeKind::EndSoon } else { NudgeKind::EndNow },
            since: Some(since),
            reason: Reason {
                detector: "decline".into(),
                because: format!(
                    "slower and with more misses than usual: {:.0} in 100 that a decline has \
                     begun",
                    chance * 100.0
                ),
                inputs,
                probability: Some(1.0 - chance),
                method: "chance of a change from the likelihood of times and misses at three \
                         sizes of decline; probability: that nothing has changed"
                    .into(),
                source: "Shiryaev 1963, Theory Probab Appl 8:22; sequential ranks: \
                         McDonald 1990, Naval Res Logist 37:627"
                    .into(),
            },
        })
    }
}
