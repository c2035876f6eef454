//! What to do next: one session's worth of advice, each part with its reason.

use jiff::civil::Date;
use serde::Serialize;

use super::body::{Body, Train};
use super::change::{self, Change};
use super::course::Course;
use super::length::{self, Length};
use super::record::{self, FallBack, StepRecord};
use super::treats::{self, Treats};
use super::{AnimalHistory, CUSTOM, Ladder, reason, sides, standing, together};
use crate::decide::{self, Decision, Says};
use crate::plan::{Dimension, Plan, RewardValue};
use crate::sentences::{Sentences, because, says};
use crate::session::Reason;

/// The next session.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Next {
    /// The animal.
    pub animal: String,
    /// The behaviour.
    pub behaviour: String,
    /// Why this one.
    pub chosen: Reason,
    /// Whether to train, as far as the body log can tell.
    pub train: Train,
    /// What the body log warns of.
    pub alarms: Vec<super::body::Alarm>,
    /// The step to warm up on; `None` when the work is on the first.
    pub warm_up: Option<FallBack>,
    /// The step to work on.
    pub work: Work,
    /// What is decided about the step that was worked on.
    pub decision: Decision,
    /// What each reward value is and what earns it.
    pub earns: Vec<Earns>,
    /// What to lay out.
    pub treats: Treats,
    /// How long.
    pub length: Length,
    /// Change the plan first.
    pub change: Option<Change>,
    /// Learnt steps and other behaviours that rested for long.
    pub due: Vec<Due>,
    /// What to watch.
    pub watch: Vec<Tip>,
    /// What to film.
    pub film: Vec<Tip>,
}

/// Something due for revision.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Due {
    /// The step or behaviour.
    pub name: String,
    /// Days it rested.
    pub days: i32,
}

/// The step to work on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Work {
    /// Its number.
    pub step: u8,
    /// Its name.
    pub name: String,
    /// Against the last session.
    pub moves: Moves,
    /// Why.
    pub reason: Reason,
}

/// Where the step goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Moves {
    /// The first session.
    Begin,
    /// One up.
    Up,
    /// The same.
    Stay,
    /// One back.
    Back,
}

/// What a reward value is, and what earns it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Earns {
    /// Low, high or jackpot.
    pub value: RewardValue,
    /// The treat, in words.
    pub what: String,
    /// Pieces at once.
    pub pieces: u32,
    /// What earns it.
    pub earned_by: String,
}

/// Something to look out for, and why.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tip {
    /// In words.
    pub says: String,
    /// Why.
    pub reason: Reason,
}

/// Behaviours that were trained within this many days of the latest session take turns.
const IN_TURN_DAYS: i32 = 28;

/// The behaviour whose turn it is: of those trained lately, the one that waited longest. `None` without any
/// session.
pub fn behaviour(history: &AnimalHistory) -> Option<&str> {
    let latest = history.sessions.last()?.day;
    let lately = |name: &&str| {
        let last = history.of(name).next_back().map(|session| session.day);
        last.and_then(|last| latest.since(last).ok()).is_some_and(|s| s.get_days() <= IN_TURN_DAYS)
    };
    // Latest first, so that the last one is the one that waited longest.
    history.behaviours().into_iter().rfind(lately)
}

fn chosen(history: &AnimalHistory, plan: &Plan, today: Date) -> Reason {
    let turn = behaviour(history);
    let days =
        history.of(&plan.behaviour).next_back().map(|session| days_since(session.day, today));
    let says = match (turn, days) {
        (_, None) => "new",
        (Some(turn), Some(_)) if turn == plan.behaviour && history.behaviours().len() > 1 => {
            "waited"
        }
        (Some(turn), Some(_)) if turn != plan.behaviour => "asked",
        _ => "only",
    };
    let words = [("says", says), ("turn", turn.unwrap_or_default())];
    let inputs = [("days since its latest session", days.map_or(f64::NAN, f64::from), "days")];
    let method = "behaviours of the latest four weeks in turn";
    reason("behaviour", ("chosen", &words), &inputs, method, CUSTOM)
}

