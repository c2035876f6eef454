//! What is seen of the animal while it is watched: times, misses, silence, and the wait that runs.

use std::time::Duration;

use super::Scene;
use crate::session::prior::{gap_place, response_time};
use crate::session::{MissedBecause, Outcome, Rep};
use crate::stats::decline::pace::{Pace, Paces};
use crate::stats::decline::{Kind, Sight, Usual, Wait, Watching};
use crate::stats::good_time::GoodTime;

/// The animal is at work when it tries at this share of the planned pace, or more often than any plan needs.
const AT_WORK: f64 = 0.5;
/// Onsets are as likely at all times by this share; the rest follows how long good work usually lasts.
const CONSTANT: f64 = 0.75;
/// Scatter of that length on the log scale, and the seconds over which the rest has the same weight.
const SCATTER: f64 = 0.5;
const SPREAD_S: f64 = 900.0;
/// While nothing is known: the middle of the plan's thresholds counts as this many tries.
const ASSUMED_TRIES: f64 = 4.3;
/// Earlier sessions say of the chance of a miss as much as this many tries at most.
const TRIES_BEFORE: f64 = 20.0;
/// Movements further apart than this belong to different tries.
const ONE_TRY_S: f64 = 10.0;
/// Weight of the newest time in the average that is shown.
const NEWEST: f64 = 0.3;

const ANSWER: Kind = Kind { stream: 0, sort: 0 };
const MOVEMENT: Kind = Kind { stream: 2, sort: 0 };

/// Watches from the start, or since the step was changed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Watch {
    pub(super) watching: Watching,
    cue: Option<Duration>,
    /// The last try, and what a gap after it is compared with.
    last: Option<(Duration, Option<Kind>)>,
    movement: Option<(String, Duration)>,
    /// The running wait has been told of.
    pub(super) spent: bool,
    settling: u32,
    /// Average of the last logs, by stream.
    pub(super) lately: [Option<f64>; 3],
    /// How long good work usually lasts, in seconds.
    good_s: f64,
    pub(super) pace: Pace,
    /// The animal works, so that it could cease to: not since it was last told to end.
    pub(super) works: bool,
    /// Tries a second by the plan.
    planned_per_s: f64,
    /// Seconds for which the animal worked in other sessions of the sitting.
    elsewhere_s: f64,
}

impl Watch {
    pub(super) fn new(scene: &Scene, settling: u32) -> Self {
        let advice = &scene.plan.advice;
        let known = scene.usual();
        let tries = match known.and_then(|usual| usual.success) {
            Some((met, tries)) => {
                let part = (TRIES_BEFORE / tries).min(1.0);
                ((tries - met) * part + 0.5, met * part + 0.5)
            }
            None => {
                let met = f64::midpoint(advice.raise_at, advice.ease_below);
                (ASSUMED_TRIES * (1.0 - met), ASSUMED_TRIES * met)
            }
        };
        let usual = match known {
            Some(known) => Usual { tries, ..known.level },
            None => Usual { tries, ..Usual::default() },
        };
        Watch {
            watching: Watching::new(usual, scene.seconds()),
            cue: None,
            last: None,
            movement: None,
            spent: false,
            settling,
            lately: [None; 3],
            good_s: good_time(scene).median(),
            pace: Pace::new(scene.seconds()),
            works: true,
            planned_per_s: f64::from(scene.plan.limits.planned_reps)
                / scene.plan.limits.planned.as_secs_f64().max(1.0),
            elsewhere_s: scene.elsewhere.active.as_secs_f64(),
        }
    }

