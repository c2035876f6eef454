//! What becomes of two opinions on one segment: the recogniser's, and that of what was learnt. Pure.

use super::matcher::Match;

/// What the recogniser made of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::hear) enum Recognised<'a> {
    /// These words, which are tags or a command.
    Sure(&'a str),
    /// Perhaps these.
    Unsure(&'a str),
    /// No tag; what it read instead.
    Nothing(&'a str),
}

/// What it is in the end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::hear) enum Outcome {
    /// As the recogniser says.
    AsRecognised,
    /// The learnt phrase.
    Learnt(String),
    /// Unsure, with two readings.
    Doubt {
        /// The likelier.
        words: String,
        /// The other.
        other: String,
    },
}

/// Weighs both. `same` tells whether two phrases mean the same, `mistaken` whether the recogniser took examples
/// of the second for the first while it was taught.
///
/// The recogniser heard a thousand people and this person never; what was learnt is from this person, and from
/// a few examples. So each helps where the other has nothing, and where both are sure of different tags nobody
/// knows; unless the recogniser has made just this mistake with this person before, for then its word says
/// nothing.
pub(in crate::hear) fn combine(
    recognised: Recognised,
    learnt: Option<Match>,
    same: impl Fn(&str, &str) -> bool,
    mistaken: impl Fn(&str, &str) -> bool,
) -> Outcome {
    use Recognised::{Nothing, Sure, Unsure};
    let doubt = |words: &str, other: &str| Outcome::Doubt {
        words: words.to_owned(),
        other: other.to_owned(),
    };
    match (recognised, learnt) {
        (_, None) => Outcome::AsRecognised,
        (Sure(words) | Unsure(words), Some(Match::Maybe(phrase))) if same(words, &phrase) => {
            Outcome::AsRecognised
        }
        (Sure(words), Some(Match::Sure(phrase))) if same(words, &phrase) => Outcome::AsRecognised,
        (Sure(words), Some(Match::Sure(phrase))) if mistaken(words, &phrase) => {
            Outcome::Learnt(phrase)
        }
        (Sure(words), Some(Match::Sure(phrase))) => doubt(words, &phrase),
        (Sure(words), Some(Match::Maybe(phrase))) if mistaken(words, &phrase) => {
            doubt(words, &phrase)
        }
        (Sure(_), Some(Match::Maybe(_))) => Outcome::AsRecognised,
        (Unsure(_) | Nothing(_), Some(Match::Sure(phrase))) => Outcome::Learnt(phrase),
        (Unsure(words), Some(Match::Maybe(phrase))) => doubt(words, &phrase),
        (Nothing(read), Some(Match::Maybe(phrase))) => doubt(&phrase, read),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(recognised: Recognised, learnt: Option<Match>) -> Outcome {
        combine(recognised, learnt, |a, b| a == b, |a, b| (a, b) == ("jazz", "yes"))
    }

    #[test]
    fn each_helps_where_the_other_has_nothing() {
        let yes = || Some(Match::Sure("yes".to_owned()));
        for recognised in [Recognised::Nothing("gas"), Recognised::Unsure("miss")] {
            assert_eq!(outcome(recognised, yes()), Outcome::Learnt("yes".to_owned()));
        }
        assert_eq!(outcome(Recognised::Sure("yes"), None), Outcome::AsRecognised);
        assert_eq!(outcome(Recognised::Sure("yes"), yes()), Outcome::AsRecognised);
        assert_eq!(outcome(Recognised::Nothing("gas"), None), Outcome::AsRecognised);
    }

    #[test]
    fn two_sure_opinions_that_differ_are_a_doubt_with_both() {
        let doubt = |words: &str, other: &str| Outcome::Doubt {
            words: words.to_owned(),
            other: other.to_owned(),
        };
        let sure = Some(Match::Sure("yes".to_owned()));
        assert_eq!(outcome(Recognised::Sure("miss"), sure), doubt("miss", "yes"));
        let sure = Some(Match::Sure("yes".to_owned()));
        assert_eq!(outcome(Recognised::Sure("jazz"), sure), Outcome::Learnt("yes".to_owned()));
        let maybe = || Some(Match::Maybe("yes".to_owned()));
        assert_eq!(outcome(Recognised::Sure("jazz"), maybe()), doubt("jazz", "yes"));
        assert_eq!(outcome(Recognised::Sure("miss"), maybe()), Outcome::AsRecognised);
        assert_eq!(outcome(Recognised::Unsure("miss"), maybe()), doubt("miss", "yes"));
        assert_eq!(outcome(Recognised::Nothing("gas"), maybe()), doubt("yes", "gas"));
        assert_eq!(outcome(Recognised::Unsure("yes"), maybe()), Outcome::AsRecognised);
    }
}
