//! Which phrase means what: the words of a plan, by role.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::{Command, Mood, RewardValue, Side};

/// What a phrase stands for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Opens every command.
    Attention,
    /// "That's it": a whole rep by itself.
    Marker,
    /// A try that did not meet the criterion.
    Miss,
    /// The step reached, counted from 1; in a chain the link that needed help or broke.
    Step(u8),
    /// How much help a link got, by its place in the plan's list.
    Prompt(u8),
    /// What the rep was paid.
    Value(RewardValue),
    /// Which side worked.
    Side(Side),
    /// How the animal is.
    Mood(Mood),
    /// The trainer gave the cue: latency starts.
    Cue,
    /// A hold began: duration starts.
    HoldStart,
    /// Take back the last rep, miss or detail.
    TakeBack,
    /// Change the last rep; the new details follow.
    Change,
    /// A command, after the attention word.
    Command(Command),
    /// This person trains from here on: the whole of it, said after the attention word.
    TakesOver(String),
    /// This behaviour is worked on from here on: the whole of it, said after the attention word.
    Behaviour(String),
    /// This animal works from here on: its name, as a tag or after the attention word.
    Animal(String),
    /// A tag of the plan's own; logged with its time, without effect on the pace.
    Own(String),
}

impl Role {
    /// Whether it is said after the attention word.
    pub fn is_called(&self) -> bool {
        matches!(self, Role::Command(_) | Role::TakesOver(_) | Role::Behaviour(_))
    }
}

/// A sound without words that counts as the marker, when the plan asks for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkerSound {
    /// A box clicker: press and release.
    Clicker,
    /// A single click of the tongue.
    TongueClick,
    /// A whistle, by mouth or not.
    Whistle,
}

/// Phrases by role. Lower case, words separated by single spaces.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    phrases: BTreeMap<Role, Vec<String>>,
    sounds: BTreeSet<MarkerSound>,
    others_near: bool,
    marker_begins: bool,
    say_taken_back: bool,
    work_on: Vec<String>,
    takes_over: Vec<String>,
    behaviour: Vec<String>,
    pub(super) numbers_are_links: bool,
}

impl Words {
    /// An empty set, to be filled with [`Words::set`].
    pub fn empty() -> Self {
        Words {
            phrases: BTreeMap::new(),
            sounds: BTreeSet::new(),
            others_near: false,
            marker_begins: false,
            say_taken_back: false,
            work_on: Vec::new(),
            takes_over: Vec::new(),
            behaviour: Vec::new(),
            numbers_are_links: false,
        }
    }

    /// A phrase as it is kept: lower case, its words apart by single spaces.
    pub fn tidy(phrase: &str) -> String {
        phrase.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
    }

    /// The default words (English), from `prompts/en/words.toml`.
    pub fn english() -> Self {
        super::parse::words(
            "prompts/en/words.toml",
            include_str!("../../../prompts/en/words.toml"),
            Words::empty(),
        )
        .expect("the embedded default words are checked by a test")
    }

    /// Gives `role` these phrases in place of those it had; an empty list removes the role.
    pub fn set(&mut self, role: Role, phrases: Vec<String>) {
        if phrases.is_empty() {
            self.phrases.remove(&role);
        } else {
            self.phrases.insert(role, phrases);
        }
    }

    /// Removes every step word past `last`, since a plan can only reach its own steps.
    pub fn keep_steps(&mut self, last: u8) {
        self.phrases.retain(|role, _| !matches!(role, Role::Step(n) if *n > last));
    }

    /// The phrases of one role.
    pub fn of(&self, role: &Role) -> &[String] {
        self.phrases.get(role).map_or(&[], Vec::as_slice)
    }

    /// Phrases that, after the attention word and before the word of a step, ask to work on it.
    pub fn work_on(&self) -> &[String] {
        &self.work_on
    }

    /// Gives these in place of those that there were; none, and a step cannot be asked for by its number.
    pub fn set_work_on(&mut self, phrases: Vec<String>) {
        self.work_on = phrases;
    }

    /// Gives what is said after the attention word and somebody's name when that person trains from here on.
    pub fn set_takes_over(&mut self, phrases: Vec<String>) {
        self.takes_over = phrases;
    }

    /// Gives what is said after the attention word and before the name of a behaviour that is worked on from here on.
    pub fn set_behaviour(&mut self, phrases: Vec<String>) {
        self.behaviour = phrases;
    }

    /// Lets this behaviour of the sitting be asked for, by its name as it is spoken.
    pub fn add_behaviour(&mut self, name: &str, spoken: &[String]) {
        let phrases = spoken.iter().flat_map(|spoken| {
            self.behaviour.iter().map(move |phrase| format!("{phrase} {spoken}"))
        });
        let phrases = phrases.filter(|phrase| self.is_free(true, phrase)).collect();
        self.set(Role::Behaviour(name.to_owned()), phrases);
    }

