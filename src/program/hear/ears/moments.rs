//! Tags and uncertain tags with their moments, out of words that the recogniser placed. Pure.

use crate::hear::recogniser::{Placed, texts};
use crate::hear::segmenter::{EARLY_S, Segment};
use crate::hear::verdict::Candidate;
use crate::hear::{Doubt, HeardTag};
use crate::interpret::Reading;

/// The tags of a segment, in the order of their onsets.
pub(super) fn tags(segment: &Segment, candidate: &Candidate) -> Vec<HeardTag> {
    let tag = |reading: &Reading| {
        let words = &candidate.words[reading.first..reading.end];
        HeardTag {
            at: match reading.first {
                0 => segment.onset,
                first => segment.moment(candidate.words[first].start + EARLY_S),
            },
            end: segment.moment(candidate.words[reading.end - 1].end),
            said: reading.said.clone(),
            words: texts(words).join(" "),
            decided: segment.decided(),
        }
    };
    candidate.readings.iter().map(tag).collect()
}

/// What may be a tag, with the other reading.
pub(super) fn uncertain(segment: &Segment, words: &[Placed], other: String) -> Doubt {
    Doubt {
        at: segment.onset,
        end: words.last().map_or(segment.onset, |word| segment.moment(word.end)),
        words: texts(words).join(" "),
        other: other.into(),
        decided: segment.decided(),
    }
}
