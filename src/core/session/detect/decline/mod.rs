//! The one watcher for declining: everything that says "end", "slower" or "waits long" by inference
//! comes from here, so that one budget of false nudges an hour holds for all of it.
//!
//! Times, misses, unanswered cues and the wait that runs go into one evidence
//! ([`crate::stats::decline`]); it speaks when the evidence reaches a bound that follows from the budget.
//! Only an animal at work can decline ([`pace`]): pauses between bouts of work are usual however long they
//! are. It is also told when work that went on for minutes has all but ceased, whatever the evidence says.
//!
//! What the trainer shows afterwards teaches it: after an alarm that was taken back (the evidence went
//! away again, or the trainer said that the animal is well) it asks for more.
//!
//! Who changes a constant here looks at every law of tiring (`tests/bench engine`), chooses on `--tuning`, and raises the
//! engine's generation when the same tags give other nudges.

#[cfg(test)]
mod tests;
mod told;

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen};
use crate::plan::Mood;
use crate::session::prior::{gap_place, response_time};
use crate::session::{MissedBecause, NudgeKind, Outcome, Rep};
use crate::stats::decline::pace::{self, Pace, Paces};
use crate::stats::decline::{Evidence, Kind, Shows, Sight, Usual, Wait, Watching};
use crate::stats::good_time::GoodTime;

/// Seconds of evidence for one false nudge in this many seconds: chosen on the simulated worlds of the
/// tuning half so that false nudges come no more often than the budget (the theory's bound is one).
const BOUND: f64 = 1.5;
/// Where no cue is tagged the same bound is reached falsely less often, so less is asked (chosen in the same way).
const WITHOUT_CUES: f64 = 0.7;
/// After an alarm that was taken back, this much more evidence is needed.
const TAKEN_BACK: f64 = 8.0;
/// What earlier sessions say of false alarms counts beside this many that were expected and came.
const SURE: f64 = 0.5;
/// An alarm is taken back when the evidence falls below this share of the bound.
const GONE: f64 = 1.0 / 30.0;
/// After *end soon*, this much more evidence says *end now*.
const NOW: f64 = 30.0;
/// And this many seconds and tries pass at least: that nothing comes any more needs no second word.
const NOW_AFTER_S: f64 = 45.0;
const NOW_AFTER_TRIES: u32 = 12;
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

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Decline {
    /// Whether the trainer tags cues.
    cues: bool,
    watch: Option<Watch>,
    /// Alarms that turned out to be none.
    taken_back: u32,
    /// Since when it declines, in active time, by the alarm that stands.
    since: Option<Duration>,
    told: Option<Told>,
    /// A decline that was told at an earlier step of the session and was not taken back.
    before: Option<Duration>,
    /// Since when the trainer says that the animal is tired or worried.
    said: Option<Duration>,
}

/// What was told and stands.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Told {
    at: Duration,
    end_now: bool,
    /// What it was by.
    by: By,
    /// Tries since.
    tries: u32,
}

/// What an alarm was by.
#[derive(Debug, Clone, Copy, PartialEq)]
enum By {
    /// The evidence, which is mostly in misses.
    Misses,
    /// The evidence otherwise.
    Evidence,
    /// Work had all but ceased.
    Pace,
}

#[derive(Debug, Clone, PartialEq)]
struct Watch {
    watching: Watching,
    cue: Option<Duration>,
    /// The last try, and what a gap after it is compared with.
    last: Option<(Duration, Option<Kind>)>,
    movement: Option<(String, Duration)>,
    /// The running wait has been told of.
    spent: bool,
    settling: u32,
    /// Average of the last logs, by stream.
    lately: [Option<f64>; 3],
    /// How long good work usually lasts, in seconds.
    good_s: f64,
    pace: Pace,
    /// The animal works, so that it could cease to: not since it was last told to end.
    works: bool,
    /// Tries a second by the plan.
    planned_per_s: f64,
}

impl Decline {
    /// Since when, in active time, the animal declines: by what was seen, whether its nudge was given or held back, and
    /// not taken back; or by the trainer's own word, until it is said to be well.
    pub(crate) fn since(&self) -> Option<Duration> {
        [self.seen(), self.said].into_iter().flatten().min()
    }

