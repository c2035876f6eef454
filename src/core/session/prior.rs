//! What this animal's earlier sessions say of what is usual for it, step by step.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::rep::{Outcome, Rep};
use super::{MissedBecause, Session};
use crate::decide::Known;
use crate::plan::{Advice, Limits, RewardValue, Side};
use crate::stats::decline::{self, Day, Kind};
use crate::stats::prior::GammaRate;
use crate::stats::rates::Counted;

/// At most this many tries of earlier sessions weigh in on the chance of success.
const TRIES: f64 = 30.0;
/// At most this many measured values are handed on.
const MEASURED: usize = 20;

/// One earlier session in numbers.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct PastSession {
    /// Active seconds.
    pub active_s: f64,
    /// Active seconds until the animal declined, when a nudge said that it did and was not taken back.
    pub declined_s: Option<f64>,
    /// What was done at each step worked on, in order.
    pub steps: Vec<PastStep>,
    /// Rewarded reps on the left and on the right, where said.
    pub sides: [u32; 2],
    /// Rewards.
    pub rewards: u32,
    /// Jackpots among them.
    pub jackpots: u32,
    /// Alarms of a decline that turned out to be none.
    #[serde(default)]
    pub alarms_taken_back: u32,
}

/// Work on one step in an earlier session, up to the first sign of decline.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct PastStep {
    /// Step worked on, counted from 1.
    pub step: u8,
    /// Active seconds.
    pub seconds: f64,
    /// Tries.
    pub tries: u32,
    /// Those that met the criterion.
    pub met: u32,
    /// Rewards.
    pub rewards: u32,
    /// The last answers to the cue, in seconds, oldest first.
    pub answers: Vec<f64>,
    /// The last gaps by what went before: after a miss, after a low, after a high reward.
    pub gaps: [Vec<f64>; 3],
    /// The last holds, in seconds, oldest first.
    pub holds: Vec<f64>,
}

impl PastSession {
    /// A session in numbers. What came after the first sign of decline says nothing of what is
    /// usual and is left out of the steps.
    pub fn of(session: &Session) -> Self {
        PastSession::of_parts(
            session.reps(),
            session.active(),
            session.declining_since(),
            session.alarms_taken_back(),
            session.refills(),
        )
    }

    /// The same, of its tries in order of time (corrections may be laid over them), its active time, since when, in
    /// active time, it declined, and how many alarms of that were taken back,
    /// and when the pouch was filled again, in active time.
    pub fn of_parts(
        reps: &[Rep],
        active: Duration,
        declining_since: Option<Duration>,
        alarms_taken_back: u32,
        refills: &[Duration],
    ) -> Self {
        let fresh_until = declining_since.unwrap_or(active);
        let fresh: Vec<&Rep> = reps.iter().take_while(|rep| rep.active <= fresh_until).collect();
        let mut steps = Vec::new();
        let mut from = Duration::ZERO;
        for run in fresh.chunk_by(|a, b| a.working == b.working) {
            let until = run.last().map_or(from, |rep| rep.active);
            steps.push(PastStep::of(run, from, until, refills));
            from = until;
        }
        let count = |keep: &dyn Fn(&Rep) -> bool| counted(reps.iter().filter(|rep| keep(rep)));
        let on = |side| count(&|rep: &Rep| rep.rewarded() && rep.side == Some(side));
        PastSession {
            active_s: active.as_secs_f64(),
            declined_s: declining_since.map(|since| since.as_secs_f64()),
            steps,
            sides: [on(Side::Left), on(Side::Right)],
            rewards: count(&Rep::rewarded),
            jackpots: count(&|rep: &Rep| rep.paid() == Some(RewardValue::Jackpot)),
            alarms_taken_back,
        }
    }

    /// What is known of a step with its tries taken in.
    fn taken_in(&self, known: Known, advice: &Advice) -> Known {
        let here = self.steps.iter().filter(|past| past.step == known.step);
        let (met, tries) = here.fold((0_u32, 0_u32), |(met, tries), past| {
            (met.saturating_add(past.met), tries.saturating_add(past.tries))
        });
        known.with_counts(met, tries, advice)
    }

