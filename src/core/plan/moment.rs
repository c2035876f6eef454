//! All that can be said, by the moment at which it is: from the one table of words, for help, lists and tests.

use serde::Serialize;

use super::{Command, Role, Words};

/// When something is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// Before a session.
    Before,
    /// In one.
    During,
    /// After it.
    After,
    /// Whenever it is wanted.
    Always,
}

/// Words that mean one thing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WordMeaning {
    /// Under which name its meaning stands in the prompts.
    pub name: String,
    /// The phrases; of numbers and other lists all of them, in order.
    pub phrases: Vec<String>,
    /// Whether the attention word comes before it.
    pub command: bool,
}

impl Moment {
    /// All of them, in the order of a session.
    pub const ALL: [Moment; 4] = [Moment::Before, Moment::During, Moment::After, Moment::Always];

    /// When this is said; none for the attention word, which says nothing by itself.
    fn of(role: &Role) -> Option<Moment> {
        let Role::Command(command) = role else {
            return (*role != Role::Attention).then_some(Moment::During);
        };
        Some(match command {
            Command::Begin
            | Command::NextPlan
            | Command::WhatNext
            | Command::NewPlan
            | Command::ChangePlan
            | Command::TestChange
            | Command::Weight
            | Command::SoundCheck
            | Command::SetUp
            | Command::Quiz
            | Command::Learn => Moment::Before,
            Command::Recap
            | Command::HandOver
            | Command::Report
            | Command::Backup
            | Command::Capture
            | Command::Probe
            | Command::Settle
            | Command::Quit => Moment::After,
            Command::Note
            | Command::Concern
            | Command::Ill
            | Command::Sore
            | Command::Well
            | Command::Food
            | Command::Repeat
            | Command::Slower
            | Command::Faster
            | Command::Louder
            | Command::Quieter
            | Command::Help => Moment::Always,
            _ => Moment::During,
        })
    }
}

/// Every phrase of these words, by moment and meaning.
pub fn by_moment(words: &Words) -> Vec<(Moment, Vec<WordMeaning>)> {
    let mut all: Vec<(Moment, Vec<WordMeaning>)> =
        Moment::ALL.into_iter().map(|moment| (moment, Vec::new())).collect();
    let mut add = |moment: Moment, name: String, phrase: &str, command: bool| {
        let Some((_, there)) = all.iter_mut().find(|(other, _)| *other == moment) else { return };
        match there.iter_mut().find(|meant| meant.name == name) {
            Some(meant) => meant.phrases.push(phrase.to_owned()),
            None => there.push(WordMeaning { name, phrases: vec![phrase.to_owned()], command }),
        }
    };
    for (role, phrase) in words.iter() {
        let Some(moment) = Moment::of(role) else { continue };
        let name = match role {
            Role::Step(_) if words.numbers_are_links() => "links".to_owned(),
            role => name_of(role),
        };
        add(moment, name, phrase, role.is_called());
    }
    for ask in words.work_on() {
        add(Moment::During, "work_on".to_owned(), ask, true);
    }
    // Where nobody and nothing is named yet, any name stands for all.
    for (name, phrases) in words.with_a_name() {
        for phrase in phrases {
            add(Moment::During, name.to_owned(), &phrase, true);
        }
    }
    all
}

/// Under which name a meaning stands in the prompts.
fn name_of(role: &Role) -> String {
    match role {
        Role::Step(_) => "steps".to_owned(),
        Role::Prompt(_) => "prompts".to_owned(),
        Role::Own(_) => "own".to_owned(),
        Role::TakesOver(_) => "takes_over".to_owned(),
        Role::Behaviour(_) => "behaviour".to_owned(),
        Role::Animal(_) => "animal".to_owned(),
        Role::Command(command) => command.name().into_owned(),
        Role::Value(value) => value.name().to_owned(),
        // The others are named by what they are, or by what they hold.
        role => match serde_json::to_value(role).unwrap_or_default() {
            serde_json::Value::Object(held) => {
                held.values().find_map(|value| value.as_str()).unwrap_or_default().to_owned()
            }
            name => name.as_str().unwrap_or_default().to_owned(),
        },
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::interpret::Grammar;

    #[test]
    fn every_word_of_the_grammar_is_in_the_list_once() {
        let words = Words::english();
        let all = by_moment(&words);
        let listed: Vec<String> = all
            .iter()
            .flat_map(|(_, meant)| meant)
            .flat_map(|meant| meant.phrases.iter().map(|phrase| (meant.command, phrase.clone())))
            .map(|(command, phrase)| if command { format!("juniper {phrase}") } else { phrase })
            .collect();
        let once: BTreeSet<&String> = listed.iter().collect();
        assert_eq!(once.len(), listed.len());
        let grammar = Grammar::new(&words);
        let called = grammar.called_commands();
        for phrase in grammar.tags().iter().chain(&called).filter(|phrase| *phrase != "juniper") {
            // A step is asked for by a number, whichever.
            let step = phrase.starts_with("juniper step ")
                && !["juniper step up", "juniper step back"].contains(&phrase.as_str());
            assert!(step || once.contains(phrase), "{phrase} is not listed");
        }
        for phrase in ["juniper step", "juniper … takes over", "juniper behaviour …"] {
            assert!(once.contains(&phrase.to_owned()), "{phrase}");
        }
    }

    #[test]
    fn who_and_what_can_be_named_is_told_as_what_it_is() {
        let mut words = Words::english();
        words.add_person("Ada", &["ada".into()]);
        words.add_behaviour("turns left", &["turns left".into()]);
        words.add_animal("Pip", &["pip".into()]);
        let all = by_moment(&words);
        let told = |name: &str| {
            let mut meant = all.iter().flat_map(|(_, meant)| meant);
            meant.find(|meant| meant.name == name).map(|m| (m.phrases.clone(), m.command))
        };
        assert_eq!(told("takes_over"), Some((vec!["ada takes over".to_owned()], true)));
        assert_eq!(told("behaviour"), Some((vec!["behaviour turns left".to_owned()], true)));
        assert_eq!(told("animal"), Some((vec!["pip".to_owned()], false)));
    }
}
