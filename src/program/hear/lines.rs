//! The lines that each recogniser is told to expect. Pure.
//!
//! The recogniser learns from them which words there are and which follow each other, and a line that
//! stands there more often is more likely.

use crate::interpret::Grammar;

/// Weight of a tag where there are tags alone.
const ALONE: usize = 6;
/// Weight of a tag beside ordinary words; of the pairs that a marker and its details make.
const AMONG: (usize, usize) = (150, 10);

/// Tags and nothing else.
pub(super) fn tags(grammar: &Grammar) -> Vec<String> {
    let mut lines = repeated(grammar.tags(), ALONE);
    lines.extend(grammar.pairs());
    lines
}

/// Tags among ordinary words and other sounds.
pub(super) fn open(grammar: &Grammar, ordinary: &[String]) -> Vec<String> {
    let mut lines = repeated(grammar.tags(), AMONG.0);
    lines.extend(repeated(grammar.pairs(), AMONG.1));
    lines.extend(ordinary.iter().cloned());
    lines.push("[unk]".to_owned());
    lines
}

/// Commands, with the attention word and without, among ordinary words and other sounds.
pub(super) fn commands(grammar: &Grammar, ordinary: &[String]) -> Vec<String> {
    let mut lines = repeated(grammar.called_commands(), AMONG.0);
    lines.extend(repeated(grammar.commands(), AMONG.0));
    lines.extend(ordinary.iter().cloned());
    lines.push("[unk]".to_owned());
    lines
}

fn repeated(lines: Vec<String>, times: usize) -> Vec<String> {
    lines.iter().flat_map(|line| std::iter::repeat_n(line.clone(), times)).collect()
}
