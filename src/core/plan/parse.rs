//! TOML text to a checked [`Plan`]; every error names file, line, what was found and what was expected.

mod chain;
mod check;
mod words_table;

use std::time::Duration;

use serde::Deserialize;
use toml::Spanned;

pub use check::{PlanError, PlanErrors};
pub use words_table::words;

use super::{
    Advice, Body, BodyKind, Dimension, Limits, Plan, RewardValue, Rewards, Step, Training, Treat,
    Words,
};
use chain::{RawLink, RawPrompts, check_chain};
use check::Checker;
use words_table::{RawWords, read_words};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPlan {
    animal: Spanned<String>,
    species: Spanned<String>,
    behaviour: Spanned<String>,
    note: Option<String>,
    model: Option<String>,
    start_step: Option<Spanned<u8>>,
    step: Option<Spanned<Vec<RawStep>>>,
    training: Option<Spanned<Training>>,
    links: Option<Spanned<Vec<RawLink>>>,
    prompts: Option<Spanned<RawPrompts>>,
    #[serde(default)]
    rewards: RawRewards,
    #[serde(default)]
    limits: RawLimits,
    #[serde(default)]
    advice: RawAdvice,
    body: Option<RawBody>,
    #[serde(default)]
    look_first: bool,
    #[serde(default)]
    words: RawWords,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawStep {
    name: Spanned<String>,
    #[serde(default)]
    dimension: Dimension,
    goal: Option<Spanned<f64>>,
    earns: Option<RewardValue>,
    id: Option<String>,
    #[serde(default)]
    was: Vec<String>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RawRewards {
    low: Option<RawTreat>,
    high: Option<RawTreat>,
    jackpot: Option<RawTreat>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTreat {
    what: String,
    pieces: Option<Spanned<u32>>,
    kcal_per_piece: Option<Spanned<f64>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RawLimits {
    planned_minutes: Option<Spanned<f64>>,
    planned_reps: Option<Spanned<u32>>,
    rate_floor_per_min: Option<Spanned<f64>>,
    rate_window_s: Option<Spanned<f64>>,
    limited_hold_s: Option<Spanned<f64>>,
    detail_window_s: Option<Spanned<f64>>,
    false_nudges_per_hour: Option<Spanned<f64>>,
    nudge_gap_s: Option<Spanned<f64>>,
    treats_laid_out: Option<u32>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RawAdvice {
    raise_at: Option<Spanned<f64>>,
    ease_below: Option<Spanned<f64>>,
    tries: Option<Spanned<u32>>,
    misses_in_a_row: Option<Spanned<u32>>,
    settle_tries: Option<u32>,
    pay_share: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawBody {
    weight_g: Spanned<f64>,
    kind: BodyKind,
    activity: Option<Spanned<f64>>,
    treat_share: Option<Spanned<f64>>,
    lowest_g: Option<Spanned<f64>>,
    highest_g: Option<Spanned<f64>>,
}

/// Reads and checks a whole plan. See [`Plan::parse`].
pub(super) fn plan(file: &str, text: &str) -> Result<Plan, PlanErrors> {
    let mut check = Checker::new(file, text);
    let raw: RawPlan = match toml::from_str(text) {
        Ok(raw) => raw,
        Err(error) => return Err(check.no_toml(&error)),
    };
    let prompt_words = raw.prompts.as_ref().map(|raw| raw.get_ref().levels.clone());
    let beside = raw.step.is_some();
    let chain = check_chain(&mut check, beside, raw.training, raw.links, raw.prompts);
    let steps: Vec<Step> = match (raw.step, &chain) {
        (_, Some(chain)) => chain.steps(raw.behaviour.get_ref().trim()),
        (Some(step), None) => check_steps(&mut check, step),
        (None, None) => {
            check.complain(
                &(0..0),
                "no [[step]]",
                "a [[step]] for each step, or [[links]] of a chain",
            );
            Vec::new()
        }
    };
    let start_step = raw.start_step.map_or(1, |start| {
        let (span, start) = (start.span(), start.into_inner());
        if !steps.is_empty() && (start == 0 || usize::from(start) > steps.len()) {
            check.complain(&span, start.to_string(), &format!("a step from 1 to {}", steps.len()));
        }
        start
    });
    let steps_span = raw.words.steps_span();
    let prompt_words = prompt_words.unwrap_or_default();
    let mut words = read_words(&mut check, raw.words, Words::english(), prompt_words);
    let numbers = chain.as_ref().map_or(steps.len(), |chain| chain.links.len());
    words.keep_steps(u8::try_from(numbers).unwrap_or(u8::MAX));
    if let Some(chain) = &chain {
        chain::check_numbers(&mut check, chain, &words, &steps_span);
        words.set_numbers_are_links(true);
    }
    let plan = Plan {
        animal: check.filled(raw.animal, "the animal's name"),
        species: check.filled(raw.species, "a species"),
        behaviour: check.filled(raw.behaviour, "the goal behaviour"),
        note: raw.note,
        model: raw.model,
        steps,
        chain,
        start_step,
        rewards: check_rewards(&mut check, raw.rewards),
        limits: check_limits(&mut check, raw.limits),
        advice: check_advice(&mut check, raw.advice),
        body: raw.body.map(|body| check_body(&mut check, body)),
        look_first: raw.look_first,
        words,
    };
    check.finish(plan)
}

fn check_steps(check: &mut Checker, raw: Spanned<Vec<RawStep>>) -> Vec<Step> {
    let span = raw.span();
    let steps: Vec<Step> =
        raw.into_inner().into_iter().map(|step| check_step(check, step)).collect();
    if steps.is_empty() || steps.len() > 50 {
        check.complain(&span, format!("{} steps", steps.len()), "1 to 50 steps");
    }
    steps
}

fn check_step(check: &mut Checker, raw: RawStep) -> Step {
    Step {
        name: check.filled(raw.name, "what the animal does at this step"),
        dimension: raw.dimension,
        goal: raw
            .goal
            .map(|goal| check.number(Some(goal), 1.0, 0.0..1e6, "a goal of the step's dimension")),
        earns: raw.earns,
        id: raw.id,
        was: raw.was,
    }
}

fn check_treat(check: &mut Checker, raw: Option<RawTreat>) -> Treat {
    let Some(raw) = raw else { return Treat::default() };
    Treat {
        what: raw.what,
        pieces: check.count(raw.pieces, 1, "pieces given at once"),
        kcal_per_piece: raw
            .kcal_per_piece
            .map(|kcal| check.number(Some(kcal), 0.0, 0.0..10_000.0, "kcal in one piece")),
    }
}

fn check_rewards(check: &mut Checker, raw: RawRewards) -> Rewards {
    Rewards {
        low: check_treat(check, raw.low),
        high: check_treat(check, raw.high),
        jackpot: check_treat(check, raw.jackpot),
    }
}

fn check_limits(check: &mut Checker, raw: RawLimits) -> Limits {
    let usual = Limits::default();
    let minutes = check.number(
        raw.planned_minutes,
        usual.planned.as_secs_f64() / 60.0,
        0.1..600.0,
        "planned minutes",
    );
    Limits {
        planned: Duration::from_secs_f64(minutes * 60.0),
        planned_reps: check.count(raw.planned_reps, usual.planned_reps, "planned rewarded tries"),
        rate_floor_per_min: check.number(
            raw.rate_floor_per_min,
            usual.rate_floor_per_min,
            0.01..120.0,
            "rewards a minute",
        ),
        rate_window: check.span_of_time(
            raw.rate_window_s,
            usual.rate_window,
            1.0..3600.0,
            "seconds",
        ),
        limited_hold: raw.limited_hold_s.map(|hold| {
            check.span_of_time(Some(hold), Duration::from_secs(5), 0.1..3600.0, "seconds")
        }),
        detail_window: check.span_of_time(
            raw.detail_window_s,
            usual.detail_window,
            0.1..60.0,
            "seconds",
        ),
        false_nudges_per_hour: check.number(
            raw.false_nudges_per_hour,
            usual.false_nudges_per_hour,
            0.01..60.0,
            "false nudges an hour",
        ),
        nudge_gap: check.span_of_time(raw.nudge_gap_s, usual.nudge_gap, 0.0..600.0, "seconds"),
        treats_laid_out: raw.treats_laid_out,
    }
}

fn check_advice(check: &mut Checker, raw: RawAdvice) -> Advice {
    let usual = Advice::default();
    let ease_span = raw.ease_below.as_ref().map(Spanned::span);
    let advice = Advice {
        raise_at: check.number(raw.raise_at, usual.raise_at, 0.05..1.000_001, "a share"),
        ease_below: check.number(raw.ease_below, usual.ease_below, 0.0..1.0, "a share"),
        tries: check.count(raw.tries, usual.tries, "a number of tries"),
        misses_in_a_row: check.count(
            raw.misses_in_a_row,
            usual.misses_in_a_row,
            "a number of misses",
        ),
        settle_tries: raw.settle_tries.unwrap_or(usual.settle_tries),
        pay_share: check.number(raw.pay_share, usual.pay_share, 0.05..1.0, "a share"),
    };
    if advice.ease_below >= advice.raise_at {
        check.complain(
            &ease_span.unwrap_or(0..0),
            format!("ease_below {} with raise_at {}", advice.ease_below, advice.raise_at),
            "ease_below smaller than raise_at",
        );
    }
    advice
}

fn check_body(check: &mut Checker, raw: RawBody) -> Body {
    let mut bound = |bound: Option<Spanned<f64>>| {
        bound.map(|bound| check.number(Some(bound), 1.0, 0.1..1e7, "a weight in grams"))
    };
    let (lowest_g, highest_g) = (bound(raw.lowest_g), bound(raw.highest_g));
    Body {
        lowest_g,
        highest_g,
        weight_g: check.number(Some(raw.weight_g), 1.0, 0.1..1e7, "a weight in grams"),
        kind: raw.kind,
        activity: check.number(
            raw.activity,
            raw.kind.usual_activity(),
            0.5..10.0,
            "an activity factor",
        ),
        treat_share: check.number(raw.treat_share, 0.1, 0.0..1.0, "a share of the day's energy"),
    }
}