    fn seen(&self) -> Option<Duration> {
        [self.before, self.since].into_iter().flatten().min()
    }

    /// Alarms that were taken back.
    pub(crate) fn taken_back(&self) -> u32 {
        self.taken_back
    }

    fn start(&mut self, scene: &Scene, settling: u32) {
        self.before = self.seen();
        (self.since, self.told) = (None, None);
        self.watch = Some(Watch::new(scene, settling));
    }

    /// The evidence at which it speaks.
    fn bound(&self, scene: &Scene) -> f64 {
        let per_hour = scene.plan.limits.false_nudges_per_hour;
        let cues = if self.cues { 1.0 } else { WITHOUT_CUES };
        let bound = BOUND * cues * 3600.0 / per_hour * self.learnt(scene);
        if bound.is_finite() { bound.max(1.0) } else { f64::MAX }
    }

    /// How many times more false alarms this animal gave, here and earlier, than the budget stands.
    fn learnt(&self, scene: &Scene) -> f64 {
        let past = &scene.earlier.prior.sessions;
        let hours = past.iter().map(|session| session.active_s).sum::<f64>() / 3600.0;
        let wrong: f64 = past.iter().map(|session| f64::from(session.alarms_taken_back)).sum();
        let stands = SURE + hours * scene.plan.limits.false_nudges_per_hour;
        let before = ((SURE + wrong) / stands).clamp(1.0, 30.0);
        let here = TAKEN_BACK.powi(i32::try_from(self.taken_back.min(20)).unwrap_or(20));
        before * if here.is_finite() { here } else { 1.0 }
    }

    fn take_back(&mut self) {
        self.taken_back = self.taken_back.saturating_add(1);
        (self.since, self.told) = (None, None);
    }
}