    /// Lets this animal of the sitting be named. Without the attention word too, unless that means something else.
    pub fn add_animal(&mut self, name: &str, spoken: &[String]) {
        let free = |phrase: &&String| self.is_free(true, phrase) && self.is_free(false, phrase);
        let phrases = spoken.iter().filter(free).cloned().collect();
        self.set(Role::Animal(name.to_owned()), phrases);
    }

    /// What is said with a name, where there is none yet that it could be said with: under which name it is told of, and
    /// the phrases with an ellipsis for the name.
    pub(super) fn with_a_name(&self) -> [(&'static str, Vec<String>); 2] {
        let has = |is: fn(&Role) -> bool| self.phrases.keys().any(is);
        let of = |named: bool, phrases: &[String], filled: fn(&String) -> String| {
            if named { Vec::new() } else { phrases.iter().map(filled).collect() }
        };
        let people = has(|role| matches!(role, Role::TakesOver(_)));
        let behaviours = has(|role| matches!(role, Role::Behaviour(_)));
        [
            ("behaviour", of(behaviours, &self.behaviour, |phrase| format!("{phrase} …"))),
            ("takes_over", of(people, &self.takes_over, |phrase| format!("… {phrase}"))),
        ]
    }

    /// Whether the same words are listened for by these as by the other ones, but for the steps that only one has.
    pub fn fit(&self, other: &Words) -> bool {
        let last = |words: &Words| {
            let steps = words.phrases.keys().filter_map(|role| match role {
                Role::Step(step) => Some(*step),
                _ => None,
            });
            steps.max().unwrap_or(0)
        };
        let both = last(self).min(last(other));
        let kept = |words: &Words| {
            let mut words = words.clone();
            words.keep_steps(both);
            words
        };
        kept(self) == kept(other)
    }

    /// Listens for the steps that the other ones have beyond these.
    pub fn add_steps(&mut self, other: &Words) {
        for (role, phrases) in &other.phrases {
            if matches!(role, Role::Step(_)) {
                self.phrases.entry(role.clone()).or_insert_with(|| phrases.clone());
            }
        }
    }

    /// Whether this means nothing yet, among what is said after the attention word or without it.
    fn is_free(&self, called: bool, phrase: &str) -> bool {
        !self.iter().any(|(role, other)| role.is_called() == called && other == phrase)
    }

    /// Lets this person take over in mid-session, by a name as it is spoken. A phrase that means something else already
    /// stays what it is.
    pub fn add_person(&mut self, name: &str, spoken: &[String]) {
        let phrases = spoken.iter().flat_map(|spoken| {
            self.takes_over.iter().map(move |phrase| format!("{spoken} {phrase}"))
        });
        let phrases: Vec<String> = phrases.filter(|phrase| self.is_free(true, phrase)).collect();
        if !phrases.is_empty() {
            self.set(Role::TakesOver(name.to_owned()), phrases);
        }
    }

    /// Sounds that count as the marker; none unless the plan names them.
    pub fn marker_sounds(&self) -> &BTreeSet<MarkerSound> {
        &self.sounds
    }

    /// Lets these sounds, and no others, count as the marker.
    pub fn set_marker_sounds(&mut self, sounds: BTreeSet<MarkerSound>) {
        self.sounds = sounds;
    }

    /// Whether others who may say the words are near: what is much softer than the trainer's own tags is a doubt then.
    pub fn others_near(&self) -> bool {
        self.others_near
    }

    /// Tells whether others are near.
    pub fn set_others_near(&mut self, near: bool) {
        self.others_near = near;
    }

    /// Whether a tag that is heard before "begin" begins the session, and is not kept as a doubt.
    pub fn marker_begins(&self) -> bool {
        self.marker_begins
    }

    /// Tells whether a tag begins the session.
    pub fn set_marker_begins(&mut self, begins: bool) {
        self.marker_begins = begins;
    }

    /// Whether it is said what a take-back took, and that a correction changed nothing; both are shown in any case.
    pub fn say_taken_back(&self) -> bool {
        self.say_taken_back
    }

    /// Tells whether take-backs are said.
    pub fn set_say_taken_back(&mut self, say: bool) {
        self.say_taken_back = say;
    }

    /// All roles with their phrases.
    pub fn iter(&self) -> impl Iterator<Item = (&Role, &str)> {
        self.phrases
            .iter()
            .flat_map(|(role, phrases)| phrases.iter().map(move |phrase| (role, phrase.as_str())))
    }
}
