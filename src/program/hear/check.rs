//! Which words of a plan will be heard badly, and better ones. Pure.

use std::collections::BTreeMap;
use std::fmt;

use super::Frequent;
use super::phones;
use crate::plan::{Mood, RewardValue, Role, Words};

const MEASURED: &str = include_str!("../../../prompts/en/measured.tsv");
const INSTEAD: &str = include_str!("../../../prompts/en/instead.toml");
/// Words nearer than this are taken for each other (left and right differ by 0.5, go and no by 0.35).
const TOO_CLOSE: f64 = 0.36;
/// Long phrases with a whole other word in them are told apart all the same.
const ENOUGH: f64 = 1.5;
/// A word that counts by itself should not be among this many most frequent ones.
const COMMON: usize = 250;
/// Heard less often than this is weak.
const WEAK: f64 = 0.9;
/// A proposal is at least so far from every other word.
const FAR: f64 = 0.55;

/// Something about a word that its owner should know.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The phrase in the plan.
    pub phrase: String,
    /// What is wrong with it.
    pub what: Trouble,
    /// Better words, best first.
    pub instead: Vec<String>,
}

/// What can be wrong with a word.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// The model does not know it, so it cannot be heard at all.
    Unknown {
        /// The word of the phrase.
        word: String,
    },
    /// It sounds like another of the plan.
    Close {
        /// The other.
        other: String,
        /// Phone distance, 0 is the same.
        distance: f64,
    },
    /// People say it all the time.
    Common {
        /// Its place among the most frequent words.
        rank: usize,
    },
    /// It was measured to be heard badly.
    Weak {
        /// Times heard.
        right: u32,
        /// Times said.
        of: u32,
        /// What it is taken for.
        taken_for: String,
    },
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\": ", self.phrase)?;
        match &self.what {
            Trouble::Unknown { word } => {
                write!(f, "the speech model does not know \"{word}\", so it cannot be heard")?;
            }
            Trouble::Close { other, distance } => {
                write!(
                    f,
                    "sounds like \"{other}\" (phone distance {distance:.2}; wanted {TOO_CLOSE} or more)"
                )?;
            }
            Trouble::Common { rank } => {
                write!(f, "is number {rank} of the most frequent words, so talk is full of it")?;
            }
            Trouble::Weak { right, of, taken_for } => {
                write!(f, "was heard {right} of {of} times when measured")?;
                if !taken_for.is_empty() {
                    write!(f, ", else mostly as \"{taken_for}\"")?;
                }
            }
        }
        if !self.instead.is_empty() {
            write!(f, ". Better: {}", self.instead.join(", "))?;
        }
        Ok(())
    }
}

struct Measured {
    word: &'static str,
    right: u32,
    of: u32,
    taken_for: &'static str,
}

fn measured() -> impl Iterator<Item = Measured> {
    MEASURED.lines().filter(|line| !line.starts_with('#')).filter_map(|line| {
        let mut cells = line.split('\t');
        Some(Measured {
            word: cells.next()?,
            right: cells.next()?.parse().ok()?,
            of: cells.next()?.parse().ok()?,
            taken_for: cells.next().unwrap_or_default(),
        })
    })
}

