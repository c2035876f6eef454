//! Sentences about a plan's steps: "step four is too big, split it". Pure: words in, a change out.

use super::edit::StepChange;

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
const TENS: [(&str, u8); 4] = [("twenty", 20), ("thirty", 30), ("forty", 40), ("fifty", 50)];
const ORDINALS: [&str; 11] = [
    "zeroth", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
    "tenth",
];
const TOO_BIG: [&str; 6] = ["split", "break", "divide", "smaller", "halve", "big"];
const MERGE: [&str; 5] = ["merge", "join", "together", "combine", "small"];

/// What a sentence asks for; `None` when it does not name one step and one change. `working` is the step that
/// "this step" means.
///
/// ```
/// use hushtally_core::plan::{StepChange, asked};
/// let change = asked("step four is too big, split it", 1).unwrap();
/// assert_eq!(change, StepChange::Split { step: 4, into: Vec::new() });
/// ```
pub fn asked(sentence: &str, working: u8) -> Option<StepChange> {
    let (order, names) = match sentence.split_once(" into ") {
        Some((order, names)) if !names.contains("step") => (order, names),
        _ => (sentence, ""),
    };
    let lower = order.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let says = |any: &[&str]| words.iter().any(|word| any.contains(word));
    let steps = numbers(&words, working);
    let negated = says(&["not", "don", "never"]);
    match (says(&TOO_BIG), says(&MERGE), &steps[..]) {
        _ if negated => None,
        (true, false, [step]) => Some(StepChange::Split { step: *step, into: parts(names) }),
        (false, true, [step]) => Some(StepChange::Merge { step: *step }),
        (false, true, [a, b]) if a.abs_diff(*b) == 1 => Some(StepChange::Merge { step: *a.min(b) }),
        _ => None,
    }
}

/// Steps that are named, in order, each once.
fn numbers(words: &[&str], working: u8) -> Vec<u8> {
    let mut found = Vec::new();
    let mut after_step = false;
    let mut index = 0;
    while index < words.len() {
        let word = words[index];
        let tens = TENS.iter().find(|(name, _)| *name == word).map(|(_, tens)| *tens);
        let one = |word: &str| ONES.iter().position(|name| *name == word).map(|n| n as u8);
        let cardinal = match tens {
            Some(tens) => {
                let ones =
                    words.get(index + 1).and_then(|next| one(next)).filter(|n| (1..10).contains(n));
                index += usize::from(ones.is_some());
                Some(tens + ones.unwrap_or(0))
            }
            None => one(word).or_else(|| word.parse().ok()),
        };
        let ordinal = ORDINALS.iter().position(|name| *name == word).map(|n| n as u8);
        let next_is_step = words.get(index + 1) == Some(&"step");
        if let Some(number) = cardinal.filter(|n| after_step && *n > 0) {
            found.push(number);
        } else if let Some(number) = ordinal.filter(|_| next_is_step) {
            found.push(number);
        } else if word == "this" && next_is_step {
            found.push(working);
        } else if word == "step" || word == "steps" {
            after_step = true;
        } else if word != "and" && word != "with" {
            after_step = false;
        }
        index += 1;
    }
    found.dedup();
    found
}

/// "looking, reaching and touching" as three names.
fn parts(names: &str) -> Vec<String> {
    names
        .split([',', ';'])
        .flat_map(|part| part.split(" and "))
        .map(|part| part.trim().trim_end_matches('.').to_owned())
        .filter(|part| !part.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(step: u8) -> Option<StepChange> {
        Some(StepChange::Split { step, into: Vec::new() })
    }

    #[test]
    fn sentences_that_name_one_step_and_one_change() {
        for sentence in [
            "step four is too big, split it",
            "Split step 4.",
            "please break step four up",
            "the fourth step should be smaller",
        ] {
            assert_eq!(asked(sentence, 2), split(4), "{sentence}");
        }
        assert_eq!(asked("this step is too big", 2), split(2));
        assert_eq!(asked("split step twenty one", 2), split(21));
        for sentence in
            ["merge steps three and four", "join step 4 with step 3", "merge step three"]
        {
            assert_eq!(asked(sentence, 2), Some(StepChange::Merge { step: 3 }), "{sentence}");
        }
        let into = vec!["looks".to_owned(), "leans over".to_owned(), "touches".to_owned()];
        let said = asked("split step two into looks, leans over and touches.", 1);
        assert_eq!(said, Some(StepChange::Split { step: 2, into }));
    }

    #[test]
    fn anything_else_changes_nothing() {
        for sentence in [
            "",
            "split it",
            "step four went well",
            "do not split step four",
            "don't split step four",
            "split step two and merge step three",
            "merge steps one and five",
            "split steps one and two",
            "that was a big day, four treats left",
            "split step zero",
        ] {
            assert_eq!(asked(sentence, 2), None, "{sentence}");
        }
    }
}
