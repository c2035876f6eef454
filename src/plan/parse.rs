//! TOML text to a checked [`Plan`]; every error names file, line, what was found and what was expected.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::Range;
use std::time::Duration;

use serde::Deserialize;
use toml::Spanned;

use super::{
    Advice, Body, BodyKind, Command, Dimension, Limits, MarkerSound, Mood, Plan, RewardValue,
    Rewards, Role, Side, Step, Treat, Words,
};

/// One problem in a plan file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError {
    /// The file as the user named it.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}, line {}: found {}; expected {}",
            self.file, self.line, self.found, self.expected
        )
    }
}

/// Every problem found in a plan file, in the order of its lines. Never empty.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct PlanErrors(pub Vec<PlanError>);

impl fmt::Display for PlanErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        Ok(())
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPlan {
    animal: Spanned<String>,
    species: Spanned<String>,
    behaviour: Spanned<String>,
    note: Option<String>,
    model: Option<String>,
    start_step: Option<Spanned<u8>>,
    step: Spanned<Vec<RawStep>>,
    #[serde(default)]
    rewards: RawRewards,
    #[serde(default)]
    limits: RawLimits,
    #[serde(default)]
    advice: RawAdvice,
    body: Option<RawBody>,
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
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Phrases {
    One(String),
    Many(Vec<String>),
}

type SpannedPhrases = Option<Spanned<Phrases>>;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct RawWords {
    attention: SpannedPhrases,
    marker: SpannedPhrases,
    miss: SpannedPhrases,
    steps: Option<Spanned<Vec<Phrases>>>,
    low: SpannedPhrases,
    high: SpannedPhrases,
    jackpot: SpannedPhrases,
    left: SpannedPhrases,
    right: SpannedPhrases,
    keen: SpannedPhrases,
    calm: SpannedPhrases,
    worried: SpannedPhrases,
    tired: SpannedPhrases,
    cue: SpannedPhrases,
    hold_start: SpannedPhrases,
    take_back: SpannedPhrases,
    change: SpannedPhrases,
    marker_sounds: Option<BTreeSet<MarkerSound>>,
    commands: BTreeMap<Command, Spanned<Phrases>>,
    own: BTreeMap<String, Spanned<Phrases>>,
}

/// Collects problems with their lines.
struct Checker<'a> {
    file: &'a str,
    text: &'a str,
    errors: Vec<PlanError>,
}

impl Checker<'_> {
    fn line_of(&self, span: &Range<usize>) -> usize {
        let before = &self.text.as_bytes()[..span.start.min(self.text.len())];
        1 + before.iter().filter(|byte| **byte == b'\n').count()
    }

    fn complain(&mut self, span: &Range<usize>, found: impl Into<String>, expected: &str) {
        let line = self.line_of(span);
        self.errors.push(PlanError {
            file: self.file.to_owned(),
            line,
            found: found.into(),
            expected: expected.to_owned(),
        });
    }

    fn syntax(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let message = error.message().trim();
        let (found, expected) =
            message.split_once(", expected ").unwrap_or((message, "a plan in TOML"));
        self.complain(&span, found, expected);
    }

    fn filled(&mut self, text: Spanned<String>, what: &str) -> String {
        let span = text.span();
        let text = text.into_inner();
        if text.trim().is_empty() {
            self.complain(&span, "an empty text", what);
        }
        text.trim().to_owned()
    }

    /// A number within bounds, or `default` when it is not given.
    fn number(
        &mut self,
        value: Option<Spanned<f64>>,
        default: f64,
        bounds: Range<f64>,
        what: &str,
    ) -> f64 {
        let Some(value) = value else { return default };
        let (span, value) = (value.span(), value.into_inner());
        if bounds.contains(&value) {
            value
        } else {
            let expected = format!("{what}, from {} to below {}", bounds.start, bounds.end);
            self.complain(&span, value.to_string(), &expected);
            default
        }
    }

    fn count(&mut self, value: Option<Spanned<u32>>, default: u32, what: &str) -> u32 {
        let Some(value) = value else { return default };
        let (span, value) = (value.span(), value.into_inner());
        if value == 0 || value > 100_000 {
            self.complain(&span, value.to_string(), &format!("{what}, at least 1"));
            return default;
        }
        value
    }

    fn span_of_time(
        &mut self,
        value: Option<Spanned<f64>>,
        default: Duration,
        bounds: Range<f64>,
        what: &str,
    ) -> Duration {
        Duration::from_secs_f64(self.number(value, default.as_secs_f64(), bounds, what))
    }

    fn finish<T>(mut self, value: T) -> Result<T, PlanErrors> {
        if self.errors.is_empty() {
            return Ok(value);
        }
        self.errors.sort_by_key(|error| error.line);
        Err(PlanErrors(self.errors))
    }
}

