//! The `[words]` part of a plan.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use super::check::{Checker, PlanErrors};
use crate::plan::{Command, MarkerSound, Mood, RewardValue, Role, Side, Words};

#[derive(Deserialize)]
#[serde(untagged)]
enum Phrases {
    One(String),
    Many(Vec<String>),
}

type SpannedPhrases = Option<Spanned<Phrases>>;

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawWords {
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
    others_near: Option<bool>,
    marker_begins: Option<bool>,
    say_taken_back: Option<bool>,
    work_on: Option<Phrases>,
    takes_over: Option<Phrases>,
    behaviour: Option<Phrases>,
    people: BTreeMap<String, Spanned<Phrases>>,
    commands: BTreeMap<Command, Spanned<Phrases>>,
    own: BTreeMap<String, Spanned<Phrases>>,
}

impl RawWords {
    /// Where the plan names the numbers; its begin where it does not.
    pub(super) fn steps_span(&self) -> Range<usize> {
        self.steps.as_ref().map_or(0..0, Spanned::span)
    }
}

/// Reads a table of words (the `[words]` part of a plan, as a file of its own) on top of `base`.
///
/// # Errors
/// Every problem found, with file and line.
pub fn words(file: &str, text: &str, base: Words) -> Result<Words, PlanErrors> {
    let mut check = Checker::new(file, text);
    match toml::from_str::<RawWords>(text) {
        Ok(raw) => {
            let words = read_words(&mut check, raw, base, Vec::new());
            check.finish(words)
        }
        Err(error) => Err(check.no_toml(&error)),
    }
}

/// `prompts` are the words for levels of help, which stand elsewhere in the plan.
pub(super) fn read_words(
    check: &mut Checker,
    raw: RawWords,
    base: Words,
    prompts: Vec<Spanned<String>>,
) -> Words {
    let mut words = base;
    if let Some(sounds) = raw.marker_sounds {
        words.set_marker_sounds(sounds);
    }
    if let Some(near) = raw.others_near {
        words.set_others_near(near);
    }
    if let Some(begins) = raw.marker_begins {
        words.set_marker_begins(begins);
    }
    if let Some(say) = raw.say_taken_back {
        words.set_say_taken_back(say);
    }
    if let Some(phrases) = raw.work_on {
        words.set_work_on(tidied(phrases));
    }
    if let Some(phrases) = raw.takes_over {
        words.set_takes_over(tidied(phrases));
    }
    if let Some(phrases) = raw.behaviour {
        words.set_behaviour(tidied(phrases));
    }
    let mut place: BTreeMap<Role, Range<usize>> = BTreeMap::new();
    let mut set = |words: &mut Words, role: Role, phrases: Phrases, span: Range<usize>| {
        place.insert(role.clone(), span);
        words.set(role, tidied(phrases));
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
    for (level, word) in (1..=u8::MAX).zip(prompts) {
        let span = word.span();
        set(&mut words, Role::Prompt(level), Phrases::One(word.into_inner()), span);
    }
    for (command, phrases) in raw.commands {
        let span = phrases.span();
        set(&mut words, Role::Command(command), phrases.into_inner(), span);
    }
    for (name, phrases) in raw.own {
        let span = phrases.span();
        set(&mut words, Role::Own(name), phrases.into_inner(), span);
    }
    for (name, spoken) in raw.people {
        words.add_person(&name, &tidied(spoken.into_inner()));
    }
    check_words(check, &words, &place);
    words
}

/// Phrases as they are kept; empty ones are none.
fn tidied(phrases: Phrases) -> Vec<String> {
    let phrases = match phrases {
        Phrases::One(phrase) => vec![phrase],
        Phrases::Many(phrases) => phrases,
    };
    let phrases = phrases.iter().map(|phrase| Words::tidy(phrase));
    phrases.filter(|phrase| !phrase.is_empty()).collect()
}

/// Each phrase means one thing among the tags, and one thing among the commands.
fn check_words(check: &mut Checker, words: &Words, place: &BTreeMap<Role, Range<usize>>) {
    let mut meaning: BTreeMap<(bool, &str), &Role> = BTreeMap::new();
    let mut repeated = Vec::new();
    for (role, phrase) in words.iter() {
        let among_commands = role.is_called();
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
        Role::Prompt(level) => format!("level {level} of the prompts"),
        Role::Own(name) => format!("own.{name}"),
        Role::TakesOver(name) => format!("people.{name}"),
        Role::Behaviour(name) | Role::Animal(name) => name.clone(),
        role => match serde_json::to_value(role) {
            Ok(serde_json::Value::String(name)) => name,
            Ok(serde_json::Value::Object(map)) => {
                map.values().next().and_then(|value| value.as_str()).unwrap_or("a role").to_owned()
            }
            _ => "a role".to_owned(),
        },
    }
}