/// Everything to be said about the words of a plan. `knows` tells whether the model knows a word.
pub fn check(
    words: &Words,
    frequent: &Frequent,
    knows: &mut dyn FnMut(&str) -> bool,
) -> Vec<Finding> {
    let phrases: Vec<(&Role, &str)> = words.iter().collect();
    let mut findings = Vec::new();
    for (index, (role, phrase)) in phrases.iter().enumerate() {
        let mut find = |what, instead| {
            findings.push(Finding { phrase: (*phrase).to_owned(), what, instead });
        };
        if let Some(word) = phrase.split(' ').find(|word| !knows(word)) {
            let near = near_by_letters(word, frequent, knows);
            find(Trouble::Unknown { word: word.to_owned() }, near);
            continue;
        }
        let better = || proposals(&phrases, frequent);
        for (other_role, other) in &phrases[index + 1..] {
            let apart = is_command(role) != is_command(other_role) || role == other_role;
            let sounds_of = |phrase: &str| sounds(phrase, frequent);
            let close = phones::nearest(&sounds_of(phrase), &sounds_of(other))
                .filter(|by| !apart && by.share < TOO_CLOSE && by.cost < ENOUGH);
            if let Some(by) = close {
                let other = (*other).to_owned();
                find(Trouble::Close { other, distance: by.share }, better());
            }
        }
        // Details count only right after a marker, commands only after the attention word.
        let alone = !is_command(role) && !role.is_detail();
        if let Some(rank) = frequent.rank(phrase).filter(|rank| alone && *rank <= COMMON) {
            find(Trouble::Common { rank }, better());
        }
        let weak = measured()
            .find(|m| m.word == *phrase && f64::from(m.right) < WEAK * f64::from(m.of))
            .filter(|m| !is_command(role) && was_beside(m.taken_for, &phrases));
        if let Some(Measured { right, of, taken_for, .. }) = weak {
            let taken_for = taken_for.to_owned();
            find(Trouble::Weak { right, of, taken_for }, better());
        }
    }
    findings
}

/// A confusion counts when the plan has the other word too, or when it was with no word in particular.
fn was_beside(taken_for: &str, phrases: &[(&Role, &str)]) -> bool {
    taken_for.is_empty() || phrases.iter().any(|(_, phrase)| *phrase == taken_for)
}

fn is_command(role: &Role) -> bool {
    role.is_called()
}

/// Ways of saying a phrase, none when a word of it is in no list.
fn sounds(phrase: &str, frequent: &Frequent) -> Vec<String> {
    phrase.split(' ').fold(vec![String::new()], |said, word| {
        said.iter()
            .flat_map(|before| {
                let ways = frequent.sounds(word).iter();
                ways.map(move |way| format!("{before} {way}").trim().to_owned())
            })
            .collect()
    })
}

/// Words that may take the place of one that is not heard, by its role: first those that mean the same, then those that
/// mean nothing here. All were measured to be heard every time, and are far in sound from those that are there.
pub fn instead(words: &Words, frequent: &Frequent) -> BTreeMap<Role, Vec<String>> {
    // A command follows the attention word, so that nothing else is taken for it.
    let phrases: Vec<(&Role, &str)> = words.iter().filter(|(role, _)| !is_command(role)).collect();
    let by_role: BTreeMap<String, Vec<String>> =
        toml::from_str(INSTEAD).expect("a test reads the embedded words");
    let instead_of = |role: &Role| {
        // It may well sound like the word whose place it takes.
        let others: Vec<(&Role, &str)> =
            phrases.iter().filter(|(other, _)| *other != role).copied().collect();
        let named = |name: &str| by_role.get(name).into_iter().flatten();
        let good = |word: &&String| {
            is_good(word, &others, frequent) && !phrases.iter().any(|(_, own)| own == *word)
        };
        named(role_name(role)).chain(named("any")).filter(good).cloned().collect::<Vec<_>>()
    };
    phrases.iter().map(|(role, _)| ((*role).clone(), instead_of(role))).collect()
}

/// The name of a role in the list of words that may take its place.
fn role_name(role: &Role) -> &'static str {
    match role {
        Role::Value(RewardValue::Low) => "low",
        Role::Value(RewardValue::High) => "high",
        Role::Value(RewardValue::Jackpot) => "jackpot",
        Role::Mood(Mood::Calm) => "calm",
        Role::Mood(Mood::Worried) => "worried",
        Role::Mood(Mood::Tired) => "tired",
        Role::Mood(Mood::Keen) => "keen",
        Role::Cue => "cue",
        Role::TakeBack => "take_back",
        Role::Change => "change",
        _ => "",
    }
}

