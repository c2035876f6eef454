//! Which phrase means what: the words of a plan, by role.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

/// What a reward is worth to the animal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RewardValue {
    /// An everyday reward.
    Low,
    /// A better one, for the level being worked on.
    High,
    /// Several high ones at once, rare.
    Jackpot,
}

impl RewardValue {
    /// The name in records and where values are counted.
    pub fn name(self) -> &'static str {
        match self {
            RewardValue::Low => "low",
            RewardValue::High => "high",
            RewardValue::Jackpot => "jackpot",
        }
    }
}

/// Side of the animal's body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The animal's left.
    Left,
    /// The animal's right.
    Right,
}

/// How the animal is, as the trainer sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mood {
    /// Offers the behaviour eagerly.
    Keen,
    /// Relaxed and willing.
    Calm,
    /// Uneasy; asks for an early end.
    Worried,
    /// Slowing down; asks for an early end.
    Tired,
}

/// Something asked of Hushtally itself, said after the attention word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Command {
    /// Start the session's time now.
    Begin,
    /// Stop counting time and reps for a while.
    Pause,
    /// End a pause.
    GoOn,
    /// End the session.
    Finish,
    /// Work on the next step from now on.
    StepUp,
    /// Keep the step; answers advice.
    Stay,
    /// Work on the step before.
    StepBack,
    /// Ask how long the session has lasted.
    Time,
    /// Ask for the rate of reinforcement.
    Rate,
    /// Ask for the count of reps.
    Count,
    /// Ask how many treats are left.
    Treats,
    /// Ask for the reason of the last nudge or advice.
    Why,
    /// Dictate a note until silence.
    Note,
    /// Log a rewarded natural behaviour outside a session.
    Capture,
    /// Log a body weight.
    Weight,
    /// Log a health concern; in a session it also answers what was asked of a note.
    Concern,
    /// Log that the animal is ill.
    Ill,
    /// Log that the animal is sore.
    Sore,
    /// Log that the animal is well again.
    Well,
    /// Log what was eaten outside sessions.
    Food,
    /// Read the session back.
    Recap,
    /// Say the last answer again.
    Repeat,
    /// Speak more slowly.
    Slower,
    /// Speak faster.
    Faster,
    /// Speak and nudge louder.
    Louder,
    /// Speak and nudge more quietly.
    Quieter,
    /// Ask what to train next.
    NextPlan,
    /// Check microphone and words.
    SoundCheck,
    /// End the program.
    Quit,
}

impl Command {
    /// Every command.
    pub const ALL: [Command; 29] = [
        Command::Begin,
        Command::Pause,
        Command::GoOn,
        Command::Finish,
        Command::StepUp,
        Command::Stay,
        Command::StepBack,
        Command::Time,
        Command::Rate,
        Command::Count,
        Command::Treats,
        Command::Why,
        Command::Note,
        Command::Capture,
        Command::Weight,
        Command::Concern,
        Command::Ill,
        Command::Sore,
        Command::Well,
        Command::Food,
        Command::Recap,
        Command::Repeat,
        Command::Slower,
        Command::Faster,
        Command::Louder,
        Command::Quieter,
        Command::NextPlan,
        Command::SoundCheck,
        Command::Quit,
    ];
}

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
    /// The step reached, counted from 1.
    Step(u8),
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
    /// A tag of the plan's own; logged with its time, without effect on the pace.
    Own(String),
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
            include_str!("../../prompts/en/words.toml"),
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
