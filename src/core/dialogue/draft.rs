//! A plan made by voice: one question after the other, the whole read back, and kept when that is confirmed. What was
//! said so far stays, however often it is left and taken up again.

use std::collections::BTreeMap;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::tags::{is_no, is_yes};
use super::{Choice, Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::history::capital;
use crate::interpret::Said;
use crate::plan::Fresh;

/// What is asked for a plan, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// The animal's name.
    Animal,
    /// Its species.
    Species,
    /// The goal behaviour.
    Behaviour,
    /// What it does first.
    FirstStep,
    /// What comes then.
    SecondStep,
    /// And then.
    ThirdStep,
    /// The everyday treat.
    Treat,
    /// A better one.
    BetterTreat,
}

impl Part {
    /// All of them, in the order in which they are asked for.
    pub const ALL: [Part; 8] = [
        Part::Animal,
        Part::Species,
        Part::Behaviour,
        Part::FirstStep,
        Part::SecondStep,
        Part::ThirdStep,
        Part::Treat,
        Part::BetterTreat,
    ];

    /// Whether a plan can do without it.
    fn may_be_left_out(self) -> bool {
        matches!(self, Part::SecondStep | Part::ThirdStep | Part::Treat | Part::BetterTreat)
    }

    fn before(self) -> Part {
        let place = Part::ALL.iter().position(|part| *part == self).unwrap_or_default();
        Part::ALL[place.saturating_sub(1)]
    }

    /// The part that these words name.
    fn named(text: &str) -> Option<Part> {
        let text = text.to_lowercase();
        let says =
            |any: &[&str]| any.iter().any(|word| text.split_whitespace().any(|w| w == *word));
        let better = says(&["better", "best", "good"]);
        // "Two" and "to" are one sound.
        [
            (says(&["treat", "treats", "reward"]) && better, Part::BetterTreat),
            (says(&["treat", "treats", "reward", "food"]), Part::Treat),
            (says(&["three", "third", "last"]), Part::ThirdStep),
            (says(&["two", "to", "too", "second"]), Part::SecondStep),
            (says(&["one", "first", "step"]), Part::FirstStep),
            (says(&["species", "kind"]), Part::Species),
            (says(&["behavior", "behaviour", "goal"]), Part::Behaviour),
            (says(&["name", "animal"]), Part::Animal),
        ]
        .into_iter()
        .find_map(|(fits, part)| fits.then_some(part))
    }
}

/// What people put before an answer.
const BEFORE: [&str; 12] = [
    "um",
    "uh",
    "it is",
    "it's",
    "he is",
    "he's",
    "she is",
    "she's",
    "its name is",
    "his name is",
    "her name is",
    "called",
];
const ARTICLES: [&str; 3] = ["a", "an", "the"];

/// The answer in what was said: without what people put before it; a name is written as one, a species without article.
fn answer(part: Part, said: &str) -> String {
    let mut text = said.trim().trim_end_matches('.');
    let none: &[&str] = &[];
    let articles = if part == Part::Species { &ARTICLES[..] } else { none };
    while let Some(rest) = BEFORE.iter().chain(articles).find_map(|word| {
        let rest = text.get(word.len()..)?;
        let fits = text[..word.len()].eq_ignore_ascii_case(word);
        (fits && rest.starts_with(' ')).then_some(rest)
    }) {
        text = rest.trim_start();
    }
    match part {
        Part::Animal => text.split_whitespace().map(capital).collect::<Vec<_>>().join(" "),
        _ => text.to_owned(),
    }
}

/// A plan that is being made. It is kept by the names of its parts.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Draft {
    /// What was answered; empty where that was to leave the part out.
    said: BTreeMap<Part, String>,
    /// Whether the last question was met by silence.
    #[serde(skip)]
    silent: bool,
}

impl Draft {
    /// The first part that was not answered yet.
    fn open_part(&self) -> Option<Part> {
        Part::ALL.into_iter().find(|part| !self.said.contains_key(part))
    }

    fn of(&self, part: Part) -> String {
        self.said.get(&part).cloned().unwrap_or_default()
    }

    /// What the plan is made from.
    fn fresh(&self) -> Fresh {
        let filled = |part: &Part| Some(self.of(*part)).filter(|text| !text.is_empty());
        let steps = [Part::FirstStep, Part::SecondStep, Part::ThirdStep];
        Fresh {
            animal: self.of(Part::Animal),
            species: self.of(Part::Species),
            behaviour: self.of(Part::Behaviour),
            steps: steps.iter().filter_map(filled).collect(),
            treat: filled(&Part::Treat),
            better_treat: filled(&Part::BetterTreat),
            body: None,
        }
    }
}

impl Dialogue {
    /// Begins a plan, or goes on with the one that was begun.
    pub(super) fn make_plan(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        if matches!(self.place, Place::Training(_)) {
            return out.push(DialogueEffect::Say(DialogueLine::AfterSession));
        }
        let draft = self.draft.get_or_insert_with(Draft::default);
        draft.silent = false;
        match draft.open_part() {
            Some(part) => self.ask_part(now, part, false, out),
            None => self.read_draft(now, out),
        }
    }