impl Watch {
    fn new(scene: &Scene, settling: u32) -> Self {
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
        }
    }

    /// How much likelier than on average an onset is now. Past the usual length it is never likelier
    /// than before it, so that outlasting the plan proves nothing.
    fn onset(&self, now: f64) -> f64 {
        let z = (now.max(1.0) / self.good_s.max(1.0)).ln() / SCATTER;
        let normal = (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let density = normal / (SCATTER * now.max(1.0));
        CONSTANT + (1.0 - CONSTANT) * SPREAD_S * density
    }

    fn passed(&mut self, now: f64) {
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

    fn cue(&mut self, scene: &Scene) {
        let now = scene.seconds();
        if self.cue.is_some() {
            // Nobody said so, but the last cue brought nothing.
            self.see(Sight::NoAnswer, now);
        }
        self.passed(now);
        self.cue = Some(scene.now);
        self.spent = false;
    }

    fn take(&mut self, rep: &Rep, scene: &Scene) {
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
    fn interrupted(&mut self, now: f64) {
        self.last = self.last.map(|(from, _)| (from, None));
        self.movement = None;
        self.spent = true;
        self.pace = Pace::new(now);
    }

    fn moved(&mut self, name: &str, scene: &Scene) {
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
    fn at_work(&self, paces: Option<Paces>) -> bool {
        paces.is_none_or(|paces| paces.at_work(self.planned_per_s * AT_WORK))
    }

    /// The wait that runs.
    fn wait(&self, scene: &Scene) -> Option<Wait> {
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

/// Where the evidence mostly is.
fn mostly(evidence: &Evidence) -> Shows {
    let all = [Shows::Times, Shows::Misses, Shows::Both, Shows::Silence];
    all.into_iter()
        .max_by(|a, b| evidence.shows[*a as usize].total_cmp(&evidence.shows[*b as usize]))
        .unwrap_or(Shows::Both)
}

impl Detector for Decline {
    fn see(&mut self, seen: &Seen, scene: &Scene) {
        self.cues |= matches!(seen, Seen::Cue);
        match seen {
            Seen::Mood(Mood::Tired | Mood::Worried) => self.said = self.said.or(Some(scene.now)),
            Seen::Mood(_) => self.said = None,
            _ => {}
        }
        match seen {
            Seen::Began => self.start(scene, 0),
            Seen::Step(before) => {
                let raised = scene.working > *before;
                self.start(scene, if raised { scene.plan.advice.settle_tries } else { 0 });
            }
            // The trainer sees it, and it is well.
            Seen::Mood(Mood::Keen | Mood::Calm) if self.told.is_some() => {
                self.take_back();
                if let Some(watch) = &mut self.watch {
                    watch.watching.forget(scene.seconds());
                    watch.spent = true;
                }
            }
            Seen::Mood(_) => {}
            Seen::Refilled => {
                let Some(watch) = &mut self.watch else { return };
                // What was told while the trainer was at the pouch was about nothing.
                if self.told.is_some_and(|told| told.tries == 0) {
                    (self.since, self.told) = (None, None);
                    watch.works = true;
                }
                watch.interrupted(scene.seconds());
            }
            _ => {
                let Some(watch) = &mut self.watch else { return };
                match seen {
                    Seen::Cue => watch.cue(scene),
                    Seen::Rep(rep) => {
                        watch.take(rep, scene);
                        if let Some(told) = &mut self.told {
                            told.tries = told.tries.saturating_add(1);
                        }
                    }
                    Seen::Own(name) => watch.moved(name, scene),
                    Seen::Began | Seen::Step(_) | Seen::Mood(_) | Seen::Refilled => {}
                }
            }
        }
    }

    fn look(&mut self, scene: &Scene) -> Option<Alarm> {
        let bound = self.bound(scene);
        let watch = self.watch.as_mut()?;
        let paces = watch.pace.now(scene.seconds());
        watch.works |= paces.is_some_and(|paces| paces.again());
        let ceased = watch.works && paces.is_some_and(|paces| paces.ceased());
        let wait = watch.wait(scene);
        let evidence = watch.watching.evidence(scene.seconds(), wait);
        let enough = evidence.total >= bound && watch.at_work(paces);
        let told = match self.told {
            None if enough || ceased => None,
            None => return None,
            Some(told) => match told.by {
                By::Pace if watch.works => {
                    self.take_back();
                    return None;
                }
                By::Evidence | By::Misses if evidence.total < bound * GONE => {
                    self.take_back();
                    return None;
                }
                By::Evidence if !told.end_now && enough && !ceased => {
                    let waited = scene.now.saturating_sub(told.at).as_secs_f64();
                    let goes_on = told.tries >= NOW_AFTER_TRIES && waited >= NOW_AFTER_S;
                    let silent = mostly(&evidence) == Shows::Silence;
                    if silent || !goes_on || evidence.total < bound * NOW {
                        return None;
                    }
                    Some(told)
                }
                By::Evidence | By::Misses if ceased => None,
                _ => return None,
            },
        };
        let shows = mostly(&evidence);
        let nudge = match (told, shows) {
            (Some(_), _) => NudgeKind::EndNow,
            (None, _) if ceased => NudgeKind::EndSoon,
            // Whether the step is too hard is decided in one place, and told by its own detector.
            (None, Shows::Misses) if scene.too_hard().is_some() => return None,
            (None, Shows::Misses) => NudgeKind::PayThisOne,
            (None, _) => NudgeKind::EndSoon,
        };
        let by = match shows {
            _ if ceased => By::Pace,
            Shows::Misses => By::Misses,
            _ => By::Evidence,
        };
        let since = match by {
            By::Pace => scene.seconds() - pace::lately_s(),
            _ => watch.watching.since().unwrap_or(scene.seconds()),
        };
        let since = Duration::from_secs_f64(since.max(0.0));
        if nudge == NudgeKind::EndSoon {
            watch.works = false;
        }
        let reason = told::reason(
            watch,
            scene,
            told::Sights { evidence, wait, paces, ceased },
            bound,
            self.taken_back,
        );
        // Misses alone may be the step's: they go on saying how often it is met.
        if told.is_none() && self.since.is_none() && by != By::Misses {
            self.since = Some(since);
        }
        let at = told.map_or(scene.now, |told| told.at);
        self.told = Some(Told { at, end_now: told.is_some(), by, tries: 0 });
        Some(Alarm { nudge, reason })
    }
}
