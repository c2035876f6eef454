//! The frequent words of a language with their sounds, from `prompts/`. Pure.

use std::collections::{BTreeMap, BTreeSet};

const ENGLISH: &str = include_str!("../../../prompts/en/frequent.tsv");

/// Frequent words, most frequent first.
#[derive(Debug, Clone)]
pub struct Frequent {
    words: Vec<&'static str>,
    sounds: BTreeMap<&'static str, Vec<&'static str>>,
}

impl Frequent {
    /// Those of English.
    pub fn english() -> Self {
        let mut words = Vec::new();
        let mut sounds = BTreeMap::new();
        for line in ENGLISH.lines().filter(|line| !line.starts_with('#')) {
            let Some((word, said)) = line.split_once('\t') else { continue };
            words.push(word);
            sounds.insert(word, said.split('|').collect());
        }
        Frequent { words, sounds }
    }

    /// Words in order of their frequency.
    pub fn words(&self) -> &[&'static str] {
        &self.words
    }

    /// Place of a word in that order, counted from 1.
    pub fn rank(&self, word: &str) -> Option<usize> {
        self.words.iter().position(|known| *known == word).map(|index| index + 1)
    }

    /// How a word is said: phones apart by spaces, each way once. Empty for a word not in the list.
    pub fn sounds(&self, word: &str) -> &[&'static str] {
        self.sounds.get(word).map_or(&[], Vec::as_slice)
    }

    /// The first `count` words that neither are nor sound like one of `taken`.
    pub fn others(&self, count: usize, taken: &[&str]) -> Vec<&'static str> {
        let sounds: BTreeSet<&str> =
            taken.iter().flat_map(|word| self.sounds(word)).copied().collect();
        self.words
            .iter()
            .filter(|word| !taken.contains(word))
            .filter(|word| !self.sounds(word).iter().any(|said| sounds.contains(said)))
            .take(count)
            .copied()
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_sound_like_a_tag_are_left_out() {
        let frequent = Frequent::english();
        let others = frequent.others(3000, &["two", "four", "right"]);
        assert_eq!(others.len(), 3000);
        for gone in ["two", "to", "too", "four", "for", "write", "right"] {
            assert!(!others.contains(&gone), "{gone}");
        }
        assert!(others.contains(&"fall"));
        assert!(frequent.rank("the") < frequent.rank("juniper"));
        assert_eq!(frequent.rank("zzz"), None);
    }
}
