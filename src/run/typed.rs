//! What is typed in place of words.

use crate::interpret::{Details, Grammar, Said};
use crate::plan::{Role, Words};

/// What a typed line means by these words: an empty one is a marker, a number a step or a choice, the rest are the
/// words themselves; the attention word may be left out. Nothing when it is none of them.
pub(super) fn typed(line: &str, words: &Words) -> Vec<Said> {
    if line.is_empty() {
        return vec![Said::Rep(Details::default())];
    }
    if let Ok(step) = line.parse::<u8>() {
        return vec![Said::Detail(Details { step: Some(step), ..Details::default() })];
    }
    let attention = words.of(&Role::Attention).first().cloned().unwrap_or_default();
    let grammar = Grammar::new(words);
    let parse = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        grammar.parse(&words)
    };
    let read = parse(line).or_else(|| parse(&format!("{attention} {line}")));
    read.into_iter().flatten().map(|reading| reading.said).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Command;

    #[test]
    fn lines_mean_what_the_words_mean() {
        let words = Words::english();
        assert_eq!(typed("", &words), [Said::Rep(Details::default())]);
        assert_eq!(
            typed("3", &words),
            [Said::Detail(Details { step: Some(3), ..Details::default() })]
        );
        let begin = Said::Command { command: Command::Begin };
        assert_eq!(typed("begin", &words), std::slice::from_ref(&begin));
        assert_eq!(typed("juniper begin", &words), [begin]);
        assert!(typed("nonsense", &words).is_empty());
    }
}
