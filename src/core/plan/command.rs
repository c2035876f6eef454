//! What is asked of Hushtally itself.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

/// Something asked of Hushtally itself, said after the attention word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Command {
    /// Start the session's time now.
    Begin,
    /// Stop counting time and reps for a while.
    Pause,
    /// A break for play, which the next tag ends.
    PlayBreak,
    /// End a pause, or a break for play.
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
    /// The pouch was filled again: treats are counted from here.
    Refilled,
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
    /// Ask how the tests of a change of plan stand, or begin one.
    TestChange,
    /// Check microphone and words.
    SoundCheck,
    /// End the program.
    Quit,
    /// Tell which words there are.
    Help,
    /// Say what to do in the next session.
    WhatNext,
    /// Make a plan.
    NewPlan,
    /// Change the plan.
    ChangePlan,
    /// Read what whoever trains next should know.
    HandOver,
    /// Write a report.
    Report,
    /// Copy the record.
    Backup,
    /// Log a test of a cue.
    Probe,
    /// Settle what was not heard surely.
    Settle,
    /// Learn the nudges' sounds.
    Quiz,
    /// Teach one's own sounds.
    Learn,
    /// Choose microphone, output and voice.
    SetUp,
    /// Work on the step of this number from now on.
    WorkOn(u8),
}

impl Command {
    /// Every command that has words of its own; [`Command::WorkOn`] is said by a number.
    pub const ALL: [Command; 44] = [
        Command::Begin,
        Command::Pause,
        Command::PlayBreak,
        Command::GoOn,
        Command::Finish,
        Command::StepUp,
        Command::Stay,
        Command::StepBack,
        Command::Time,
        Command::Rate,
        Command::Count,
        Command::Treats,
        Command::Refilled,
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
        Command::TestChange,
        Command::SoundCheck,
        Command::Quit,
        Command::Help,
        Command::WhatNext,
        Command::NewPlan,
        Command::ChangePlan,
        Command::HandOver,
        Command::Report,
        Command::Backup,
        Command::Probe,
        Command::Settle,
        Command::Quiz,
        Command::Learn,
        Command::SetUp,
    ];

    /// Whether it is about the step worked on.
    pub fn is_of_steps(self) -> bool {
        matches!(self, Command::StepUp | Command::Stay | Command::StepBack | Command::WorkOn(_))
    }

    /// Its name in plans, in the record and in JSON lines.
    pub fn name(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Command::WorkOn(step) => return Cow::Owned(format!("{WORK_ON}{step}")),
            Command::Begin => "begin",
            Command::Pause => "pause",
            Command::PlayBreak => "play_break",
            Command::GoOn => "go_on",
            Command::Finish => "finish",
            Command::StepUp => "step_up",
            Command::Stay => "stay",
            Command::StepBack => "step_back",
            Command::Time => "time",
            Command::Rate => "rate",
            Command::Count => "count",
            Command::Treats => "treats",
            Command::Refilled => "refilled",
            Command::Why => "why",
            Command::Note => "note",
            Command::Capture => "capture",
            Command::Weight => "weight",
            Command::Concern => "concern",
            Command::Ill => "ill",
            Command::Sore => "sore",
            Command::Well => "well",
            Command::Food => "food",
            Command::Recap => "recap",
            Command::Repeat => "repeat",
            Command::Slower => "slower",
            Command::Faster => "faster",
            Command::Louder => "louder",
            Command::Quieter => "quieter",
            Command::NextPlan => "next_plan",
            Command::TestChange => "test_change",
            Command::SoundCheck => "sound_check",
            Command::Quit => "quit",
            Command::Help => "help",
            Command::WhatNext => "what_next",
            Command::NewPlan => "new_plan",
            Command::ChangePlan => "change_plan",
            Command::HandOver => "hand_over",
            Command::Report => "report",
            Command::Backup => "backup",
            Command::Probe => "probe",
            Command::Settle => "settle",
            Command::Quiz => "quiz",
            Command::Learn => "learn",
            Command::SetUp => "set_up",
        })
    }
}

/// How the name of a command to work on a step begins; its number follows.
const WORK_ON: &str = "work_on_";

impl From<Command> for String {
    fn from(command: Command) -> Self {
        command.name().into_owned()
    }
}

impl TryFrom<String> for Command {
    type Error = String;

    fn try_from(name: String) -> Result<Self, Self::Error> {
        let step = name.strip_prefix(WORK_ON).and_then(|step| step.parse().ok());
        let known = Command::ALL.into_iter().find(|command| command.name() == name);
        step.filter(|step| *step > 0).map(Command::WorkOn).or(known).ok_or_else(|| {
            let names: Vec<String> =
                Command::ALL.iter().map(|command| format!("`{}`", command.name())).collect();
            format!("unknown command `{name}`, expected one of {}", names.join(", "))
        })
    }
}
