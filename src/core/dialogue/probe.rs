//! A test of a cue, by voice: what was given, and whether the behaviour came. Yes and no answer, since a plan's words
//! need have no numbers.

use std::time::Duration;

use super::tags::{is_no, is_yes};
use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question, Then};
use crate::history::cue::Given;
use crate::interpret::Said;

/// What is asked of a test of a cue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProbePart {
    /// Was its own cue given?
    Own,
    /// Was another one?
    Other,
    /// Did the behaviour come?
    Came(Given),
}

impl ProbePart {
    /// Under which name it is asked in the prompts.
    fn name(self) -> &'static str {
        match self {
            ProbePart::Own => "own",
            ProbePart::Other => "other",
            ProbePart::Came(_) => "came",
        }
    }
}

impl Dialogue {
    /// The command.
    pub(super) fn probe(&mut self, now: Duration, out: &mut Vec<DialogueEffect>) {
        match self.place {
            Place::Ready(_) => self.ask_probe(now, ProbePart::Own, out),
            Place::Training(_) => out.push(DialogueEffect::Say(DialogueLine::AfterSession)),
            _ => self.ask_which(now, 0, Then::Probe, out),
        }
    }

    pub(super) fn ask_probe(
        &mut self,
        now: Duration,
        part: ProbePart,
        out: &mut Vec<DialogueEffect>,
    ) {
        let Place::Ready(index) = self.place else { return };
        out.push(DialogueEffect::Say(DialogueLine::ProbeAsk {
            part: part.name(),
            behaviour: self.choices[index].behaviour.clone(),
            yes: self.yes.clone(),
            no: self.no(),
        }));
        self.ask(now, Question::Probe(part));
    }

    /// A tag that may answer what is asked of a test; whether it did.
    pub(super) fn answers_probe(
        &mut self,
        now: Duration,
        open: Option<&Question>,
        said: &Said,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let Some(Question::Probe(part)) = open else { return false };
        let (yes, no) = (is_yes(said), is_no(said));
        if !yes && !no {
            return false;
        }
        self.question = None;
        let next = match (part, yes) {
            (ProbePart::Own, true) => ProbePart::Came(Given::Own),
            (ProbePart::Own, false) => ProbePart::Other,
            (ProbePart::Other, true) => ProbePart::Came(Given::Other),
            (ProbePart::Other, false) => ProbePart::Came(Given::None),
            (ProbePart::Came(given), came) => {
                out.push(DialogueEffect::Probe { given: *given, came });
                return true;
            }
        };
        self.ask_probe(now, next, out);
        true
    }
}
