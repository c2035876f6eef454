//! Numbers as they are said, to weights: "ninety two point five", "one kilo two hundred".

use std::collections::BTreeMap;

use serde::Deserialize;

const ENGLISH: &str = include_str!("../../../prompts/en/numbers.toml");

#[derive(Debug, Clone, Deserialize)]
struct Joints {
    a: String,
    and: String,
    point: String,
    half: String,
    hundred: String,
    thousand: String,
}

/// How one language says numbers.
#[derive(Debug, Clone, Deserialize)]
pub struct Numerals {
    digits: BTreeMap<String, u32>,
    teens: BTreeMap<String, u32>,
    tens: BTreeMap<String, u32>,
    words: Joints,
    weights: BTreeMap<String, f64>,
}

impl Numerals {
    /// English, from `prompts/en/numbers.toml`.
    pub fn english() -> Self {
        toml::from_str(ENGLISH).expect("a test reads the embedded numbers")
    }

    /// The one weight in a text, in grams; `None` when there is none, or more than one, since nothing
    /// is guessed. A number without a unit counts as grams.
    ///
    /// ```
    /// use hushtally_core::dialogue::Numerals;
    /// let english = Numerals::english();
    /// assert_eq!(english.weight("it is ninety two point five grams"), Some(92.5));
    /// assert_eq!(english.weight("two dogs and three cats"), None);
    /// ```
    pub fn weight(&self, text: &str) -> Option<f64> {
        let lower = text.to_lowercase();
        let words: Vec<&str> = lower
            .split(|c: char| !(c.is_alphanumeric() || c == '.'))
            .map(|word| word.trim_end_matches('.'))
            .filter(|word| !word.is_empty())
            .collect();
        let mut found = Vec::new();
        let mut place = 0;
        while place < words.len() {
            match self.measure(&words[place..]) {
                Some((grams, used)) => {
                    found.push(grams);
                    place += used;
                }
                None => place += 1,
            }
        }
        match found[..] {
            [grams] if grams > 0.0 => Some(grams),
            _ => None,
        }
    }

    /// The text as it is read aloud, in lower case, with its whole numbers below a thousand, and decimals, in words.
    ///
    /// ```
    /// use hushtally_core::dialogue::Numerals;
    /// let read = Numerals::english().read_aloud("Step 2: 45 reps, 5.9 a minute.");
    /// assert_eq!(read, "step two: forty five reps, five point nine a minute.");
    /// ```
    pub fn read_aloud(&self, text: &str) -> String {
        let mut out = String::new();
        let mut rest = text;
        while let Some(from) = rest.find(|c: char| c.is_ascii_digit()) {
            let digits = rest[from..].find(|c: char| !c.is_ascii_digit());
            let to = digits.map_or(rest.len(), |length| from + length);
            out.push_str(&rest[..from]);
            // "5.9" is one number, but the point of "Step 5." ends a sentence.
            let decimals = out.ends_with(&format!(" {} ", self.words.point));
            out.push_str(&self.spelt(&rest[from..to], decimals));
            rest = &rest[to..];
            if let Some(after) = rest.strip_prefix('.')
                && after.starts_with(|c: char| c.is_ascii_digit())
            {
                out.push_str(&format!(" {} ", self.words.point));
                rest = after;
            }
        }
        out.push_str(rest);
        out.to_lowercase()
    }

    /// Digits in words; digit by digit, or as one number.
    fn spelt(&self, digits: &str, one_by_one: bool) -> String {
        // Zero has two names; the last is the one for reading.
        fn name(names: &BTreeMap<String, u32>, value: u32) -> Option<&str> {
            names.iter().rfind(|(_, v)| **v == value).map(|(name, _)| name.as_str())
        }
        let below_hundred = |value: u32| match value {
            0..=9 => vec![name(&self.digits, value)],
            10..=19 => vec![name(&self.teens, value)],
            _ if value.is_multiple_of(10) => vec![name(&self.tens, value)],
            _ => vec![name(&self.tens, value - value % 10), name(&self.digits, value % 10)],
        };
        let words = match digits.parse::<u32>() {
            Ok(0..1000) if one_by_one => {
                digits.chars().filter_map(|c| c.to_digit(10)).flat_map(below_hundred).collect()
            }
            Ok(value @ 0..100) => below_hundred(value),
            Ok(value @ 100..1000) => {
                let mut words = below_hundred(value / 100);
                words.push(Some(self.words.hundred.as_str()));
                if value % 100 > 0 {
                    words.extend(below_hundred(value % 100));
                }
                words
            }
            _ => Vec::new(),
        };
        let words: Option<Vec<&str>> = words.into_iter().collect();
        words.filter(|words| !words.is_empty()).map_or(digits.to_owned(), |words| words.join(" "))
    }

    /// Numbers with their units, one after the other: "two pounds and three ounces".
    fn measure(&self, words: &[&str]) -> Option<(f64, usize)> {
        let (mut grams, mut used, mut smallest) = (0.0, 0, f64::INFINITY);
        loop {
            let rest = &words[used..];
            let skip = usize::from(used > 0 && rest.first() == Some(&self.words.and.as_str()));
            let Some((value, read)) = self.number(&rest[skip..]) else { break };
            let unit = rest.get(skip + read).and_then(|word| self.weights.get(*word)).copied();
            let factor = unit.unwrap_or(1.0);
            // Only a smaller unit goes on with the same weight.
            if factor >= smallest {
                break;
            }
            grams += value * factor;
            used += skip + read + usize::from(unit.is_some());
            smallest = factor;
            if unit.is_none() {
                break;
            }
        }
        (used > 0).then_some((grams, used))
    }