/// Reads and checks a whole plan. See [`Plan::parse`].
pub(super) fn plan(file: &str, text: &str) -> Result<Plan, PlanErrors> {
    let mut check = Checker { file, text, errors: Vec::new() };
    let raw: RawPlan = match toml::from_str(text) {
        Ok(raw) => raw,
        Err(error) => {
            check.syntax(&error);
            return Err(PlanErrors(check.errors));
        }
    };
    let steps_span = raw.step.span();
    let steps: Vec<Step> =
        raw.step.into_inner().into_iter().map(|step| check_step(&mut check, step)).collect();
    if steps.is_empty() || steps.len() > 50 {
        check.complain(&steps_span, format!("{} steps", steps.len()), "1 to 50 steps");
    }
    let start_step = raw.start_step.map_or(1, |start| {
        let (span, start) = (start.span(), start.into_inner());
        if start == 0 || usize::from(start) > steps.len() {
            check.complain(&span, start.to_string(), &format!("a step from 1 to {}", steps.len()));
        }
        start
    });
    let mut words = read_words(&mut check, raw.words, Words::english());
    words.keep_steps(u8::try_from(steps.len()).unwrap_or(u8::MAX));
    let plan = Plan {
        animal: check.filled(raw.animal, "the animal's name"),
        species: check.filled(raw.species, "a species"),
        behaviour: check.filled(raw.behaviour, "the goal behaviour"),
        note: raw.note,
        model: raw.model,
        steps,
        start_step,
        rewards: check_rewards(&mut check, raw.rewards),
        limits: check_limits(&mut check, raw.limits),
        advice: check_advice(&mut check, raw.advice),
        body: raw.body.map(|body| check_body(&mut check, body)),
        words,
    };
    check.finish(plan)
}

/// Reads a table of words (the `[words]` part of a plan, as a file of its own) on top of `base`.
///
/// # Errors
/// Every problem found, with file and line.
pub fn words(file: &str, text: &str, base: Words) -> Result<Words, PlanErrors> {
    let mut check = Checker { file, text, errors: Vec::new() };
    match toml::from_str::<RawWords>(text) {
        Ok(raw) => {
            let words = read_words(&mut check, raw, base);
            check.finish(words)
        }
        Err(error) => {
            check.syntax(&error);
            Err(PlanErrors(check.errors))
        }
    }
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
        planned_reps: check.count(raw.planned_reps, usual.planned_reps, "planned reps"),
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
    Body {
        weight_g: check.number(Some(raw.weight_g), 1.0, 0.1..1e7, "a weight in grams"),
        kind: raw.kind,
        activity: check.number(raw.activity, 1.5, 0.5..10.0, "an activity factor"),
        treat_share: check.number(raw.treat_share, 0.1, 0.0..1.0, "a share of the day's energy"),
    }
}

fn tidy(phrase: &str) -> String {
    phrase.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}

