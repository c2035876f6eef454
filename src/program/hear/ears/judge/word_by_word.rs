//! Words said one by one with pauses between, as children and learners read: each looks like a tag, and some sound like one
//! or are one. What tells is the words before: a trainer says tags, a reader mostly other words. Pure.

use crate::hear::segmenter::Segment;

/// Longer segments hold more than a word or two: they are talk of another kind, and count for nothing here.
const SHORT: usize = 120;
/// The next word comes this many steps of 10 ms later at most.
const PAUSE: usize = 200;
/// After so many other words, and no tag that outweighs them, a word is more likely one of them than a tag.
const ENOUGH: u8 = 3;
/// More other words than this prove no more, so that after talk only a few tags are doubted.
const MOST: u8 = 6;
/// One tag outweighs so many other words.
const OF_A_TAG: u8 = 2;

/// What a segment was by its readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Was {
    Tags,
    /// Other words.
    Talk,
    /// None, or none that is known.
    Sound,
}

/// How many other words came one by one, up to the latest segment.
#[derive(Debug, Default)]
pub(super) struct WordByWord {
    others: u8,
    /// Where the latest segment began, and what was counted before it: what is judged again counts once.
    latest: Option<(usize, u8)>,
    /// The step after the latest words.
    end: usize,
}

impl WordByWord {
    /// Whether a segment is more likely one word of many that are not tags.
    pub(super) fn likely(&self, segment: &Segment) -> bool {
        self.before(segment) >= ENOUGH
    }

    /// Takes what a segment was.
    pub(super) fn take(&mut self, segment: &Segment, was: Was) {
        let before = self.before(segment);
        self.latest = Some((segment.began, before));
        let short = segment.end - segment.began <= SHORT;
        self.others = match was {
            Was::Tags => before.saturating_sub(OF_A_TAG),
            Was::Talk if short => MOST.min(before + 1),
            Was::Talk | Was::Sound => before,
        };
        if was != Was::Sound {
            self.end = segment.end;
        }
    }

    /// How many came before a segment, if it goes on from them.
    fn before(&self, segment: &Segment) -> u8 {
        match self.latest {
            Some((began, before)) if began == segment.began => before,
            _ if segment.began.saturating_sub(self.end) <= PAUSE => self.others,
            _ => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Was::{Sound, Tags, Talk};
    use super::*;
    use crate::hear::fixture::segment;

    /// What a segment was, steps of quiet before it, and its length in steps.
    type Heard = (Was, usize, usize);

    /// Whether the last of these is doubted.
    fn last_is_doubted(said: &[Heard]) -> bool {
        let (mut words, mut step, mut doubted) = (WordByWord::default(), 0, false);
        for &(was, quiet, length) in said {
            let began = step + quiet;
            step = began + length;
            let segment = segment(began, step);
            doubted = words.likely(&segment);
            words.take(&segment, was);
            assert_eq!(words.likely(&segment), doubted, "judged again it is the same");
            words.take(&segment, was);
        }
        doubted
    }

    #[test]
    fn the_fourth_word_after_three_that_are_no_tags_is_doubted() {
        let word = (Talk, 60, 40);
        let tag = (Tags, 60, 40);
        let table: [(&[Heard], bool); 9] = [
            (&[word, word, word, tag], true),
            (&[word, word, tag], false),
            (&[word, word, word, (Sound, 60, 40), tag], true),
            (&[word, word, word, (Tags, PAUSE + 1, 40)], false),
            (&[word, word, (Talk, 60, SHORT + 1), tag], false),
            (&[word, word, word, (Talk, 60, SHORT + 1), tag], true),
            // A tag outweighs two words, so a trainer who talks between tags is heard.
            (&[word, word, tag, word, word, tag], false),
            (&[word, word, word, word, word, word, word, word, tag, tag], true),
            (&[word, word, word, word, word, word, word, word, tag, tag, tag], false),
        ];
        for (said, doubted) in table {
            assert_eq!(last_is_doubted(said), doubted, "{said:?}");
        }
    }
}
