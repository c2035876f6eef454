//! What was probably meant by words that mean nothing: the nearest phrase by its letters.

use crate::plan::{Command, Role, Words};

/// From this likeness on something is taken for a slip. Set so that single letters and a missing half of a phrase are
/// found, and none of a list of other sentences is (see the tests).
const ALIKE: f64 = 0.55;

/// The command that is nearest to what was said, with its phrase; the attention word may stand before it.
///
/// ```
/// use hushtally_core::interpret::nearest_command;
/// use hushtally_core::plan::{Command, Words};
/// let near = nearest_command(&Words::english(), "juniper wiegh in");
/// assert_eq!(near, Some((Command::Weight, "weigh in".to_owned())));
/// assert_eq!(nearest_command(&Words::english(), "juniper tell me a story"), None);
/// ```
pub fn nearest_command(words: &Words, said: &str) -> Option<(Command, String)> {
    let commands = words.iter().filter_map(|(role, phrase)| match role {
        Role::Command(command) => Some((*command, phrase)),
        _ => None,
    });
    nearest(commands, &bare(words, said))
}

/// The phrase that is nearest to what was said, be it a command or a tag.
pub fn nearest_phrase(words: &Words, said: &str) -> Option<String> {
    let phrases = words.iter().filter(|(role, _)| **role != Role::Attention);
    nearest(phrases.map(|(_, phrase)| ((), phrase)), &bare(words, said)).map(|(_, phrase)| phrase)
}

/// Without the attention word before it, and without what the recogniser could not read.
fn bare(words: &Words, said: &str) -> String {
    let said = said.split_whitespace().filter(|word| !word.starts_with('['));
    let said = said.collect::<Vec<_>>().join(" ").to_lowercase();
    let without = words
        .of(&Role::Attention)
        .iter()
        .find_map(|attention| said.strip_prefix(attention.as_str()))
        .map(|rest| rest.trim().to_owned());
    without.unwrap_or(said)
}

fn nearest<'a, T>(phrases: impl Iterator<Item = (T, &'a str)>, said: &str) -> Option<(T, String)> {
    if said.is_empty() {
        return None;
    }
    phrases
        .map(|(of, phrase)| (strsim::normalized_damerau_levenshtein(said, phrase), of, phrase))
        .filter(|(alike, ..)| *alike >= ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, of, phrase)| (of, phrase.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_found_and_other_sentences_are_not() {
        let words = Words::english();
        let near = |said: &str| nearest_command(&words, said).map(|(_, phrase)| phrase);
        for (said, expected) in [
            ("weigh", "weigh in"),
            ("juniper weight in", "weigh in"),
            ("juniper begin [unk]", "begin"),
            ("finnish", "finish"),
            ("next plane", "next plan"),
            ("step pup", "step up"),
            ("helpp", "help"),
        ] {
            assert_eq!(near(said).as_deref(), Some(expected), "{said}");
        }
        for said in [
            "",
            "juniper",
            "juniper [unk]",
            "look at the bird over there",
            "good morning",
            "is it raining again tomorrow",
            "pepino",
        ] {
            assert_eq!(near(said), None, "{said}");
        }
        assert_eq!(nearest_phrase(&words, "mis").as_deref(), Some("miss"));
    }
}