fn read_words(check: &mut Checker, raw: RawWords, base: Words) -> Words {
    let mut words = base;
    if let Some(sounds) = raw.marker_sounds {
        words.set_marker_sounds(sounds);
    }
    let mut place: BTreeMap<Role, Range<usize>> = BTreeMap::new();
    let mut set = |words: &mut Words, role: Role, phrases: Phrases, span: Range<usize>| {
        let phrases = match phrases {
            Phrases::One(phrase) => vec![phrase],
            Phrases::Many(phrases) => phrases,
        };
        let phrases: Vec<String> = phrases.iter().map(|phrase| tidy(phrase)).collect();
        place.insert(role.clone(), span);
        words.set(role, phrases.into_iter().filter(|phrase| !phrase.is_empty()).collect());
    };
    let fixed = [
        (Role::Attention, raw.attention),
        (Role::Marker, raw.marker),
        (Role::Miss, raw.miss),
        (Role::Value(RewardValue::Low), raw.low),
        (Role::Value(RewardValue::High), raw.high),
        (Role::Value(RewardValue::Jackpot), raw.jackpot),
        (Role::Side(Side::Left), raw.left),
        (Role::Side(Side::Right), raw.right),
        (Role::Mood(Mood::Keen), raw.keen),
        (Role::Mood(Mood::Calm), raw.calm),
        (Role::Mood(Mood::Worried), raw.worried),
        (Role::Mood(Mood::Tired), raw.tired),
        (Role::Cue, raw.cue),
        (Role::HoldStart, raw.hold_start),
        (Role::TakeBack, raw.take_back),
        (Role::Change, raw.change),
    ];
    for (role, phrases) in fixed {
        if let Some(phrases) = phrases {
            let span = phrases.span();
            set(&mut words, role, phrases.into_inner(), span);
        }
    }
    if let Some(steps) = raw.steps {
        let span = steps.span();
        words.keep_steps(0);
        for (number, phrases) in (1..=u8::MAX).zip(steps.into_inner()) {
            set(&mut words, Role::Step(number), phrases, span.clone());
        }
    }
    for (command, phrases) in raw.commands {
        let span = phrases.span();
        set(&mut words, Role::Command(command), phrases.into_inner(), span);
    }
    for (name, phrases) in raw.own {
        let span = phrases.span();
        set(&mut words, Role::Own(name), phrases.into_inner(), span);
    }
    check_words(check, &words, &place);
    words
}

/// Each phrase means one thing among the tags, and one thing among the commands.
fn check_words(check: &mut Checker, words: &Words, place: &BTreeMap<Role, Range<usize>>) {
    let mut meaning: BTreeMap<(bool, &str), &Role> = BTreeMap::new();
    let mut repeated = Vec::new();
    for (role, phrase) in words.iter() {
        let among_commands = matches!(role, Role::Command(_));
        if let Some(other) = meaning.insert((among_commands, phrase), role) {
            let span = place.get(role).or_else(|| place.get(other)).cloned().unwrap_or(0..0);
            let found = if role == other {
                format!("\"{phrase}\" twice for the same role")
            } else {
                format!("\"{phrase}\" for two roles ({} and {})", name(other), name(role))
            };
            repeated.push((span, found));
        }
    }
    for (span, found) in repeated {
        check.complain(&span, found, "each word for one role only");
    }
    for needed in [Role::Attention, Role::Marker] {
        if words.of(&needed).is_empty() {
            let span = place.get(&needed).cloned().unwrap_or(0..0);
            check.complain(&span, format!("no word for {}", name(&needed)), "at least one");
        }
    }
}

/// The name of a role as the plan file writes it.
fn name(role: &Role) -> String {
    match role {
        Role::Step(number) => format!("step {number}"),
        Role::Own(name) => format!("own.{name}"),
        role => match serde_json::to_value(role) {
            Ok(serde_json::Value::String(name)) => name,
            Ok(serde_json::Value::Object(map)) => {
                map.values().next().and_then(|value| value.as_str()).unwrap_or("a role").to_owned()
            }
            _ => "a role".to_owned(),
        },
    }
}