fn days_since(day: Date, today: Date) -> i32 {
    today.since(day).map_or(0, |span| span.get_days())
}

fn due(
    history: &AnimalHistory,
    behaviour: &str,
    records: &[StepRecord],
    work: &Work,
    today: Date,
) -> Vec<Due> {
    let steps =
        records.iter().filter(|record| record.due && record.step != work.step).map(|record| Due {
            name: record.name.clone(),
            days: record.unpractised_days.unwrap_or(0),
        });
    let others =
        history.behaviours().into_iter().filter(|name| *name != behaviour).filter_map(|name| {
            let last = history.of(name).next_back()?.day;
            Some(Due { name: name.to_owned(), days: days_since(last, today) })
        });
    steps.chain(others.filter(|due| due.days >= record::REVISE_AFTER_DAYS)).collect()
}

/// Plans the next session of the plan's behaviour, as of `today`.
pub fn plan(history: &AnimalHistory, plan: &Plan, body: &Body, today: Date) -> Next {
    let present = Ladder::of(0, plan);
    let course = Course::new(history, &plan.behaviour, &present);
    let records = record::steps(&course, today, plan.advice.raise_at);
    let (work, decision) = work(&course, plan, body.train, today);
    let mut alarms = body.alarms.clone();
    alarms.extend(together::look(&course, plan, body));
    let (length, treats) = how_much(history, plan, &course, body, today);
    Next {
        animal: history.animal.clone(),
        behaviour: plan.behaviour.clone(),
        train: body.train,
        alarms,
        warm_up: record::fall_back(&records, work.step),
        earns: earns(plan, work.step),
        treats,
        change: course
            .working()
            .and_then(|step| change::advise(&course, step, &plan.advice, today))
            .filter(|_| decision.says != Says::TryFirst),
        due: due(history, &plan.behaviour, &records, &work, today),
        chosen: chosen(history, plan, today),
        watch: watch(&course, &work, body, &length),
        film: film(&course, &work, plan),
        length,
        work,
        decision,
    }
}

/// How long to go on and what to lay out, as of `today`, with one number of rewarded tries for everybody who asks: the
/// next plan, a session that begins, its recap.
pub fn how_much(
    history: &AnimalHistory,
    plan: &Plan,
    course: &Course,
    body: &Body,
    today: Date,
) -> (Length, Treats) {
    let mut length = length::advise(history, &plan.behaviour, &plan.limits);
    if body.train == Train::Less {
        length.planned_s /= 2.0;
        length.planned_reps = (length.planned_reps / 2).max(1);
        length.reason.because =
            because("half_as_long", &[], &[("else_so", &length.reason.because)]);
    }
    let spent = treats::given_on(history, today);
    let treats = treats::lay_out(plan, course, length.planned_reps, spent, body.latest_g);
    length.planned_reps = length.planned_reps.min(treats.reps);
    (length, treats)
}

/// The step that a session of the plan's behaviour works on, and so begins at, as of `today`. `train` is what the body
/// log says.
pub fn work_on(history: &AnimalHistory, plan: &Plan, train: Train, today: Date) -> Work {
    let present = Ladder::of(0, plan);
    work(&Course::new(history, &plan.behaviour, &present), plan, train, today).0
}

fn work(course: &Course, plan: &Plan, train: Train, today: Date) -> (Work, Decision) {
    let working = course.working();
    let step = working.unwrap_or(plan.start_step);
    let known = standing::step(course, step, &plan.advice, today);
    let decision = decide::decide(plan, &known, train != Train::AsPlanned);
    let tries = course.sessions.iter().flat_map(|trained| &trained.tries);
    let links = tries.map(|one| (one.working.unwrap_or(0), one.was.links));
    let decision = decision.with_link(plan, links);
    let moves = match decision.to {
        _ if working.is_none() => Moves::Begin,
        to if to > decision.step => Moves::Up,
        to if to < decision.step => Moves::Back,
        _ => Moves::Stay,
    };
    let (step, reason) = (decision.to, decision.reason.clone());
    (Work { step, name: plan.step(step).name.clone(), moves, reason }, decision)
}

