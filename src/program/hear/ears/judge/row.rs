//! A breath longer than any tag: talk, unless it is tag after tag without a pause, as a quick trainer says them.

use super::{Evidence, Judge, QUIET_BEFORE, Rules};
use crate::hear::segmenter::Segment;
use crate::hear::verdict::{self, Candidate};
use crate::interpret::Said;

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
        let kept = tags.readings.pop().map_or(0, |last| last.first);
        let last_s = tags.words[kept].start;
        tags.words.truncate(kept);
        self.after_talk = false;
        Some(Row { tags, last_s })
    }
}

/// What the breath is so far, if among ordinary words too it reads as tags that each stand alone.
fn tags_so_far(rules: &Rules, evidence: &mut impl Evidence) -> Option<Candidate> {
    let open = evidence.open()?;
    let readings = rules.grammar.parse(&open.first()?.texts())?;
    if readings.len() < MANY || !readings.iter().all(|reading| stands_alone(&reading.said)) {
        return None;
    }
    let candidate = verdict::candidate(&evidence.tags()?, &rules.grammar)?;
    (candidate.readings == readings).then_some(candidate)
}

fn stands_alone(said: &Said) -> bool {
    !matches!(said, Said::Detail(_) | Said::Change(_)) && !said.is_called()
}
