//! Which fields of the log hold what people wrote. Every sort of event and entry is named here, so that a new one
//! cannot be forgotten about.

use crate::interpret::{OtherReading, Said};
use crate::session::{Event, Input};
use crate::store::append::Content;
use crate::store::{Change, Entry, ProbeCue};

/// What a text is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// Free text.
    Free,
    /// What things are told apart by: a behaviour, or a tag of a plan's own.
    Key,
}

/// Shows every text of an event or edit.
pub(super) fn of_content(content: &mut Content, each: &mut dyn FnMut(&mut String, Sort)) {
    match content {
        Content::Event(Event::Input(input)) => of_input(input, each),
        // What follows is worked out from the rest, in the program's own words.
        Content::Event(Event::Derived(_)) => {}
        Content::Edit(edit) => {
            edit.by.iter_mut().chain(&mut edit.why).for_each(|text| each(text, Sort::Free));
            match &mut edit.change {
                Change::Film { name, .. } => each(name, Sort::Free),
                Change::Remove { .. }
                | Change::Revise { .. }
                | Change::Add { .. }
                | Change::Dismiss { .. }
                | Change::Undo { .. }
                | Change::Scored { .. } => {}
            }
        }
    }
}

fn of_input(input: &mut Input, each: &mut dyn FnMut(&mut String, Sort)) {
    match input {
        Input::Tagged { said, words } => {
            of_said(said, each);
            each(words, Sort::Free);
        }
        Input::Doubted { words, other } => {
            each(words, Sort::Free);
            if let OtherReading::Read(text) = other {
                each(text, Sort::Free);
            }
        }
        // Why is one of the program's own words.
        Input::Gap { .. } | Input::Trouble { .. } => {}
        Input::Noted { text } => each(text, Sort::Free),
        Input::Elsewhere(elsewhere) => {
            let hands = elsewhere.hands.iter_mut();
            hands
                .filter_map(|hands| hands.person.as_mut())
                .for_each(|person| each(person, Sort::Free));
        }
    }
}

fn of_said(said: &mut Said, each: &mut dyn FnMut(&mut String, Sort)) {
    match said {
        Said::Own { name } | Said::Behaviour { name } => each(name, Sort::Key),
        Said::Animal { name } => each(name, Sort::Free),
        Said::TakesOver { person } => each(person, Sort::Free),
        Said::Rep(_)
        | Said::Detail(_)
        | Said::Miss(_)
        | Said::State { .. }
        | Said::Cue
        | Said::HoldStart
        | Said::TakeBack
        | Said::PutBack { .. }
        | Said::Change(_)
        | Said::Command { .. } => {}
    }
}

/// Shows every text of an entry of the journal.
pub(super) fn of_entry(entry: &mut Entry, each: &mut dyn FnMut(&mut String, Sort)) {
    let mut free = |text: &mut String| each(text, Sort::Free);
    match entry {
        Entry::Note { text }
        | Entry::Coat { text }
        | Entry::Sides { text, .. }
        | Entry::Sore { text }
        | Entry::Ill { text }
        | Entry::Concern { text }
        | Entry::NoConcern { text }
        | Entry::Well { text } => free(text),
        Entry::Weight { said, .. } => said.iter_mut().for_each(free),
        Entry::Food { what, .. } => free(what),
        Entry::TakenBack { why, .. } => why.iter_mut().for_each(free),
        Entry::Captured { behaviour, context, .. } => {
            context.iter_mut().for_each(free);
            each(behaviour, Sort::Key);
        }
        Entry::Planned { behaviour, change, .. } => {
            free(change);
            each(behaviour, Sort::Key);
        }
        Entry::Probe { behaviour, cue, instead, context, .. } => {
            context.iter_mut().for_each(&mut free);
            if let ProbeCue::Other(cue) = cue {
                free(cue);
            }
            each(behaviour, Sort::Key);
            instead.iter_mut().for_each(|behaviour| each(behaviour, Sort::Key));
        }
    }
}
