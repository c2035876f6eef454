//! What is typed in place of words.

use minijinja::context;

use super::Desk;
use crate::interpret::{Details, Grammar, Said, nearest_phrase};
use crate::plan::{Command, Role, Words};
use crate::wording::filled;

/// What a typed line means; when it means nothing, that is reported.
pub(super) fn understood(line: &str, words: &Words, desk: &mut Desk) -> Vec<Said> {
    let said = typed(line, words);
    if said.is_empty() {
        let near = nearest_phrase(words, line);
        desk.printer.remark(&filled("screen.not_understood", context! { line, near }));
    }
    said
}

/// What words mean where an answer in free words may be given as well: a command needs the attention word before it.
/// An empty line is a marker.
pub(super) fn called(line: &str, words: &Words) -> Vec<Said> {
    if line.is_empty() {
        return vec![Said::Rep(Details::default())];
    }
    let line: Vec<&str> = line.split_whitespace().collect();
    let read = Grammar::new(words).parse(&line);
    read.into_iter().flatten().map(|reading| reading.said).collect()
}

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
    if let Some((ask, number)) = line.rsplit_once(' ')
        && let Ok(step @ 1..) = number.parse::<u8>()
        && let ask = ask.strip_prefix(&attention).unwrap_or(ask).trim()
        && words.work_on().iter().any(|phrase| phrase == ask)
    {
        return vec![Said::Command { command: Command::WorkOn(step) }];
    }
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
        let step_two = Said::Command { command: Command::WorkOn(2) };
        for line in ["step two", "juniper step two", "step 2", "juniper step 2"] {
            assert_eq!(typed(line, &words), std::slice::from_ref(&step_two), "{line}");
        }
        // In an answer in free words "stay" is a word like any other.
        assert!(called("stay", &words).is_empty());
        let stay = Said::Command { command: Command::Stay };
        assert_eq!(called("juniper stay", &words), [stay]);
        assert!(typed("nonsense", &words).is_empty());
        assert!(typed("step 0", &words).is_empty());
    }
}
