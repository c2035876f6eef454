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
/// Who reads does so about as loud from word to word. A word so much louder than the loudest of them is somebody else's, nearer
/// by: a trainer's beside a child who counts.
const NEARER_DB: f32 = 8.0;

/// What a segment was by its readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Was {
    Tags,
    /// Other words.
    Talk,
    /// None, or none that is known.
    Sound,
}

/// Other words that came one by one, up to the latest segment.
#[derive(Debug, Default)]
pub(super) struct WordByWord {
    others: Others,
    /// Where the latest segment began, and what was counted before it: what is judged again counts once.
    latest: Option<(usize, Others)>,
    /// The step after the latest words.
    end: usize,
}

/// How many they are, and the loudest of them in dB below full scale.
#[derive(Debug, Clone, Copy)]
struct Others {
    count: u8,
    loudest_db: f32,
}

impl Default for Others {
    fn default() -> Self {
        Others { count: 0, loudest_db: f32::NEG_INFINITY }
    }
}

impl WordByWord {
    /// Whether a segment is more likely one word of many that are not tags.
    pub(super) fn likely(&self, segment: &Segment) -> bool {
        let before = self.before(segment);
        before.count >= ENOUGH && segment.loudest_db < before.loudest_db + NEARER_DB
    }

    /// Takes what a segment was.
    pub(super) fn take(&mut self, segment: &Segment, was: Was) {
        let before = self.before(segment);
        self.latest = Some((segment.began, before));
        let short = segment.end - segment.began <= SHORT;
        self.others = match was {
            Was::Tags => match before.count.saturating_sub(OF_A_TAG) {
                0 => Others::default(),
                count => Others { count, ..before },
            },
            Was::Talk if short => Others {
                count: MOST.min(before.count + 1),
                loudest_db: before.loudest_db.max(segment.loudest_db),
            },
            Was::Talk | Was::Sound => before,
        };
        if was != Was::Sound {
            self.end = segment.end;
        }
    }

    /// What came before a segment, if it goes on from that.
    fn before(&self, segment: &Segment) -> Others {
        match self.latest {
            Some((began, before)) if began == segment.began => before,
            _ if segment.began.saturating_sub(self.end) <= PAUSE => self.others,
            _ => Others::default(),
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

    #[test]
    fn a_word_much_louder_than_those_before_is_somebody_else_s() {
        let mut words = WordByWord::default();
        let at = |began: usize, loudest_db| Segment { loudest_db, ..segment(began, began + 40) };
        for began in [100, 200, 300] {
            words.take(&at(began, -34.0), Talk);
        }
        assert!(words.likely(&at(400, -28.0)));
        assert!(!words.likely(&at(400, -22.0)));
        // What was judged once and is judged again is compared with the same words.
        words.take(&at(400, -22.0), Talk);
        assert!(!words.likely(&at(400, -22.0)));
    }

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