    /// The same session in the step numbers of another plan: `onto` has the new number of each step, in order; work
    /// on a step that is there no more says nothing.
    pub fn renumbered(mut self, onto: &[Option<u8>]) -> Self {
        self.steps.retain_mut(|past| {
            let new = onto.get(usize::from(past.step.max(1)) - 1).copied().flatten();
            new.map(|new| past.step = new).is_some()
        });
        self
    }
}

fn counted<'a>(reps: impl Iterator<Item = &'a Rep>) -> u32 {
    u32::try_from(reps.count()).unwrap_or(u32::MAX)
}

impl PastStep {
    fn of(run: &[&Rep], from: Duration, until: Duration, refills: &[Duration]) -> Self {
        let count =
            |keep: &dyn Fn(&Rep) -> bool| counted(run.iter().copied().filter(|rep| keep(rep)));
        let holds: Vec<f64> =
            run.iter().filter_map(|rep| rep.duration).map(|d| d.as_secs_f64()).collect();
        PastStep {
            step: run.first().map_or(1, |rep| rep.working),
            seconds: until.saturating_sub(from).as_secs_f64(),
            tries: count(&|_| true),
            met: count(&Rep::met_criterion),
            rewards: count(&Rep::rewarded),
            answers: last(run.iter().filter_map(|rep| response_time(rep)).collect()),
            gaps: [0, 1, 2].map(|place| last(usual_gaps(run, place, refills).collect())),
            holds: last(holds),
        }
    }
}

impl PastStep {
    /// Its times as the watcher for declining wants them.
    fn day(&self) -> Day {
        let kind = |stream, sort| Kind { stream, sort };
        let answers = self.answers.iter().map(|seconds| (kind(0, 0), *seconds));
        let gaps = self.gaps.iter().enumerate();
        let gaps = gaps.flat_map(|(sort, gaps)| gaps.iter().map(move |s| (kind(1, sort), *s)));
        Day { times: answers.chain(gaps).collect() }
    }
}

fn last(mut values: Vec<f64>) -> Vec<f64> {
    values.drain(..values.len().saturating_sub(MEASURED));
    values
}

/// Seconds from cue to marker. A spoken miss tells when the trainer gave up, not when the animal
/// answered; the end of a limited hold is a time that was at least this long.
pub(crate) fn response_time(rep: &Rep) -> Option<f64> {
    match rep.outcome {
        Outcome::Missed(MissedBecause::Said) => None,
        _ => rep.latency.map(|latency| latency.as_secs_f64()),
    }
}

/// What a gap between tries depends on: a miss before it, a low, a high reward. A jackpot takes so
/// long to eat that the gap after it says nothing.
pub(crate) fn gap_place(before: &Rep) -> Option<usize> {
    match before.paid() {
        None => Some(0),
        Some(RewardValue::Low) => Some(1),
        Some(RewardValue::High) => Some(2),
        Some(RewardValue::Jackpot) => None,
    }
}

/// Seconds from try to try after one kind of try, where the pouch was not filled between.
fn usual_gaps(run: &[&Rep], place: usize, refills: &[Duration]) -> impl Iterator<Item = f64> {
    let refilled = |pair: &[&Rep]| {
        refills.iter().any(|refill| pair[0].active <= *refill && *refill <= pair[1].active)
    };
    run.windows(2)
        .filter(move |pair| gap_place(pair[0]) == Some(place) && !refilled(pair))
        .map(|pair| pair[1].active.saturating_sub(pair[0].active).as_secs_f64())
}

/// What is known before a session begins. [`Prior::default`] knows nothing: the plan's own numbers
/// stand in. It holds numbers only, no names and no dates, and is kept with the session, so that the session stays the
/// same when it is replayed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Prior {
    /// Earlier sessions of this animal with this behaviour, oldest first, in the step numbers of this plan. The record
    /// keeps each of them once, for all sessions that were told of it.
    #[serde(skip)]
    pub sessions: Vec<PastSession>,
    /// Energy of treats already given today, in kcal.
    pub kcal_today: f64,
    /// How long this animal works well, as learnt from earlier sessions.
    pub learnt_length: Option<Duration>,
    /// What is known of each step, from all earlier sessions. Where it is empty the counts of `sessions` stand in.
    pub ladder: Vec<Known>,
    /// Whether the body log says to take it easy: nothing is raised.
    pub easy: bool,
    /// How long and how much, as the next plan said when the session began. Without it the plan's own numbers stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub allowed: Option<Allowed>,
}

