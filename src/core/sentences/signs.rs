//! Words of injury or illness in what somebody noted. Pure: text in, words out. It finds words and judges nothing.
//!
//! A note with such a word is asked about, with a word of no before it as well: dictation has no punctuation, and "no
//! blood" may be "no! blood".

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

/// Languages and their words; the first is looked for in every language, since notes come in both.
const LANGUAGES: [(&str, &str); 1] = [("en", include_str!("../../../prompts/en/signs.toml"))];

#[derive(Deserialize)]
struct Listed {
    no: Vec<String>,
    words: Vec<String>,
    except: Vec<String>,
}

/// Phrases by their first word, each as its words, the longest first.
type Phrases = BTreeMap<String, Vec<Vec<String>>>;

/// The words of injury or illness of a language.
#[derive(Debug, Clone)]
pub struct Signs {
    no: Vec<String>,
    words: Phrases,
    except: Phrases,
}

impl Signs {
    /// English, from `prompts/en/signs.toml`; read once.
    pub fn english() -> &'static Self {
        static ENGLISH: LazyLock<Signs> = LazyLock::new(|| Signs::of("en"));
        &ENGLISH
    }

    /// The language that a locale names (`de`, `de_CH.UTF-8`), as far as there is one, and English.
    pub fn of(locale: &str) -> Self {
        let language = locale.split(['_', '-', '.', '@']).next().unwrap_or_default();
        let mut signs = Signs { no: Vec::new(), words: Phrases::new(), except: Phrases::new() };
        for (name, text) in LANGUAGES {
            if name == LANGUAGES[0].0 || name == language {
                let listed: Listed =
                    toml::from_str(text).expect("a test reads every embedded list");
                signs.no.extend(listed.no);
                add(&mut signs.words, &listed.words);
                add(&mut signs.except, &listed.except);
            }
        }
        signs
    }

    /// The words of injury or illness in a text, as they stand there, each once, with a word of no before them.
    ///
    /// ```
    /// use hushtally_core::sentences::Signs;
    /// let signs = Signs::english();
    /// assert_eq!(signs.find("Some blood on the perch, and he is limping."), ["blood", "limping"]);
    /// assert_eq!(signs.find("no blood today"), ["no blood"]);
    /// assert!(signs.find("I'll wind the rope up, he was keen").is_empty());
    /// ```
    pub fn find(&self, text: &str) -> Vec<String> {
        let text = text.to_lowercase().replace('\u{2019}', "'");
        let words: Vec<&str> = text
            .split(|c: char| !(c.is_alphanumeric() || c == '\''))
            .map(|word| word.trim_matches('\''))
            .filter(|word| !word.is_empty())
            .collect();
        let mut found: Vec<String> = Vec::new();
        let mut place = 0;
        while place < words.len() {
            let (from, here) = (place, &words[place..]);
            let spared = longest(&self.except, here);
            let sign = longest(&self.words, here);
            place += spared.max(sign).max(1);
            if sign > spared {
                let before = from.checked_sub(1).map(|before| words[before]);
                let no = before.filter(|word| self.no.iter().any(|no| no == word));
                let said = no.into_iter().chain(here[..sign].iter().copied());
                let said = said.collect::<Vec<_>>().join(" ");
                if !found.contains(&said) {
                    found.push(said);
                }
            }
        }
        found
    }
}

fn add(phrases: &mut Phrases, listed: &[String]) {
    for phrase in listed {
        let words: Vec<String> = phrase.split_whitespace().map(str::to_lowercase).collect();
        if let Some(first) = words.first().cloned() {
            phrases.entry(first).or_default().push(words);
        }
    }
    for phrases in phrases.values_mut() {
        phrases.sort_by_key(|words| std::cmp::Reverse(words.len()));
    }
}

/// How many words the longest phrase has that these words begin with; 0 without one.
fn longest(phrases: &Phrases, words: &[&str]) -> usize {
    let phrases = words.first().and_then(|first| phrases.get(*first));
    let begins = |phrase: &&Vec<String>| {
        phrase.len() <= words.len() && phrase.iter().zip(words).all(|(a, b)| a == b)
    };
    phrases.into_iter().flatten().find(begins).map_or(0, Vec::len)
}

#[cfg(test)]
mod tests;