    /// Asks for one part of the plan; `again` when nothing of use was said.
    fn ask_part(&mut self, now: Duration, part: Part, again: bool, out: &mut Vec<DialogueEffect>) {
        let draft = self.draft.get_or_insert_with(Draft::default);
        let first = draft.said.is_empty() && !again;
        let before = if first || again { String::new() } else { draft.of(part.before()) };
        let plans = !self.choices.is_empty();
        out.push(DialogueEffect::Say(DialogueLine::DraftAsk { part, first, again, before, plans }));
        self.listen_to(out);
        self.ask(now, Question::Draft(part));
    }

    /// An answer to it was dictated.
    pub(super) fn draft_dictated(
        &mut self,
        now: Duration,
        part: Part,
        text: &str,
        out: &mut Vec<DialogueEffect>,
    ) {
        let text = answer(part, text);
        let draft = self.draft.get_or_insert_with(Draft::default);
        if text.is_empty() && !part.may_be_left_out() {
            if draft.silent {
                return self.leave_draft(out);
            }
            draft.silent = true;
            return self.ask_part(now, part, true, out);
        }
        draft.silent = false;
        draft.said.insert(part, text);
        out.push(DialogueEffect::KeepDraft(Some(draft.clone())));
        self.next_part(now, out);
    }

    fn next_part(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        match self.draft.as_ref().and_then(Draft::open_part) {
            Some(part) => self.ask_part(now, part, false, out),
            None => self.read_draft(now, out),
        }
    }

    /// A plan was half made when the program ended: says so; where there is no other plan, it is gone on with at once.
    pub(super) fn tell_draft(&self, out: &mut Vec<DialogueEffect>) {
        let Some(draft) = self.draft.as_ref().filter(|draft| !draft.said.is_empty()) else {
            return;
        };
        let said = draft.said.values().filter(|said| !said.is_empty()).cloned().collect();
        let attention = (!self.choices.is_empty()).then(|| self.attention.clone());
        out.push(DialogueEffect::Say(DialogueLine::DraftThere { said, attention }));
    }

    /// What was said so far waits until it is asked for.
    pub(super) fn leave_draft(&mut self, out: &mut Vec<DialogueEffect>) {
        let attention = self.attention.clone();
        out.push(DialogueEffect::Say(DialogueLine::DraftLeft { attention }));
    }

    fn read_draft(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        let Some(draft) = &self.draft else { return };
        let (plan, yes, no) = (draft.fresh(), self.yes.clone(), self.no());
        out.push(DialogueEffect::Say(DialogueLine::DraftIs { plan, yes, no }));
        self.ask(now, Question::DraftIs);
    }

    fn ask_which_part(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        out.push(DialogueEffect::Say(DialogueLine::DraftWhich));
        self.listen_to(out);
        self.ask(now, Question::DraftWhich);
    }

    /// The part to be changed was dictated.
    pub(super) fn which_part(&mut self, now: Duration, text: &str, out: &mut Vec<DialogueEffect>) {
        let draft = self.draft.get_or_insert_with(Draft::default);
        match Part::named(text) {
            Some(part) => {
                draft.silent = false;
                self.ask_part(now, part, true, out);
            }
            None if draft.silent => self.leave_draft(out),
            None => {
                draft.silent = true;
                self.ask_which_part(now, out);
            }
        }
    }

    /// A tag that may answer a question about a plan that is made; whether it did. A no to a question goes back to the
    /// one before, a yes leaves out what can be left out.
    pub(super) fn answers_draft(
        &mut self,
        now: Duration,
        open: Option<&Question>,
        said: &Said,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let (yes, no) = (is_yes(said), is_no(said));
        match open {
            Some(Question::Draft(part)) if no => {
                self.question = None;
                let before = part.before();
                self.ask_part(now, before, true, out);
            }
            Some(Question::Draft(part)) if yes => {
                self.question = None;
                self.draft_dictated(now, *part, "", out);
            }
            Some(Question::DraftIs) if yes => {
                self.question = None;
                let plan = self.draft.as_ref().map(Draft::fresh).unwrap_or_default();
                out.push(DialogueEffect::MakePlan(plan));
            }
            Some(Question::DraftIs | Question::DraftWhich) if no || yes => {
                self.question = None;
                if let Some(draft) = &mut self.draft {
                    draft.silent = false;
                }
                self.ask_which_part(now, out);
            }
            _ => return false,
        }
        true
    }

    /// The plan was written, or why it was not; what was said for it is not lost.
    pub(super) fn plan_made(
        &mut self,
        now: Duration,
        made: Result<Choice, String>,
        out: &mut Vec<DialogueEffect>,
    ) {
        match made {
            Ok(choice) => {
                self.draft = None;
                out.push(DialogueEffect::KeepDraft(None));
                self.choices.push(choice);
                let attention = self.attention.clone();
                out.push(DialogueEffect::Say(DialogueLine::PlanMade { attention }));
                self.choose(now, self.choices.len() - 1, Then::Wait, out);
            }
            Err(why) => out.push(DialogueEffect::Say(DialogueLine::PlanNotMade { why })),
        }
    }
}
