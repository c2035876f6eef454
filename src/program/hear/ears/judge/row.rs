//! A breath longer than any tag: talk, unless it is tag after tag without a pause, as a quick trainer says them.

use super::{Evidence, Judge, QUIET_BEFORE, Rules};
use crate::hear::segmenter::Segment;
use crate::hear::verdict::{self, Candidate};
use crate::interpret::{Reading, Said};

/// This many tags that each stand alone fill a long breath; where there are fewer, there is talk between them.
const MANY: usize = 4;

/// Tag after tag in one breath, which still goes on.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::hear::ears) struct Row {
    /// All but the last, which may be cut in its middle.
    pub(in crate::hear::ears) tags: Candidate,
    /// Where the last begins, in seconds from the first sample that was read.
    pub(in crate::hear::ears) last_s: f32,
}

impl Judge {
    /// The tags of a segment that is too long for one and still goes on; none when it is talk.
    pub(in crate::hear::ears) fn row(
        &mut self,
        segment: &Segment,
        rules: &Rules,
        evidence: &mut impl Evidence,
    ) -> Option<Row> {
        if self.after_talk && segment.quiet_before < QUIET_BEFORE {
            return None;
        }
        let mut tags = tags_so_far(rules, evidence)?;
        let last = tags.readings.pop()?;
        let last_s = tags.words[last.first].start;
        tags.words.truncate(last.first);
        self.after_talk = false;
        Some(Row { tags, last_s })
    }
}

/// What the breath is so far and one more, if among ordinary words too it reads as tags that each stand alone. The last,
/// which may be cut in its middle, one of the readings may lack.
fn tags_so_far(rules: &Rules, evidence: &mut impl Evidence) -> Option<Candidate> {
    let open = evidence.open()?;
    let open = rules.grammar.parse(&open.first()?.texts())?;
    let mut tags = verdict::candidate(&evidence.tags()?, &rules.grammar)?;
    let alone = |readings: &[Reading]| readings.iter().all(|it| stands_alone(&it.said));
    let (fewer, more) = (open.len().min(tags.readings.len()), open.len().max(tags.readings.len()));
    let same = tags.readings.iter().zip(&open).take(fewer - 1).all(|(a, b)| a == b);
    if fewer < MANY || more > fewer + 1 || !same || !alone(&open) || !alone(&tags.readings) {
        return None;
    }
    tags.readings.truncate(fewer);
    Some(tags)
}

fn stands_alone(said: &Said) -> bool {
    !matches!(said, Said::Detail(_) | Said::Change(_)) && !said.is_called()
}
