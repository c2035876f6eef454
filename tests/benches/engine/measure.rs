//! False nudges in good work, delay from the true decline, and whether the criterion advice was right.

use hushtally::at::At;
use hushtally::session::{Derived, Event, Logged, NudgeKind, Output, Session, Suggests};

use crate::plain_rules::{Rule, Seen};
use crate::population::{Case, USUAL, replay};

/// Detectors that only say what the plan or the trainer said: no inference, so no budget.
const NO_INFERENCE: [&str; 3] = ["planned end", "pace floor", "state words"];

/// How one rule, at one setting, did over all cases.
#[derive(Debug, Clone)]
pub(crate) struct Score {
    pub(crate) setting: String,
    pub(crate) false_per_hour: f64,
    /// Median seconds from the true decline to the first nudge after it; endless when less than
    /// half of the declines were noticed at all.
    pub(crate) median_delay: f64,
    pub(crate) noticed: f64,
    pub(crate) before_breakdown: f64,
}

/// Adds up one rule.
#[derive(Debug, Clone, Default)]
pub(crate) struct Scorer {
    good_s: f64,
    false_nudges: u32,
    delays: Vec<f64>,
    breakdowns: u32,
    in_time: u32,
}

impl Scorer {
    pub(crate) fn add(&mut self, case: &Case, alarms: impl IntoIterator<Item = f64>) {
        let truth = &case.simulated.truth;
        let ended = truth.ended.as_secs_f64();
        let declined = truth.declined.map_or(f64::INFINITY, At::as_secs_f64);
        self.good_s += declined.min(ended);
        let mut first_true = f64::INFINITY;
        for alarm in alarms {
            if alarm < declined {
                self.false_nudges += 1;
            } else {
                first_true = first_true.min(alarm);
            }
        }
        if declined < ended {
            self.delays.push(first_true - declined);
        }
        if let Some(broke) = truth.broke_down {
            self.breakdowns += 1;
            self.in_time += u32::from(first_true < broke.as_secs_f64());
        }
    }

    /// Adds what another one saw.
    pub(crate) fn absorb(&mut self, other: &Scorer) {
        self.good_s += other.good_s;
        self.false_nudges += other.false_nudges;
        self.delays.extend_from_slice(&other.delays);
        self.breakdowns += other.breakdowns;
        self.in_time += other.in_time;
    }

    pub(crate) fn false_nudges(&self) -> u32 {
        self.false_nudges
    }

    pub(crate) fn score(mut self, setting: String) -> Score {
        self.delays.sort_by(f64::total_cmp);
        let noticed = self.delays.iter().filter(|delay| delay.is_finite()).count();
        Score {
            setting,
            false_per_hour: f64::from(self.false_nudges) * 3600.0 / self.good_s,
            median_delay: self.delays.get(self.delays.len() / 2).copied().unwrap_or(f64::NAN),
            noticed: noticed as f64 / self.delays.len() as f64,
            before_breakdown: f64::from(self.in_time) / f64::from(self.breakdowns),
        }
    }

    pub(crate) fn good_hours(&self) -> f64 {
        self.good_s / 3600.0
    }
}

/// Whether a nudge says that something is going wrong, by inference.
pub(crate) fn warns(nudge: &str, detector: &str) -> bool {
    const WARNINGS: [NudgeKind; 5] = [
        NudgeKind::RateFalling,
        NudgeKind::PayThisOne,
        NudgeKind::StepTooMuch,
        NudgeKind::EndSoon,
        NudgeKind::EndNow,
    ];
    let warning = WARNINGS.iter().any(|warning| warning.name() == nudge);
    warning && !NO_INFERENCE.contains(&detector)
}

/// The nudges that say something is going wrong, by inference: not the planned end.
fn decline_nudges(out: &[Output]) -> Vec<(f64, NudgeKind, String)> {
    out.iter()
        .filter_map(|output| match output {
            Output::Append(Logged {
                at,
                event: Event::Derived(Derived::Nudged { nudge, reason }),
            }) => {
                let warns = warns(nudge.name(), &reason.detector);
                warns.then(|| (at.as_secs_f64(), *nudge, reason.detector.clone()))
            }
            _ => None,
        })
        .collect()
}

/// The nudges of a decline among these: that a step is too hard is another thing, and where a fresh animal succeeds less
/// often than the plan eases below, it is neither a false nudge nor a noticed decline.
pub(crate) fn of_decline(case: &Case, out: &[Output]) -> Vec<(f64, NudgeKind, String)> {
    let ease_below = case.plan.advice.ease_below;
    let too_hard = |at| case.simulated.habit_at(At::from_secs_f64(at)) < ease_below;
    let mut nudges = decline_nudges(out);
    nudges.retain(|(at, nudge, _)| *nudge != NudgeKind::StepTooMuch || !too_hard(*at));
    nudges
}

/// The engine over all cases, at this many false nudges an hour.
pub(crate) fn ours(cases: &[Case], budget: f64, with_prior: bool) -> Scorer {
    let mut scorer = Scorer::default();
    for case in cases {
        scorer.add(case, our_alarms(case, budget, with_prior));
    }
    scorer
}

