//! A sentence as words, with the numbers, steps and amounts in it.

use std::ops::Range;

const ONES: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [(&str, u8); 8] = [
    ("twenty", 20),
    ("thirty", 30),
    ("forty", 40),
    ("fifty", 50),
    ("sixty", 60),
    ("seventy", 70),
    ("eighty", 80),
    ("ninety", 90),
];
const ORDINALS: [&str; 11] = [
    "zeroth", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
    "tenth",
];

/// A sentence.
pub(super) struct Spoken<'a> {
    sentence: &'a str,
    /// Lower case, and where each stands in the sentence.
    words: Vec<(String, Range<usize>)>,
    working: u8,
}

impl<'a> Spoken<'a> {
    pub(super) fn new(sentence: &'a str, working: u8) -> Self {
        let mut words = Vec::new();
        let mut from = None;
        let part_of_word = |at: usize, c: char| {
            let within = |side: Option<char>| side.is_some_and(|c| c.is_ascii_digit());
            let point = c == '.'
                && within(sentence[..at].chars().next_back())
                && within(sentence[at + 1..].chars().next());
            c.is_alphanumeric() || point
        };
        for (at, c) in sentence.char_indices().chain([(sentence.len(), ' ')]) {
            match (from, at < sentence.len() && part_of_word(at, c)) {
                (None, true) => from = Some(at),
                (Some(begin), false) => {
                    words.push((sentence[begin..at].to_lowercase(), begin..at));
                    from = None;
                }
                _ => {}
            }
        }
        Spoken { sentence, words, working }
    }

    pub(super) fn word(&self, at: usize) -> Option<&str> {
        self.words.get(at).map(|(word, _)| word.as_str())
    }

    /// Where the first of these words is.
    pub(super) fn find(&self, any: &[&str]) -> Option<usize> {
        self.words.iter().position(|(word, _)| any.contains(&word.as_str()))
    }

    pub(super) fn has(&self, any: &[&str]) -> bool {
        self.find(any).is_some()
    }

    /// Where the first word is that is none of these.
    pub(super) fn first_but(&self, none: &[&str]) -> usize {
        let first = self.words.iter().position(|(word, _)| !none.contains(&word.as_str()));
        first.unwrap_or_default()
    }

    pub(super) fn is_negated(&self) -> bool {
        self.has(&["not", "don", "never"])
    }

    /// The words before this one.
    pub(super) fn before(&self, end: usize) -> Spoken<'a> {
        let Spoken { sentence, words, working } = self;
        Spoken { sentence, words: words[..end.min(words.len())].to_vec(), working: *working }
    }

    /// What stands from this word on, as it was written; `None` when that is nothing.
    pub(super) fn rest(&self, from: usize) -> Option<String> {
        let (_, range) = self.words.get(from)?;
        Some(self.sentence[range.start..].trim().trim_end_matches('.').to_owned())
    }

    /// The whole number that begins here, and where it ends.
    pub(super) fn number(&self, at: usize) -> Option<(u8, usize)> {
        let one = |at: usize| {
            let word = self.word(at)?;
            ONES.iter().position(|name| *name == word).and_then(|number| u8::try_from(number).ok())
        };
        let word = self.word(at)?;
        if let Some((_, tens)) = TENS.iter().find(|(name, _)| *name == word) {
            return Some(match one(at + 1).filter(|ones| (1..10).contains(ones)) {
                Some(ones) => (tens + ones, at + 2),
                None => (*tens, at + 1),
            });
        }
        one(at).or_else(|| word.parse().ok()).map(|number| (number, at + 1))
    }

    /// The number of a step that begins here, the word before it said or not.
    pub(super) fn number_of_step(&self, at: usize) -> Option<(u8, usize)> {
        let at = at + usize::from(self.word(at) == Some("step"));
        self.number(at).filter(|(number, _)| *number > 0)
    }

    /// Steps that are named, in order, each with the words that name it.
    fn named_steps(&self) -> Vec<(u8, Range<usize>)> {
        let mut found: Vec<(u8, Range<usize>)> = Vec::new();
        let mut after_step = false;
        let mut at = 0;
        while let Some(word) = self.word(at) {
            let next_is_step = self.word(at + 1) == Some("step");
            let ordinal = ORDINALS.iter().position(|name| *name == word).map(|n| n as u8);
            let (number, end) = match (self.number(at).filter(|_| after_step), ordinal) {
                (Some((number, end)), _) => (Some(number), end),
                (None, Some(number)) if next_is_step => (Some(number), at + 2),
                (None, _) if word == "this" && next_is_step => (Some(self.working), at + 2),
                _ => (None, at + 1),
            };
            if let Some(number) = number.filter(|number| *number > 0) {
                found.push((number, at..end));
            } else if word == "step" || word == "steps" {
                after_step = true;
            } else if word != "and" && word != "with" {
                after_step = false;
            }
            at = end;
        }
        found.dedup_by_key(|(number, _)| *number);
        found
    }

    pub(super) fn steps(&self) -> Vec<u8> {
        self.named_steps().into_iter().map(|(number, _)| number).collect()
    }

    pub(super) fn first_step(&self) -> Option<(u8, Range<usize>)> {
        self.named_steps().into_iter().next()
    }

    /// The one amount with the word after it, as its unit: "two and a half seconds", "half a minute", "3.5 metres". The
    /// number of a step is none.
    pub(super) fn amount(&self) -> Option<(f64, &str)> {
        let steps = self.named_steps();
        let mut found = Vec::new();
        let mut at = 0;
        while at < self.words.len() {
            let of_step = steps.iter().find(|(_, range)| range.contains(&at));
            let measured = match of_step {
                Some((_, range)) => {
                    at = range.end;
                    continue;
                }
                None => self.measure(at),
            };
            match measured {
                Some((amount, end)) => {
                    found.extend(self.word(end).map(|unit| (amount, unit)));
                    at = end;
                }
                None => at += 1,
            }
        }
        match found[..] {
            [(amount, unit)] => Some((amount, unit)),
            _ => None,
        }
    }

    fn measure(&self, at: usize) -> Option<(f64, usize)> {
        let unit = |at: usize| self.word(at).is_some_and(|w| UNITS.contains(&w));
        match (self.word(at)?, self.word(at + 1)) {
            ("half", Some("a" | "an")) if unit(at + 2) => return Some((0.5, at + 2)),
            ("a" | "an", Some(_)) if unit(at + 1) => return Some((1.0, at + 1)),
            _ => {}
        }
        let decimal = |at: usize| self.word(at).and_then(|word| word.parse::<f64>().ok());
        let (mut amount, mut end) = match self.number(at) {
            Some((number, end)) => (f64::from(number), end),
            None => (decimal(at).filter(|amount| amount.is_finite())?, at + 1),
        };
        if self.word(end) == Some("point")
            && let Some((tenths, after)) = self.number(end + 1).filter(|(tenths, _)| *tenths < 10)
        {
            (amount, end) = (amount + f64::from(tenths) / 10.0, after);
        }
        if [self.word(end), self.word(end + 1), self.word(end + 2)]
            == [Some("and"), Some("a"), Some("half")]
        {
            (amount, end) = (amount + 0.5, end + 3);
        }
        Some((amount, end))
    }
}

/// What "a" and "half a" are said with.
const UNITS: [&str; 6] = ["second", "minute", "meter", "metre", "seconds", "minutes"];
