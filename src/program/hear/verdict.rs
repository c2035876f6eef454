//! Tag, doubt or talk: compares what the plan's words alone would make of a segment with what ordinary
//! words would. Pure.

use super::model::Scores;
use super::recogniser::{Alternative, Placed, spoken};
use crate::interpret::{Grammar, Reading, Said};

/// What a segment of speech is.
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
    /// The best reading with a word that is not a tag.
    pub(super) words: f32,
    /// The best reading with the same tags and other words beside them.
    pub(super) more: f32,
    /// The reading of nothing at all.
    pub(super) nothing: f32,
}

impl Gaps {
    /// The tags were not read among ordinary words.
    pub(super) const HOPELESS: Gaps = Gaps { words: FAR, more: FAR, nothing: FAR };
}

/// A reading that is not in the list is so far behind.
pub(super) const FAR: f32 = 99.0;

/// How large a gap may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    /// To a reading with ordinary words: up to the first it is a tag, up to the second it may be one.
    pub(super) words: (f32, f32),
    /// To one with the same tags and other words beside them: up to this it is a tag.
    pub(super) more: f32,
    /// To the reading of nothing: up to the first it is a tag, up to the second it may be one.
    pub(super) nothing: (f32, f32),
}

/// Bounds for the scores of models as they are published, chosen on the tuning half of the speakers; the figures stand in
/// tests/bench.d/RESULTS.md. Whoever knows only tags reads "number one" as "one": so in quiet "one" must be well ahead of
/// "number one". In noise that would cost too many tags.
const AS_PUBLISHED: TagBounds = TagBounds {
    quiet: Bounds { words: (1.7, 3.5), more: -2.5, nothing: (0.6, 3.0) },
    noise: Bounds { words: (2.0, 3.5), more: FAR, nothing: (1.5, 3.0) },
};
/// For the scores of the model that was taught, alone; they are further apart and surer, but lean to nothing: in noise nothing
/// may be far ahead of a tag. Chosen on people of the tuning half whom its forerunner had not been taught with.
const TAUGHT: TagBounds = TagBounds {
    quiet: Bounds { words: (0.0, 2.5), more: -2.5, nothing: (1.5, 3.0) },
    noise: Bounds { words: (2.0, 3.5), more: FAR, nothing: (3.5, 4.5) },
};

/// For the readings of both models together, in noise. Chosen on the same people, with the readings of two runs of the same
/// teaching that had heard none of them, at no more wrong and false tags than the published model gives alone.
const BOTH_IN_NOISE: Bounds = Bounds { words: (1.8, 3.5), more: FAR, nothing: (3.5, 4.5) };

/// Bounds for what stands well over the room's noise, and for what does not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TagBounds {
    pub(super) quiet: Bounds,
    pub(super) noise: Bounds,
}

impl TagBounds {
    /// Bounds that fit the scores of a model.
    pub(super) fn of(scores: Scores) -> Self {
        match scores {
            Scores::Published => AS_PUBLISHED,
            Scores::Taught => TAUGHT,
            Scores::Both => TagBounds { quiet: AS_PUBLISHED.quiet, noise: BOTH_IN_NOISE },
        }
    }
}

impl Scores {
    /// What is further behind ordinary words or nothing does not become a tag in noise when it is read again by the same
    /// model; by one that knows noise it may, even where it was not among the readings.
    pub(super) fn behind(self) -> f32 {
        if self == Scores::Both { FAR } else { 15.0 }
    }
}

/// How sure a command must be: a wrong one does more harm than one that has to be said again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CommandBounds {
    /// So far it may be behind ordinary words, which hardly ever follow the attention word.
    pub(super) behind_words: f32,
    /// So far it is ahead of every other command.
    pub(super) ahead: f32,
}

/// Where speech stands well over the noise. Chosen on synthetic voices; the figures stand in tests/bench.d/RESULTS.md.
pub(super) const IN_QUIET: CommandBounds = CommandBounds { behind_words: 1.0, ahead: 1.5 };
/// Where it does not: chosen on the same voices with hiss or babble.
pub(super) const IN_NOISE: CommandBounds = CommandBounds { behind_words: 0.0, ahead: 2.0 };

/// Tags in one breath are rarer than one alone: the second and the third cost this much of a score each.
/// From there on it is somebody who says many, and one more is as likely.
const ONE_MORE: f32 = 2.0;

fn rarity(readings: &[Reading]) -> f32 {
    ONE_MORE * readings.len().saturating_sub(1).min(2) as f32
}

/// The best reading that is tags and nothing else.
pub(super) fn candidate(alternatives: &[Alternative], grammar: &Grammar) -> Option<Candidate> {
    let tags = alternatives.iter().filter_map(|alternative| {
        let texts = alternative.texts();
        let readings = grammar.parse(&texts)?;
        let score = alternative.score - rarity(&readings);
        Some((score, Candidate { words: alternative.words.clone(), readings }))
    });
    tags.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, candidate)| candidate)
}