/// When the engine speaks of a decline in this session, in seconds.
pub(crate) fn our_alarms(case: &Case, budget: f64, with_prior: bool) -> Vec<f64> {
    let prior = if with_prior { case.prior.clone() } else { Default::default() };
    let (_, out) = replay(&case.plan(budget), prior, &case.simulated);
    of_decline(case, &out).into_iter().map(|(at, ..)| at).collect()
}

/// Which detectors spoke falsely, and which noticed first.
pub(crate) fn by_detector<'a>(
    cases: impl IntoIterator<Item = &'a Case>,
    with_prior: bool,
) -> Vec<(String, u32, u32)> {
    let mut counts = std::collections::BTreeMap::<String, (u32, u32)>::new();
    for case in cases {
        let prior = if with_prior { case.prior.clone() } else { Default::default() };
        let (_, out) = replay(&case.plan(USUAL), prior, &case.simulated);
        let declined = case.simulated.truth.declined.map_or(f64::INFINITY, At::as_secs_f64);
        let mut noticed = false;
        for (at, _, detector) in of_decline(case, &out) {
            let count = counts.entry(detector).or_default();
            if at < declined {
                count.0 += 1;
            } else if !std::mem::replace(&mut noticed, true) {
                count.1 += 1;
            }
        }
    }
    counts.into_iter().map(|(name, (wrong, first))| (name, wrong, first)).collect()
}

/// A rule of thumb over all cases.
pub(crate) fn plain(rule: Rule, cases: &[(Seen, &Case)]) -> Scorer {
    let mut scorer = Scorer::default();
    for (seen, case) in cases {
        scorer.add(case, rule.alarms(seen));
    }
    scorer
}

/// The median delay of a family of rules at this false-nudge rate: straight between the settings on
/// its front, which is kind to coarse rules. Endless when no setting is so quiet.
pub(crate) fn delay_at(front: &[Score], false_per_hour: f64) -> f64 {
    let quiet = front.iter().filter(|score| score.false_per_hour <= false_per_hour);
    let Some(quiet) = quiet.min_by(|a, b| a.median_delay.total_cmp(&b.median_delay)) else {
        return f64::INFINITY;
    };
    front
        .iter()
        .filter(|loud| {
            loud.false_per_hour > false_per_hour && loud.median_delay < quiet.median_delay
        })
        .map(|loud| {
            let part = (false_per_hour - quiet.false_per_hour)
                / (loud.false_per_hour - quiet.false_per_hour);
            quiet.median_delay + part * (loud.median_delay - quiet.median_delay)
        })
        .fold(quiet.median_delay, f64::min)
}

/// What to do with the criterion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Verdict {
    Ease,
    Hold,
    Raise,
}

/// Shares of advice: right, raised too early, raised too late, other.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct AdviceScore {
    pub(crate) right: f64,
    pub(crate) early: f64,
    pub(crate) late: f64,
    pub(crate) other: f64,
}

/// Compares advice at the planned end with the truth: raise when a fresh animal succeeds at the plan's
/// raising threshold or above, ease below its easing threshold.
pub(crate) fn advice(cases: &[Case], rule: impl Fn(&Session) -> Verdict) -> AdviceScore {
    let mut score = AdviceScore::default();
    for case in cases {
        let plan = case.plan(USUAL);
        let cut = At::from_secs_f64(plan.limits.planned.as_secs_f64());
        let mut session = Session::with_prior(plan.clone(), case.prior.clone());
        for (at, input) in case.simulated.inputs.iter().filter(|(at, _)| *at <= cut) {
            let _ = session.handle(*at, input.clone());
        }
        let _ = session.close(cut);
        let habit = case.simulated.habit_at(cut);
        let truth = if habit >= plan.advice.raise_at {
            Verdict::Raise
        } else if habit < plan.advice.ease_below {
            Verdict::Ease
        } else {
            Verdict::Hold
        };
        let given = rule(&session);
        let counter = match (given, truth) {
            (given, truth) if given == truth => &mut score.right,
            (Verdict::Raise, _) => &mut score.early,
            (_, Verdict::Raise) => &mut score.late,
            _ => &mut score.other,
        };
        *counter += 1.0 / cases.len() as f64;
    }
    score
}

/// Our advice for next time.
pub(crate) fn our_advice(session: &Session) -> Verdict {
    match session.advice()[0].suggests {
        Suggests::Raise { .. } | Suggests::Generalise => Verdict::Raise,
        Suggests::Ease { .. } => Verdict::Ease,
        _ => Verdict::Hold,
    }
}

/// "8 of 10": raise at eight of the last ten, ease below five.
pub(crate) fn eight_of_ten(session: &Session) -> Verdict {
    let last = session.reps().iter().rev().take(10);
    match last.filter(|rep| rep.met_criterion()).count() {
        8.. => Verdict::Raise,
        5..8 => Verdict::Hold,
        _ => Verdict::Ease,
    }
}

/// "Three misses": ease after three misses in a row anywhere in the last ten, else raise at eight.
pub(crate) fn three_misses(session: &Session) -> Verdict {
    let reps = session.reps();
    let last = &reps[reps.len().saturating_sub(10)..];
    let in_a_row = last.windows(3).any(|three| three.iter().all(|rep| !rep.met_criterion()));
    if in_a_row { Verdict::Ease } else { eight_of_ten(session).max(Verdict::Hold) }
}