/// Whether it was measured to be heard every time, and is far in sound from the words of the plan.
fn is_good(word: &str, phrases: &[(&Role, &str)], frequent: &Frequent) -> bool {
    let own = sounds(word, frequent);
    measured().any(|m| m.word == word && m.right == m.of)
        && phrases.iter().all(|(_, phrase)| {
            phones::nearest(&own, &sounds(phrase, frequent)).is_none_or(|by| by.share >= FAR)
        })
}

/// Words measured to be heard every time, and far in sound from those of the plan.
fn proposals(phrases: &[(&Role, &str)], frequent: &Frequent) -> Vec<String> {
    measured()
        .map(|m| m.word)
        .filter(|word| is_good(word, phrases, frequent))
        .map(str::to_owned)
        .take(3)
        .collect()
}

/// Known words spelled nearly the same, nearest first, the more frequent first among equals.
pub(super) fn near_by_letters(
    word: &str,
    frequent: &Frequent,
    knows: &mut dyn FnMut(&str) -> bool,
) -> Vec<String> {
    let mut near: Vec<(usize, &str)> = frequent
        .words()
        .iter()
        .map(|known| (strsim::damerau_levenshtein(word, known), *known))
        .filter(|(distance, _)| *distance <= 1 + word.chars().count() / 3)
        .collect();
    near.sort_by_key(|(distance, _)| *distance);
    near.into_iter()
        .map(|(_, known)| known)
        .filter(|known| knows(known))
        .take(3)
        .map(str::to_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_role_has_words_to_take_its_place_and_its_own_come_first() {
        let english = Words::english();
        let instead = instead(&english, &Frequent::english());
        for (role, phrase) in english.iter().filter(|(role, _)| !is_command(role)) {
            let offered = &instead[role];
            assert!(offered.len() >= 2, "{phrase}: {offered:?}");
            assert!(english.iter().all(|(_, own)| !offered.contains(&own.to_owned())), "{phrase}");
        }
        assert_eq!(instead[&Role::Value(RewardValue::High)][0], "extra");
        assert_eq!(instead[&Role::Mood(Mood::Tired)][0], "weary");
        // Each word of the list was measured, and stands once.
        let listed: BTreeMap<String, Vec<String>> = toml::from_str(INSTEAD).unwrap();
        let mut all: Vec<&String> = listed.values().flatten().collect();
        assert!(all.iter().all(|word| measured().any(|m| m.word == **word)), "{all:?}");
        let count = all.len();
        all.sort();
        all.dedup();
        assert_eq!(all.len(), count);
    }

    fn findings(words: &Words) -> Vec<Finding> {
        check(words, &Frequent::english(), &mut |word| word != "targt")
    }

    #[test]
    fn the_default_words_are_well_chosen() {
        let found = findings(&Words::english());
        assert_eq!(found, [], "{}", found.iter().map(ToString::to_string).collect::<String>());
    }

    #[test]
    fn says_what_is_wrong_and_what_is_better() {
        let mut words = Words::english();
        words.set(Role::Miss, vec!["no".into()]);
        words.set(Role::Own("go".into()), vec!["go".into()]);
        words.set(Role::Cue, vec!["targt".into()]);
        words.set(Role::Value(RewardValue::High), vec!["high".into()]);
        let found = findings(&words);
        let of = |phrase: &str| -> Vec<&Trouble> {
            found.iter().filter(|f| f.phrase == phrase).map(|f| &f.what).collect()
        };
        assert!(
            matches!(of("no")[..], [Trouble::Close { .. }, Trouble::Common { .. }]),
            "{found:?}"
        );
        assert!(matches!(of("targt")[..], [Trouble::Unknown { .. }]), "{found:?}");
        assert!(of("five").iter().any(|what| matches!(what, Trouble::Weak { .. })), "{found:?}");
        let unknown = found.iter().find(|f| f.phrase == "targt").unwrap();
        assert_eq!(unknown.instead[0], "target");
        assert!(found.iter().filter(|f| f.phrase == "no").all(|f| f.instead.len() == 3));
    }
}
