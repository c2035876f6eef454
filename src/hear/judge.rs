//! Tag, doubt or talk: compares what the plan's words alone would make of a stretch with what ordinary
//! words would. Pure.

use super::recogniser::{Alternative, Placed};
use crate::interpret::{Grammar, Reading};

/// What a stretch of speech is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Verdict {
    /// These tags.
    Tags(Candidate),
    /// Perhaps these tags; the other reading is nearly as good or a little better.
    Doubt(Candidate, String),
    /// No tag.
    Other,
}

/// Words that make tags.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Candidate {
    pub(super) words: Vec<Placed>,
    pub(super) readings: Vec<Reading>,
}

/// By how much other readings beat the tag reading; negative when the tag is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gaps {
    /// The best reading with a word that is no tag.
    pub(super) words: f32,
    /// The reading of nothing at all.
    pub(super) nothing: f32,
}

/// A reading that is not in the list is so far behind.
pub(super) const FAR: f32 = 99.0;

/// How large a gap may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    /// Up to here it is a tag.
    pub(super) sure: f32,
    /// Up to here it may be one.
    pub(super) unsure: f32,
}

/// The best reading that is tags and nothing else.
pub(super) fn candidate(alternatives: &[Alternative], grammar: &Grammar) -> Option<Candidate> {
    alternatives.iter().find_map(|alternative| {
        let texts: Vec<&str> = alternative.words.iter().map(|word| word.text.as_str()).collect();
        let readings = grammar.parse(&texts)?;
        Some(Candidate { words: alternative.words.clone(), readings })
    })
}

/// How far `candidate` is behind the others among `open`, the readings with ordinary words.
pub(super) fn gaps(candidate: &Candidate, open: &[Alternative], grammar: &Grammar) -> Gaps {
    let same = |alternative: &&Alternative| {
        alternative.words.len() == candidate.words.len()
            && alternative.words.iter().zip(&candidate.words).all(|(a, b)| a.text == b.text)
    };
    let Some(own) = open.iter().find(same).map(|alternative| alternative.score) else {
        return Gaps { words: FAR, nothing: FAR };
    };
    let behind = |alternative: Option<&Alternative>| alternative.map_or(-FAR, |a| a.score - own);
    let is_other = |alternative: &&Alternative| {
        let texts: Vec<&str> = alternative.words.iter().map(|word| word.text.as_str()).collect();
        !texts.is_empty() && !texts.iter().all(|text| grammar.knows(text))
    };
    Gaps {
        words: behind(open.iter().find(is_other)),
        nothing: behind(open.iter().find(|alternative| alternative.words.is_empty())),
    }
}

/// The verdict over a stretch.
pub(super) fn judge(
    candidate: Candidate,
    gaps: Gaps,
    bounds: Bounds,
    open: &[Alternative],
    grammar: &Grammar,
) -> Verdict {
    let worst = gaps.words.max(gaps.nothing);
    if worst <= bounds.sure {
        return Verdict::Tags(candidate);
    }
    if worst <= bounds.unsure {
        let is_tags = |alternative: &&Alternative| {
            !alternative.words.is_empty()
                && alternative.words.iter().all(|word| grammar.knows(&word.text))
        };
        let other = open.iter().find(|a| !is_tags(a)).map(Alternative::text).unwrap_or_default();
        return Verdict::Doubt(candidate, other);
    }
    Verdict::Other
}

/// Whether it is people talking: at least two ordinary words.
pub(super) fn is_talk(open: &[Alternative]) -> bool {
    open.iter()
        .find(|alternative| !alternative.words.is_empty())
        .is_some_and(|best| best.words.iter().filter(|word| word.text != "[unk]").count() >= 2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Words;

    fn readings(list: &[(f32, &str)]) -> Vec<Alternative> {
        list.iter()
            .map(|(score, text)| Alternative {
                score: *score,
                words: text
                    .split_whitespace()
                    .map(|word| Placed { text: word.to_owned(), start: 0.0, end: 0.1 })
                    .collect(),
            })
            .collect()
    }

    fn verdict(tags: &[(f32, &str)], open: &[(f32, &str)]) -> Verdict {
        let grammar = Grammar::new(&Words::english());
        let (tags, open) = (readings(tags), readings(open));
        let Some(candidate) = candidate(&tags, &grammar) else { return Verdict::Other };
        let gaps = gaps(&candidate, &open, &grammar);
        judge(candidate, gaps, Bounds { sure: 0.0, unsure: 2.0 }, &open, &grammar)
    }

    #[test]
    fn an_empty_reading_does_not_hide_a_tag_but_another_word_does() {
        let tags = [(9.0, ""), (8.0, "yes")];
        assert!(matches!(verdict(&tags, &[(9.0, "yes"), (7.0, "yet")]), Verdict::Tags(_)));
        assert!(
            matches!(verdict(&tags, &[(9.0, "yet"), (8.5, "yes")]), Verdict::Doubt(_, other) if other == "yet")
        );
        assert_eq!(verdict(&tags, &[(9.0, "yet"), (5.0, "yes")]), Verdict::Other);
        assert_eq!(verdict(&tags, &[(9.0, ""), (5.0, "yes")]), Verdict::Other);
        assert_eq!(verdict(&tags, &[(9.0, "yet")]), Verdict::Other);
        assert_eq!(verdict(&[(9.0, "")], &[(9.0, "yes")]), Verdict::Other);
    }

    #[test]
    fn words_that_contradict_each_other_give_way_to_the_next_reading() {
        let tags = [(9.0, "yes one two"), (8.0, "yes two")];
        let Verdict::Tags(found) = verdict(&tags, &[(9.0, "yes two")]) else { panic!() };
        assert_eq!(found.words.len(), 2);
    }

    #[test]
    fn talk_is_more_than_one_ordinary_word() {
        assert!(is_talk(&readings(&[(1.0, ""), (0.5, "i think two")])));
        assert!(!is_talk(&readings(&[(1.0, "[unk] [unk]")])));
        assert!(!is_talk(&readings(&[(1.0, "oh")])));
        assert!(!is_talk(&[]));
    }
}