fn earns(plan: &Plan, working: u8) -> Vec<Earns> {
    let name = |step: u8| plan.step(step).name.as_str();
    let by = |value| {
        let (what, name) = match value {
            RewardValue::Low if working > 1 => ("lesser_than", name(working - 1)),
            RewardValue::Low => ("lesser", ""),
            RewardValue::High => ("step", name(working)),
            RewardValue::Jackpot if usize::from(working) < plan.steps.len() => {
                ("first", name(working + 1))
            }
            RewardValue::Jackpot => ("best", ""),
        };
        says("earned_by", &[], &[("what", what), ("name", name)])
    };
    [RewardValue::Low, RewardValue::High, RewardValue::Jackpot]
        .map(|value| {
            let treat = plan.rewards.of(value);
            Earns { value, what: treat.what.clone(), pieces: treat.pieces, earned_by: by(value) }
        })
        .into()
}

fn watch(course: &Course, work: &Work, body: &Body, length: &Length) -> Vec<Tip> {
    let mut tips = Vec::new();
    if let Some(days) = body.weighed_days_ago.filter(|days| *days >= treats::WEIGH_AGAIN_DAYS) {
        let says = Sentences::english().weighed_ago(days);
        let inputs = [("days since the latest weighing", f64::from(days), "days")];
        let method = "once in four weeks";
        let why = reason("weighed", ("weighed", &[]), &inputs, method, CUSTOM);
        tips.push(Tip { says, reason: why });
    }
    let recent = || course.sessions.iter().rev().take(5);
    if let Some(sides) = sides::uneven(course, body.well) {
        let says = Sentences::english().sides(sides.left, sides.right);
        tips.push(Tip { says, reason: sides.reason });
    }
    if let Some(lately) =
        length.lately.filter(|lately| 2.0 * lately.declined > lately.sessions as f64)
    {
        let inputs = [
            ("declined", lately.declined.round(), "sessions"),
            ("sessions", lately.sessions as f64, ""),
        ];
        let method = "looked back at, as for how long to go on";
        let why = reason("declines", ("declines", &[]), &inputs, method, CUSTOM);
        tips.push(Tip { says: says("watch_decline", &[], &[]), reason: why });
    }
    let ended_badly = recent().filter(|trained| !trained.session.ended_well).count();
    if ended_badly > 0 && course.sessions.last().is_some_and(|trained| !trained.session.ended_well)
    {
        let why = reason("ends", ("ended_on_a_miss", &[]), &[], "last try", CUSTOM);
        tips.push(Tip { says: says("watch_end", &[], &[]), reason: why });
    }
    if work.moves == Moves::Up {
        let source = "Pryor, Don't Shoot the Dog, chapter 2 (clickertraining.com/node/299)";
        let method = "one element at a time";
        let why = reason("slips", ("slips", &[]), &[], method, source);
        tips.push(Tip { says: says("watch_slips", &[], &[]), reason: why });
    }
    tips
}

fn film(course: &Course, work: &Work, plan: &Plan) -> Vec<Tip> {
    let unsure: u32 =
        course.sessions.iter().rev().take(3).map(|trained| trained.session.unsure).sum();
    let mut tips = Vec::new();
    if unsure >= 3 {
        let inputs = [("in doubt", f64::from(unsure), "tags")];
        let says = says("film_all", &[], &[("name", &work.name)]);
        tips.push(Tip {
            says,
            reason: reason("film", ("in_doubt", &[]), &inputs, "count", CUSTOM),
        });
    } else if work.moves != Moves::Stay && plan.step(work.step).dimension == Dimension::Form {
        let says = says("film_first", &[], &[("name", &work.name)]);
        let method = "a new step of form";
        let why = reason("film", ("new_form", &[]), &[], method, CUSTOM);
        tips.push(Tip { says, reason: why });
    }
    tips
}
