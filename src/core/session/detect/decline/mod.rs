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
mod watch;

use std::time::Duration;

use super::{Alarm, Detector, Scene, Seen};
use crate::plan::Mood;
use crate::session::{Elsewhere, NudgeKind};
use crate::stats::decline::pace;
use crate::stats::decline::{Carried, Evidence, Shows};
use watch::Watch;

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
    /// Since when it is known that it declined in another session of the sitting.
    elsewhere: Option<Duration>,
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

impl Decline {
    /// Since when, in active time, the animal declines: by what was seen, whether its nudge was given or held back, and
    /// not taken back; or by the trainer's own word, until it is said to be well.
    pub(crate) fn since(&self) -> Option<Duration> {
        [self.seen(), self.said, self.elsewhere].into_iter().flatten().min()
    }

    fn seen(&self) -> Option<Duration> {
        [self.before, self.since].into_iter().flatten().min()
    }

    /// What speaks for a decline at `now`, in active time, for the session that is worked on next.
    pub(crate) fn carried(&self, now: Duration) -> Option<Carried> {
        self.watch.as_ref()?.watching.carried(now.as_secs_f64())
    }

    /// Work goes on here. A decline that was told or said elsewhere stays; what speaks for one otherwise is carried over.
    fn go_on(&mut self, scene: &Scene) {
        let Elsewhere { declining, evidence, .. } = scene.elsewhere;
        if *declining {
            self.elsewhere = self.since().is_none().then_some(scene.now).or(self.elsewhere);
        } else {
            (self.said, self.elsewhere) = (None, None);
            if self.told.is_some() && evidence.is_some() {
                self.take_back();
            }
        }
        let Some(watch) = &mut self.watch else { return };
        if let Some(carried) = evidence.as_ref().filter(|_| !declining) {
            watch.watching.carry(carried, scene.seconds());
        }
        watch.goes_on(scene);
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
            Seen::Mood(_) => (self.said, self.elsewhere) = (None, None),
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
            Seen::GoesOn => self.go_on(scene),
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
                    Seen::Began | Seen::Step(_) | Seen::Mood(_) | Seen::Refilled | Seen::GoesOn => {
                    }
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