/// Several lists of readings of the same segment as one: the mean distance of each reading to the best of its list.
/// What a list does not have is as far behind as its last, and one more.
pub(super) fn together(lists: Vec<Vec<Alternative>>) -> Vec<Alternative> {
    let mut lists: Vec<_> = lists.into_iter().filter(|list| !list.is_empty()).collect();
    if lists.len() < 2 {
        return lists.pop().unwrap_or_default();
    }
    let best = |list: &[Alternative]| list.iter().map(|a| a.score).fold(f32::MIN, f32::max);
    let behind = |list: &[Alternative], texts: &[&str]| {
        let last = list.iter().map(|a| a.score).fold(f32::MAX, f32::min);
        let own = list.iter().find(|alternative| alternative.texts() == texts);
        best(list) - own.map_or(last - 1.0, |alternative| alternative.score)
    };
    // Where the first list has a reading, its words stay where it put them.
    let mut all: Vec<Alternative> = Vec::new();
    for alternative in lists.iter().flatten() {
        if !all.iter().any(|known| known.texts() == alternative.texts()) {
            all.push(alternative.clone());
        }
    }
    let top = best(&lists[0]);
    for alternative in &mut all {
        let texts = alternative.texts();
        let sum: f32 = lists.iter().map(|list| behind(list, &texts)).sum();
        alternative.score = top - sum / lists.len() as f32;
    }
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    all
}

/// How far `candidate` is behind the others among `open`, the readings with ordinary words.
pub(super) fn gaps(candidate: &Candidate, open: &[Alternative], grammar: &Grammar) -> Gaps {
    let same = |alternative: &&Alternative| {
        alternative.words.len() == candidate.words.len()
            && alternative.words.iter().zip(&candidate.words).all(|(a, b)| a.text == b.text)
    };
    let Some(own) = open.iter().find(same).map(|alternative| alternative.score) else {
        return Gaps::HOPELESS;
    };
    let own = own - rarity(&candidate.readings);
    let behind = |alternative: Option<&Alternative>| alternative.map_or(-FAR, |a| a.score - own);
    let is_other = |alternative: &&Alternative| {
        let texts = alternative.texts();
        !texts.is_empty() && !texts.iter().all(|text| grammar.knows(text))
    };
    let has_them_all = |alternative: &&Alternative| {
        let texts = alternative.texts();
        candidate.words.iter().all(|word| texts.contains(&word.text.as_str()))
    };
    Gaps {
        words: behind(open.iter().find(is_other)),
        more: behind(open.iter().filter(is_other).find(has_them_all)),
        nothing: behind(open.iter().find(|alternative| alternative.words.is_empty())),
    }
}

/// The verdict over a segment.
pub(super) fn judge(
    candidate: Candidate,
    gaps: Gaps,
    bounds: Bounds,
    open: &[Alternative],
    grammar: &Grammar,
) -> Verdict {
    let alone = gaps.more <= bounds.more;
    if alone && gaps.words <= bounds.words.0 && gaps.nothing <= bounds.nothing.0 {
        return Verdict::Tags(candidate);
    }
    if gaps.words <= bounds.words.1 && gaps.nothing <= bounds.nothing.1 {
        let is_tags = |alternative: &&Alternative| {
            !alternative.words.is_empty()
                && alternative.words.iter().all(|word| grammar.knows(&word.text))
        };
        let other = open.iter().find(|a| !is_tags(a)).map(Alternative::text).unwrap_or_default();
        return Verdict::Doubt(candidate, other);
    }
    Verdict::Other
}

/// What is asked for in what follows the attention word: with the number of words that called, and all words.
/// `called`: the attention word came before this segment. `None` unless it is within `bounds`.
pub(super) fn command(
    read: &[Alternative],
    called: bool,
    bounds: CommandBounds,
    grammar: &Grammar,
) -> Option<(Said, usize, Vec<Placed>)> {
    let as_command = |alternative: &Alternative| {
        let texts = alternative.texts();
        let opening = grammar.called(&texts);
        let follows = opening > 0 || called;
        follows.then(|| grammar.command(&texts[opening..])).flatten().map(|found| (found, opening))
    };
    let enough = spoken(read)?.score - bounds.behind_words;
    let (best, (found, opening)) = read
        .iter()
        .filter(|alternative| alternative.score >= enough)
        .find_map(|alternative| Some((alternative, as_command(alternative)?)))?;
    let rival = read
        .iter()
        .filter(|other| as_command(other).is_some_and(|(command, _)| command != found))
        .map(|other| other.score)
        .reduce(f32::max);
    let sure = rival.is_none_or(|rival| best.score - rival >= bounds.ahead);
    sure.then(|| (found, opening, best.words.clone()))
}

/// Whether it is people talking: words rather than nothing, and not tags alone.
pub(super) fn is_talk(open: &[Alternative], grammar: &Grammar) -> bool {
    let ordinary = |alternative: &Alternative| {
        alternative.words.iter().any(|word| word.text != "[unk]" && !grammar.knows(&word.text))
    };
    match open.first() {
        Some(best) if best.words.is_empty() => false,
        Some(best) if best.words.iter().all(|word| word.text == "[unk]") => {
            open.iter().take(3).any(ordinary)
        }
        Some(best) => ordinary(best),
        None => false,
    }
}

