//! What the dialogue says that is not an answer of the session.

use serde::Serialize;

use super::audibility::Audibility;
use super::draft::Part;
use super::effect::{Choice, VoiceChange};
use super::health::{Health, How};
use crate::plan::{Described, Fresh, Moment, WordMeaning};
use crate::session::Tries;

/// A choice with its number.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Numbered {
    /// What to say to choose it.
    pub number: usize,
    /// The choice.
    #[serde(flatten)]
    pub choice: Choice,
}

/// Something to say that is not an answer of the session; templates in `prompts/` make sentences of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
pub enum DialogueLine {
    /// Which animal and plan?
    Which {
        /// What can be chosen here.
        choices: Vec<Numbered>,
        /// How many more there are.
        more: usize,
        /// The attention word.
        attention: String,
    },
    /// There is no such number.
    NoSuchNumber {
        /// The number said.
        number: usize,
        /// The last there is.
        last: usize,
    },
    /// The number is asked for.
    SayNumber,
    /// A plan was chosen.
    Chosen {
        /// The plan.
        choice: Choice,
        /// The attention word.
        attention: String,
    },
    /// There are open health concerns of the animal chosen.
    Concerned {
        /// The plan.
        choice: Choice,
    },
    /// Training takes its command once more: there are open health concerns, or the plan asks to look at the animal.
    Hold {
        /// The plan.
        choice: Choice,
        /// The attention word.
        attention: String,
        /// `begin` or `go_on`: what must be said once more.
        what: &'static str,
    },
    /// What to train next.
    Next {
        /// The plan.
        choice: Choice,
        /// The word for yes.
        yes: String,
    },
    /// The chosen plan cannot be used.
    Unusable {
        /// Why.
        reason: String,
    },
    /// No plan is chosen, so what was said cannot be kept.
    Waiting {
        /// What was said.
        words: String,
        /// The attention word.
        attention: String,
    },
    /// No session is under way.
    NoSession {
        /// The attention word.
        attention: String,
    },
    /// This has to wait till after the session.
    AfterSession,
    /// The session is still going on; the command must be said again.
    StillGoing {
        /// The animal.
        animal: String,
        /// `quit` or `next_plan`.
        what: &'static str,
    },
    /// A question ran out.
    NothingChanged,
    /// A part of a plan is asked for.
    DraftAsk {
        /// Which.
        part: Part,
        /// Whether it is the first that is asked for.
        first: bool,
        /// Whether it was asked for before.
        again: bool,
        /// What was answered before it.
        before: String,
        /// Whether there are other plans.
        plans: bool,
    },
    /// Is this the plan?
    DraftIs {
        /// What was said.
        plan: Fresh,
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: String,
    },
    /// Which part of it is wrong?
    DraftWhich,
    /// No plan was made so far; it can be gone on with.
    DraftLeft {
        /// The attention word.
        attention: String,
    },
    /// A plan was half made when the program ended.
    DraftThere {
        /// What was answered so far.
        said: Vec<String>,
        /// The attention word; none where the next part is asked for at once.
        attention: Option<String>,
    },
    /// The plan was written.
    PlanMade {
        /// The attention word.
        attention: String,
    },
    /// It was not.
    PlanNotMade {
        /// Why.
        why: String,
    },
    /// Is this the change of the plan? Answered by the command once more.
    PlanChangeIs {
        /// The change.
        described: Described,
        /// The attention word.
        attention: String,
    },
    /// What was said names no change of a plan.
    NotAChange {
        /// What was said.
        text: String,
        /// The attention word.
        attention: String,
    },
    /// The plan was changed.
    PlanChanged,
    /// It was not, and is as it was.
    PlanUnchanged {
        /// Why.
        why: String,
    },
    /// Words, and what they mean.
    Help {
        /// When they are said.
        moment: Moment,
        /// The words.
        words: Vec<WordMeaning>,
        /// Whether there are more, here or at another moment.
        more: bool,
        /// Whether a session is under way, in which only the command once more tells them.
        training: bool,
        /// The attention word.
        attention: String,
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: String,
    },
    /// What was said after the attention word is like no command.
    NoCommand {
        /// As it was heard or typed.
        words: String,
        /// The attention word.
        attention: String,
    },
    /// Something like a command was said.
    DidYouMean {
        /// The command.
        phrase: String,
        /// The word for yes.
        yes: String,
    },
    /// What to do in the first session: nothing is known of the animal yet.
    FirstSession {
        /// The step's name.
        step: String,
        /// Its number, from 1.
        number: u8,
        /// Rewarded tries planned.
        tries: u32,
        /// Minutes planned.
        minutes: f64,
        /// The treat.
        treat: String,
    },
    /// A file was written.
    Wrote {
        /// `report` or `backup`.
        what: &'static str,
        /// Where it lies.
        place: String,
    },
    /// It was not.
    NotWritten {
        /// `report` or `backup`.
        what: &'static str,
        /// Why.
        why: String,
    },
    /// What had taken the stage is over: where we are.
    Back {
        /// The plan.
        choice: Choice,
        /// The attention word.
        attention: String,
    },
    /// It could not be begun, or was cut short.
    AsideFailed {
        /// Why.
        why: String,
    },
    /// Something is asked of a test of a cue.
    ProbeAsk {
        /// `own`, `other` or `came`.
        part: &'static str,
        /// The behaviour.
        behaviour: String,
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: String,
    },
    /// A test of a cue was kept.
    ProbeKept {
        /// What to test next.
        next: String,
    },
    /// Dictation begins.
    Dictate {
        /// `note`, `weight`, `food`, `health`, `change` or `plan`.
        what: &'static str,
    },
    /// What is spelled so far.
    Spelled {
        /// Its letters.
        text: String,
    },
    /// A note was kept.
    Noted {
        /// Its text.
        text: String,
    },
    /// Nothing was understood.
    NothingHeard,
    /// Is this the weight?
    WeightIs {
        /// The animal.
        animal: String,
        /// In grams.
        grams: f64,
        /// The word for yes.
        yes: String,
        /// The attention word.
        attention: String,
        /// In a session the command once more says yes.
        training: bool,
    },
    /// There was no weight in what was said; it was kept as a note.
    NoWeight {
        /// What was said.
        text: String,
    },
    /// The weight was kept.
    WeightKept {
        /// In grams.
        grams: f64,
    },
    /// The weight was not confirmed, and was kept as a note.
    WeightNoted {
        /// In grams.
        grams: f64,
    },
    /// A note has words of injury or illness: is it a health concern?
    SignsNoted {
        /// The words.
        words: Vec<String>,
        /// How it is answered.
        how: How,
        /// The attention word.
        attention: String,
        /// The word for yes.
        yes: String,
    },
    /// Something of the animal's health was kept.
    HealthKept {
        /// What.
        what: Health,
        /// In words; may be empty.
        text: String,
        /// Whether a session is under way.
        training: bool,
    },
    /// Is it well again? What is open would be closed.
    WellAgain {
        /// The plan.
        choice: Choice,
        /// How it is answered.
        how: How,
        /// The word for yes.
        yes: String,
        /// The attention word.
        attention: String,
    },
    /// Is this the change that is to be tested?
    ChangeIs {
        /// In words.
        change: String,
        /// The word for yes.
        yes: String,
    },
    /// No test goes on; another one can be begun.
    TestAnother {
        /// The attention word.
        attention: String,
    },
    /// A captured behaviour was kept.
    Captured {
        /// Which.
        behaviour: String,
    },
    /// Another program is in a session of this animal.
    InSession {
        /// Who trains there, if that is known.
        person: Option<String>,
        /// The animal.
        animal: String,
        /// What is trained.
        behaviour: String,
        /// Minutes since it began.
        minutes: u64,
    },
    /// Another program ended the session or took it over; what is said now goes into a session of its own.
    SessionTaken,
    /// What the record knows of the animal cannot be read; the session begins as its first.
    PastUnknown {
        /// Why.
        why: String,
    },
    /// A session was cut off and can be gone on with.
    CutOff {
        /// The animal.
        animal: String,
        /// Minutes since then, begun ones counted whole.
        minutes: u64,
        /// Its tries.
        #[serde(flatten)]
        tries: Tries,
        /// What to say to go on with it.
        go_on: String,
        /// What to say to begin another.
        begin: String,
        /// Whether the plan was changed since it began.
        edited: bool,
    },
    /// What was cut off could not be given an end.
    StaysOpen {
        /// Why.
        why: String,
    },
    /// The words of the plan that a session began with cannot be listened for; those of the present one are.
    OldWordsUnknown {
        /// Why.
        why: String,
    },
    /// The step that the next session begins at.
    BeginsAt {
        /// Its number, from 1.
        number: u8,
        /// The plan's last.
        of: usize,
        /// Its name.
        name: String,
    },
    /// In which order to work on the animal's behaviours in this sitting.
    InOrder {
        /// Their names; one may come twice.
        behaviours: Vec<String>,
    },
    /// The voice changed.
    Voice {
        /// How.
        change: VoiceChange,
    },
    /// A forgotten session was paused.
    Forgotten {
        /// The attention word.
        attention: String,
    },
    /// What can be done after a session.
    After {
        /// The attention word.
        attention: String,
    },
    /// There is no session to read back.
    NothingYet,
    /// How well the trainer is heard.
    SoundCheck {
        /// How well.
        #[serde(flatten)]
        audibility: Audibility,
    },
    /// The end.
    Goodbye,
    /// Said after the end.
    Over {
        /// What was said.
        words: String,
    },
}
