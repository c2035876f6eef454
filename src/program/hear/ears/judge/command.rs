//! A call: the attention word, and the command after it.

use super::{Call, Evidence, Judge, Judged, Readings, Rules};
use crate::hear::ears::FOLLOWS;
use crate::hear::recogniser::{Alternative, spoken, texts};
use crate::hear::segmenter::Segment;
use crate::hear::verdict;
use crate::hear::{HeardTag, NO_COMMAND};

impl Judge {
    /// What a segment is when it is the attention word, with or without a command, or a command after it.
    pub(super) fn command(
        &mut self,
        segment: &Segment,
        read: &Readings,
        rules: &Rules,
        evidence: &mut impl Evidence,
    ) -> Option<Judged> {
        let grammar = &rules.grammar;
        let called = self.called.take().filter(|call| segment.began <= call.until);
        // Whether it begins with the attention word, and whether that is all.
        let calls = |alternatives: &[Alternative]| {
            let best = spoken(alternatives)?;
            let texts = best.texts();
            let length = grammar.called(&texts);
            (length > 0).then_some(length == texts.len())
        };
        let (by_tags, by_open) = (calls(&read.tags), calls(&read.open));
        if called.is_none() && by_tags.is_none() && by_open.is_none() {
            return None;
        }
        let read = evidence.commands();
        let in_noise = segment.stands_little_over_noise();
        let bounds = if in_noise { verdict::IN_NOISE } else { verdict::IN_QUIET };
        if let Some((said, opening, words)) =
            verdict::command(&read, called.is_some(), bounds, grammar)
        {
            let at = called.filter(|_| opening == 0).map_or(segment.onset, |call| call.at);
            return Some(Judged::Command(HeardTag {
                at,
                end: segment.moment(words.last().map_or(0.0, |word| word.end)),
                said,
                words: texts(&words).join(" "),
                decided: segment.decided(),
            }));
        }
        if by_open == Some(true) && by_tags == Some(true) {
            self.called = Some(Call { until: segment.end + FOLLOWS, at: segment.onset });
            return Some(Judged::Called);
        }
        // Called by name, and not understood: that is reported, not dropped.
        let best = spoken(&read).filter(|_| by_open.is_some() && by_tags.is_some())?;
        let (words, other) = (best.words.clone(), NO_COMMAND.to_owned());
        Some(Judged::Uncertain { words, other, talk: None })
    }
}