/// Whether the best reading is known words, and not tags alone: what animals say is read as unknown ones as well.
pub(super) fn is_words(open: &[Alternative], grammar: &Grammar) -> bool {
    let texts = open.first().map(Alternative::texts).unwrap_or_default();
    !texts.contains(&"[unk]") && texts.iter().any(|text| !grammar.knows(text))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::fixture::readings;
    use crate::plan::{Command, Words};

    fn verdict(tags: &[(f32, &str)], open: &[(f32, &str)]) -> Verdict {
        let grammar = Grammar::new(&Words::english());
        let (tags, open) = (readings(tags), readings(open));
        let Some(candidate) = candidate(&tags, &grammar) else { return Verdict::Other };
        let gaps = gaps(&candidate, &open, &grammar);
        judge(
            candidate,
            gaps,
            Bounds { words: (0.0, 2.0), more: -2.5, nothing: (0.0, 2.0) },
            &open,
            &grammar,
        )
    }

    fn commanded(read: &[(f32, &str)], called: bool) -> Option<Command> {
        commanded_within(IN_NOISE, read, called)
    }

    fn commanded_within(
        bounds: CommandBounds,
        read: &[(f32, &str)],
        called: bool,
    ) -> Option<Command> {
        let grammar = Grammar::new(&Words::english());
        match command(&readings(read), called, bounds, &grammar)? {
            (Said::Command { command }, ..) => Some(command),
            (other, ..) => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_command_is_ahead_of_ordinary_words_and_of_other_commands() {
        let finish = (9.0, "juniper finish");
        assert_eq!(commanded(&[finish, (8.9, "juniper fish")], false), Some(Command::Finish));
        assert_eq!(commanded(&[(9.1, "juniper fish"), finish], false), None);
        assert_eq!(commanded(&[finish, (7.5, "juniper begin")], false), None);
        assert_eq!(commanded(&[finish, (6.5, "juniper begin")], false), Some(Command::Finish));
        assert_eq!(commanded(&[(9.0, "finish")], false), None);
        let a_little_behind = [(9.5, "juniper fish"), finish];
        assert_eq!(commanded_within(IN_QUIET, &a_little_behind, false), Some(Command::Finish));
        assert_eq!(commanded_within(IN_QUIET, &[finish, (7.9, "juniper begin")], false), None);
        assert_eq!(commanded(&[(9.0, "finish")], true), Some(Command::Finish));
        assert_eq!(commanded(&[(10.0, ""), (9.0, "finish")], true), Some(Command::Finish));
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
    fn a_tag_with_another_word_beside_it_is_not_a_tag_alone() {
        let tags = [(9.0, "one")];
        assert!(
            matches!(verdict(&tags, &[(9.0, "one"), (7.0, "number one")]), Verdict::Doubt(_, other) if other == "number one")
        );
        assert!(matches!(verdict(&tags, &[(9.0, "one"), (7.0, "wonder")]), Verdict::Tags(_)));
        assert!(matches!(verdict(&tags, &[(9.0, "one"), (6.0, "number one")]), Verdict::Tags(_)));
        assert!(matches!(verdict(&tags, &[(9.0, "one"), (8.0, "one two")]), Verdict::Tags(_)));
    }

    #[test]
    fn one_tag_is_likelier_than_two_that_sound_alike() {
        let Verdict::Tags(found) = verdict(&[(9.0, "miss yes"), (8.0, "yes")], &[(9.0, "yes")])
        else {
            panic!()
        };
        assert_eq!(found.words.len(), 1);
    }

    #[test]
    fn what_most_readings_agree_on_comes_first() {
        let lists = vec![
            readings(&[(9.0, "go"), (8.0, "no"), (5.0, "")]),
            readings(&[(30.0, "no"), (26.0, "")]),
            readings(&[(4.0, "no"), (3.5, "go")]),
            Vec::new(),
        ];
        let all = together(lists);
        let found: Vec<_> = all.iter().map(|a| (a.text(), (a.score * 10.0).round())).collect();
        // no: 1, 0 and 0 behind; go: 0, 5 and 0.5; nothing: 4, 4 and 1.5.
        let expected = [("no", 87.0), ("go", 72.0), ("", 58.0)];
        assert_eq!(found, expected.map(|(text, score)| (text.to_owned(), score)));
        assert_eq!(together(vec![readings(&[(9.0, "go")])])[0].text(), "go");
        assert!(together(Vec::new()).is_empty());
    }

    #[test]
    fn talk_is_words_that_are_not_tags() {
        let grammar = Grammar::new(&Words::english());
        let talk = |list: &[(f32, &str)]| is_talk(&readings(list), &grammar);
        assert!(talk(&[(1.0, "i think two"), (0.5, "")]));
        assert!(talk(&[(1.0, "[unk]"), (0.5, "i think")]));
        assert!(!talk(&[(1.0, ""), (0.5, "i think two")]));
        assert!(!talk(&[(1.0, "[unk] [unk]")]));
        assert!(!talk(&[(1.0, "yes two"), (0.5, "yet")]));
        assert!(!talk(&[]));
    }
}