/// How long and how much.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Allowed {
    /// Seconds.
    pub seconds: f64,
    /// Rewarded tries: no more than the day's treats allow.
    pub reps: u32,
    /// Energy that treats may bring on the whole day, in kcal, by the latest weight; `None` when the plan does not say
    /// enough.
    pub day_kcal: Option<f64>,
}

/// What is usual at one step; `None` where nothing is known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Usual {
    /// Sessions in which the step was worked on.
    pub sessions: u32,
    /// Rewards a second.
    pub rate: Option<GammaRate>,
    /// Tries that met the criterion, and tries, scaled down to a modest weight.
    pub success: Option<(f64, f64)>,
    /// Times from cue to answer and from try to try.
    pub level: decline::Usual,
    /// The last holds, in seconds.
    pub holds: Vec<f64>,
    /// The longest of them.
    pub longest_hold: Option<f64>,
}

impl Prior {
    /// This many sessions back are looked at: an animal changes.
    pub const SESSIONS: usize = 10;

    /// How long a session goes on, and for how many rewarded tries.
    pub fn planned(&self, limits: &Limits) -> (Duration, u32) {
        let learnt = self.learnt_length.unwrap_or(limits.planned);
        let (length, reps) = match self.allowed {
            Some(Allowed { seconds, reps, .. }) => {
                (Duration::try_from_secs_f64(seconds).unwrap_or(learnt), reps)
            }
            None => (learnt, limits.planned_reps),
        };
        (length.min(limits.planned), reps.min(limits.planned_reps))
    }

    /// What is known of a step.
    pub fn step(&self, step: u8, advice: &Advice) -> Known {
        if let Some(known) = self.ladder.iter().find(|known| known.step == step) {
            return known.clone();
        }
        let counted = if self.ladder.is_empty() { &self.sessions[..] } else { &[] };
        counted.iter().fold(Known::of(step), |known, past| past.taken_in(known, advice))
    }

    /// What is known of each step after these sessions too.
    pub fn after(&self, sessions: &[PastSession], advice: &Advice) -> Vec<Known> {
        let worked_on = sessions.iter().flat_map(|past| past.steps.iter().map(|past| past.step));
        let steps: BTreeSet<u8> =
            self.ladder.iter().map(|known| known.step).chain(worked_on).collect();
        let known = |step: u8| {
            sessions
                .iter()
                .fold(self.step(step, advice), |known, past| past.taken_in(known, advice))
        };
        steps.into_iter().map(known).collect()
    }

    /// What is usual, step by step.
    pub(crate) fn usual(&self) -> BTreeMap<u8, Usual> {
        let recent = &self.sessions[self.sessions.len().saturating_sub(Prior::SESSIONS)..];
        let mut by_step: BTreeMap<u8, Vec<&PastStep>> = BTreeMap::new();
        for past in recent.iter().flat_map(|session| &session.steps) {
            by_step.entry(past.step).or_default().push(past);
        }
        by_step.into_iter().map(|(step, past)| (step, Usual::of(&past))).collect()
    }
}

impl Usual {
    fn of(past: &[&PastStep]) -> Self {
        let counted: Vec<Counted> = past
            .iter()
            .filter(|step| step.seconds > 0.0)
            .map(|step| Counted { count: step.rewards, exposure: step.seconds })
            .collect();
        // The last session counts whole, those before it ever less: a step is being learnt.
        let (mut met, mut tries, mut weight) = (0.0, 0.0, 1.0);
        for step in past.iter().rev() {
            met += weight * f64::from(step.met);
            tries += weight * f64::from(step.tries);
            weight *= 0.6;
        }
        let scale = (TRIES / tries).min(1.0);
        let holds: Vec<f64> = past.iter().flat_map(|step| step.holds.iter().copied()).collect();
        Usual {
            sessions: u32::try_from(past.len()).unwrap_or(u32::MAX),
            rate: GammaRate::from_sessions(&counted).ok(),
            success: (tries > 0.0).then_some((met * scale, tries * scale)),
            level: decline::Usual::of_days(past.iter().map(|step| step.day()), (0.0, 0.0)),
            longest_hold: holds.iter().copied().reduce(f64::max),
            holds: last(holds),
        }
    }
}
