//! What the dialogue asks of the world.

use serde::Serialize;

use super::aside::Aside;
use super::draft::Draft;
use super::health::Health;
use super::line::DialogueLine;
use crate::history::body::Alarm;
use crate::history::cue::Given;
use crate::interpret::Said;
use crate::plan::{Fresh, PlanChange};

/// A plan that can be chosen.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Choice {
    /// The animal's name.
    pub animal: String,
    /// What is trained.
    pub behaviour: String,
    /// Days since its latest session; `None` when there was none.
    pub days_ago: Option<i64>,
    /// Health concerns of the animal that are open, the gravest first.
    pub concerns: Vec<Alarm>,
    /// Whether the plan asks to look at the animal before a session begins.
    pub look_first: bool,
    /// Whether by this plan a tag that is heard begins a session.
    pub marker_begins: bool,
    /// The steps' names, in their order.
    pub steps: Vec<String>,
    /// The links of a chain, in their order; none where the behaviour is not a chain.
    pub links: Vec<String>,
    /// Words for levels of help, in the plan's order.
    pub prompts: Vec<String>,
    /// The plan's own tags.
    pub own: Vec<String>,
    /// Who may take over in a session.
    pub people: Vec<String>,
}

/// What is asked of the weeks, outside a session, by the word that asks the same of a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weeks {
    /// "Time": how long it stays good.
    Time,
    /// "Rate": how it goes minute by minute, and the trainer's own pace.
    Rate,
    /// "Count": how many sessions a step takes.
    Count,
    /// "Treats": what treats and jackpots do.
    Treats,
}

/// To be carried out in order.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum DialogueEffect {
    /// Say this to the trainer, and show it.
    Say(DialogueLine),
    /// Show it only: it is not worth a voice, or would answer ordinary talk.
    Show(DialogueLine),
    /// Hand this to the session.
    Pass {
        /// What was said.
        said: Said,
        /// In which words.
        words: String,
    },
    /// Hand this to the session that comes, as a doubt: it was heard while none is under way.
    Overheard {
        /// What was said.
        said: Said,
        /// In which words.
        words: String,
    },
    /// Let the next session begin at this step, counted from 1.
    StartAt(u8),
    /// Use this plan from now on, and its words.
    Load(usize),
    /// Take what is said next as it is, till silence, and give it back as dictated.
    Dictate,
    /// Keep a note: in the session when one is under way, else in the journal of the animal chosen.
    Note(String),
    /// Keep a body weight of the animal chosen.
    Weight {
        /// In grams.
        grams: f64,
        /// As it was said.
        said: String,
    },
    /// Keep this of the health of the animal chosen.
    Health {
        /// What.
        what: Health,
        /// In words.
        text: String,
    },
    /// A note, which is kept already, is a health concern, or is none.
    Concern {
        /// Whether it is one.
        yes: bool,
        /// The note.
        text: String,
    },
    /// Keep a rewarded natural behaviour of the animal chosen.
    Capture,
    /// Read the latest session back; with every detail when it was just read.
    Recap {
        /// Whether the details are asked for.
        details: bool,
    },
    /// Tell of the weeks of the animal chosen.
    Weeks(Weeks),
    /// Tell how the tests of a change of plan stand, and give back whether there are any.
    Trials,
    /// Draw by lot the session at which this change is made, and keep it.
    BeginTrial {
        /// What will be changed, in words.
        change: String,
    },
    /// Say what to do in the next session with the animal chosen.
    WhatNext,
    /// Read what whoever trains next with the animal chosen should know.
    HandOver,
    /// Write a report of the animal chosen.
    Report,
    /// Copy the record.
    Backup,
    /// Keep a test of a cue of the animal chosen, and tell what to test next.
    Probe {
        /// What was given.
        given: Given,
        /// Whether the behaviour came.
        came: bool,
    },
    /// Let this take the stage, and tell when it is over.
    Aside(Aside),
    /// Keep what was said of a plan so far, beyond the end of the program; none, and nothing is kept any more.
    KeepDraft(Option<Draft>),
    /// Write this plan, and give back what can be chosen now.
    MakePlan(Fresh),
    /// Find out what this sentence changes in the plan chosen, and give that back.
    ReadChange(String),
    /// Change the plan chosen, and give back what can be chosen now.
    ChangePlan(PlanChange),
    /// Use the chosen plan again, as it is now.
    Reload,
    /// Say the last text again.
    Repeat,
    /// Speak otherwise from now on.
    Voice(VoiceChange),
    /// Tell how well the trainer is heard.
    SoundCheck,
    /// End the session that is under way.
    Close,
    /// End the program.
    Quit,
}

/// How the voice changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VoiceChange {
    /// Fewer words a minute.
    Slower,
    /// More words a minute.
    Faster,
    /// Voice and nudges louder.
    Louder,
    /// Voice and nudges more quietly.
    Quieter,
}