    /// How much likelier than on average an onset is now. Past the usual length it is never likelier
    /// than before it, so that outlasting the plan proves nothing.
    fn onset(&self, now: f64) -> f64 {
        let now = now + self.elsewhere_s;
        let z = (now.max(1.0) / self.good_s.max(1.0)).ln() / SCATTER;
        let normal = (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let density = normal / (SCATTER * now.max(1.0));
        CONSTANT + (1.0 - CONSTANT) * SPREAD_S * density
    }

    pub(super) fn passed(&mut self, now: f64) {
        self.watching.passed(now, self.onset(now));
    }

    fn see(&mut self, sight: Sight, now: f64) {
        if let Sight::Time { kind, seconds } = sight
            && seconds > 0.0
        {
            let lately = &mut self.lately[kind.stream];
            let log = seconds.ln();
            *lately = Some(lately.map_or(log, |mean| mean + NEWEST * (log - mean)));
        }
        if self.settling == 0 {
            self.watching.see(sight, now);
            return;
        }
        // Just after a raise slipping is expected: the new level is only learnt.
        let usual = &mut self.watching.usual;
        match sight {
            Sight::Time { kind, seconds } => usual.learn(kind, seconds, 1.0),
            Sight::Try { met, .. } => usual.tried(met, 1.0),
            Sight::Cut { .. } | Sight::NoAnswer => {}
        }
    }

    pub(super) fn cue(&mut self, scene: &Scene) {
        let now = scene.seconds();
        if self.cue.is_some() {
            // Nobody said so, but the last cue brought nothing.
            self.see(Sight::NoAnswer, now);
        }
        self.passed(now);
        self.cue = Some(scene.now);
        self.spent = false;
    }

    pub(super) fn take(&mut self, rep: &Rep, scene: &Scene) {
        let now = scene.seconds();
        let gap = self.last.and_then(|(from, kind)| Some((scene.unbroken_since(from)?, kind?)));
        match self.cue {
            Some(cue) => {
                let unbroken = scene.unbroken_since(cue).is_some() && !self.spent;
                if let Some(seconds) = response_time(rep).filter(|_| unbroken) {
                    let cut = rep.outcome == Outcome::Missed(MissedBecause::HoldRanOut);
                    let kind = ANSWER;
                    let cut_off = Sight::Cut { kind, seconds };
                    self.see(if cut { cut_off } else { Sight::Time { kind, seconds } }, now);
                }
                // When the next cue is given is the trainer's doing; it is only learnt.
                if let Some((seconds, kind)) = gap {
                    let part = 1.0 - self.watching.chance();
                    self.watching.usual.learn(kind, seconds, part);
                }
            }
            None => {
                if let Some((seconds, kind)) = gap.filter(|_| !self.spent) {
                    self.see(Sight::Time { kind, seconds }, now);
                }
            }
        }
        self.pace.tried(now);
        let cued = self.cue.take().is_some();
        self.see(Sight::Try { met: rep.met_criterion(), cued }, now);
        self.settling = self.settling.saturating_sub(1);
        self.last = Some((rep.active, gap_place(rep).map(|sort| Kind { stream: 1, sort })));
        self.passed(now);
        self.spent = false;
    }

    /// The time since the last try says nothing of the animal, nor does a wait for its answer.
    pub(super) fn interrupted(&mut self, now: f64) {
        self.last = self.last.map(|(from, _)| (from, None));
        self.movement = None;
        self.spent = true;
        self.pace = Pace::new(now);
    }

    /// Work goes on after another session of the sitting: what was interrupted says nothing.
    pub(super) fn goes_on(&mut self, scene: &Scene) {
        self.cue = None;
        self.elsewhere_s = scene.elsewhere.active.as_secs_f64();
        self.interrupted(scene.seconds());
    }

    pub(super) fn moved(&mut self, name: &str, scene: &Scene) {
        if let Some((last, at)) = &self.movement
            && last == name
            && let Some(seconds) = scene.unbroken_since(*at).filter(|gap| *gap < ONE_TRY_S)
        {
            self.see(Sight::Time { kind: MOVEMENT, seconds }, scene.seconds());
        }
        match &mut self.movement {
            Some((last, at)) if last == name => *at = scene.now,
            movement => *movement = Some((name.to_owned(), scene.now)),
        }
    }

    /// Whether a decline can be told of: the animal worked just before, or nobody knows yet.
    pub(super) fn at_work(&self, paces: Option<Paces>) -> bool {
        paces.is_none_or(|paces| paces.at_work(self.planned_per_s * AT_WORK))
    }

    /// The wait that runs.
    pub(super) fn wait(&self, scene: &Scene) -> Option<Wait> {
        if self.spent || self.settling > 0 {
            return None;
        }
        let (from, kind) = match (self.cue, self.last) {
            (Some(cue), _) => (cue, ANSWER),
            (None, Some((last, kind))) => (last, kind?),
            _ => return None,
        };
        Some(Wait { kind, seconds: scene.unbroken_since(from)? })
    }
}

/// How long good work lasts, from the declines of earlier sessions and the planned length.
fn good_time(scene: &Scene) -> GoodTime {
    let past = scene.earlier.prior.sessions.iter();
    let watched = past.map(|past| match past.declined_s {
        Some(declined) => (declined, true),
        None => (past.active_s, false),
    });
    GoodTime::of(scene.plan.limits.planned.as_secs_f64(), watched)
}