    /// A number at the start of `words`, and how many words it took.
    fn number(&self, words: &[&str]) -> Option<(f64, usize)> {
        if let Some(value) = words.first().and_then(|word| word.parse::<f64>().ok()) {
            return value.is_finite().then_some((value, 1));
        }
        let (mut value, mut used) = self.whole(words)?;
        let joints = &self.words;
        let at = |place: usize| words.get(place).copied();
        if at(used) == Some(joints.point.as_str()) {
            let digits: Vec<u32> = words[used + 1..]
                .iter()
                .map_while(|word| self.digits.get(*word).copied())
                .collect();
            if !digits.is_empty() {
                for (place, digit) in (1..).zip(&digits) {
                    value += f64::from(*digit) / 10f64.powi(place);
                }
                used += 1 + digits.len();
                // Tenths as they are written, not as they add up.
                let scale = 10f64.powi(i32::try_from(digits.len()).unwrap_or(9).min(9));
                value = (value * scale).round() / scale;
            }
        } else if at(used) == Some(joints.and.as_str())
            && at(used + 1) == Some(joints.a.as_str())
            && at(used + 2) == Some(joints.half.as_str())
        {
            value += 0.5;
            used += 3;
        }
        Some((value, used))
    }

    fn whole(&self, words: &[&str]) -> Option<(f64, usize)> {
        let joints = &self.words;
        let at = |place: usize| words.get(place).copied();
        let article = at(0) == Some(joints.a.as_str());
        let (mut value, mut used) = if article { (1, 1) } else { self.below_hundred(words)? };
        let big = |word: Option<&str>| {
            word == Some(joints.hundred.as_str()) || word == Some(joints.thousand.as_str())
        };
        if article && !big(at(1)) {
            return None;
        }
        let mut total = 0;
        while big(at(used)) {
            let thousand = at(used) == Some(joints.thousand.as_str());
            used += 1;
            value = value.checked_mul(if thousand { 1000 } else { 100 })?;
            let skip = usize::from(at(used) == Some(joints.and.as_str()));
            if let Some((small, read)) =
                words.get(used + skip..).and_then(|w| self.below_hundred(w))
            {
                used += skip + read;
                if big(at(used)) {
                    total += value;
                    value = small;
                } else {
                    value += small;
                }
            }
        }
        total += value;
        // "One twenty five" and digit by digit, as people read a scale.
        if used == 1 && (1..=9).contains(&total) {
            let rest = &words[1..];
            if let Some((small, read)) = self.below_hundred(rest).filter(|(small, _)| *small >= 10)
            {
                return Some((f64::from(total * 100 + small), 1 + read));
            }
            let digits: Vec<u32> =
                rest.iter().map_while(|word| self.digits.get(*word).copied()).take(5).collect();
            used += digits.len();
            total = digits.iter().fold(total, |total, digit| total * 10 + digit);
        }
        Some((f64::from(total), used))
    }

    fn below_hundred(&self, words: &[&str]) -> Option<(u32, usize)> {
        let first = words.first()?;
        if let Some(tens) = self.tens.get(*first) {
            let digit = words.get(1).and_then(|word| self.digits.get(*word)).filter(|d| **d > 0);
            return Some(digit.map_or((*tens, 1), |digit| (tens + digit, 2)));
        }
        self.teens.get(*first).or_else(|| self.digits.get(*first)).map(|value| (*value, 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_as_people_say_them() {
        let english = Numerals::english();
        for (said, grams) in [
            ("ninety two", 92.0),
            ("ninety two grams", 92.0),
            ("pepino weighs ninety two point five grams today", 92.5),
            ("one hundred and four", 104.0),
            ("a hundred and four grams", 104.0),
            ("one twenty five", 125.0),
            ("nine two point three", 92.3),
            ("one oh four", 104.0),
            ("four hundred twenty", 420.0),
            ("one kilo two hundred", 1200.0),
            ("one point two kilos", 1200.0),
            ("two and a half kilos", 2500.0),
            ("two thousand three hundred and fifty grams", 2350.0),
            ("one hundred and sixty kilos", 160_000.0),
            ("fourteen", 14.0),
            ("92.5 g", 92.5),
        ] {
            let found = english.weight(said);
            assert!(found.is_some_and(|found| (found - grams).abs() < 1e-9), "{said}: {found:?}");
        }
        let pounds = english.weight("two pounds three ounces").unwrap();
        assert!((pounds - (2.0 * 453.59237 + 3.0 * 28.349523125)).abs() < 1e-9);
    }

    #[test]
    fn numbers_are_read_as_words() {
        let english = Numerals::english();
        for (written, read) in [
            ("Step 2, touches it.", "step two, touches it."),
            ("17 reps in 2 minutes 50 seconds.", "seventeen reps in two minutes fifty seconds."),
            (
                "0.9 rewards, 92.55 grams",
                "zero point nine rewards, ninety two point five five grams",
            ),
            ("100 and 342", "one hundred and three hundred forty two"),
            ("It ended at 5.", "it ended at five."),
            ("98765 of them", "98765 of them"),
        ] {
            assert_eq!(english.read_aloud(written), read);
        }
    }

    #[test]
    fn nothing_is_guessed() {
        let english = Numerals::english();
        for said in
            ["", "heavy", "zero", "a bird", "ninety two or ninety three", "two cats and five dogs"]
        {
            assert_eq!(english.weight(said), None, "{said}");
        }
    }

    proptest::proptest! {
        #[test]
        fn no_text_panics(text in "([a-z0-9.]{1,6}|hundred|thousand|point|two|and|a|half|kilo| ){0,30}") {
            if let Some(grams) = Numerals::english().weight(&text) {
                proptest::prop_assert!(grams.is_finite() && grams > 0.0);
            }
        }
    }
}
