//! The words to be said, one after the other.

use crate::interpret::{Grammar, Said};
use crate::plan::{Command, Role, Words};

/// A phrase to say, and what it means when it is heard right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prompt {
    /// What to say.
    pub phrase: String,
    /// What hearing makes of it.
    pub said: Said,
    /// The role of the word that it is about.
    pub role: Role,
}

/// Every phrase of these words once. Of the commands only one, since they are heard by the attention word before
/// them; a change with one detail after it, since alone it changes nothing.
pub fn prompts(words: &Words) -> Vec<Prompt> {
    let first = |role: &Role| words.of(role).first().cloned();
    let detail = words.iter().find(|(role, _)| role.is_detail());
    let begin = first(&Role::Command(Command::Begin));
    let phrases = words.iter().filter_map(|(role, phrase)| match role {
        role if role.is_called() => None,
        Role::Attention => begin.as_ref().map(|begin| (role, format!("{phrase} {begin}"))),
        Role::Change => detail.map(|(_, detail)| (role, format!("{phrase} {detail}"))),
        _ => Some((role, phrase.to_owned())),
    });
    let grammar = Grammar::new(words);
    phrases
        .filter_map(|(role, phrase)| {
            let parts: Vec<&str> = phrase.split(' ').collect();
            let said = grammar.parse(&parts)?.first()?.said.clone();
            Some(Prompt { phrase, said, role: role.clone() })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_default_word_is_asked_for_once_and_can_be_read() {
        let words = Words::english();
        let asked: Vec<String> = prompts(&words).into_iter().map(|prompt| prompt.phrase).collect();
        let commands = |role: &Role| matches!(role, Role::Command(_));
        let expected = words.iter().filter(|(role, _)| !commands(role)).count();
        assert_eq!(asked.len(), expected, "{asked:?}");
        for phrase in ["juniper begin", "yes", "six", "left", "anxious", "cancel"] {
            assert!(asked.contains(&phrase.to_owned()), "{phrase} in {asked:?}");
        }
        assert!(asked.iter().any(|phrase| phrase.starts_with("correction ")), "{asked:?}");
    }
}
