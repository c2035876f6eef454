//! A breath longer than any tag: talk, unless it is tag after tag without a pause, as a quick trainer says them.

use super::{Ears, QUIET_BEFORE};
use crate::hear::Heard;
use crate::hear::judge::{self, Candidate};
use crate::hear::level::STEP;
use crate::interpret::Said;

/// So many tags that each stand alone fill a long breath; where there are fewer, there is talk between them.
const MANY: usize = 4;
const STEPS_A_SECOND: f32 = 100.0;

impl Ears {
    /// Decides over the stretch since `began`, which is too long for a tag and still goes on.
    pub(super) fn long_breath(&mut self, began: usize) -> Vec<Heard> {
        let after_talk = self.last_was_talk && self.quiet_before(began) < QUIET_BEFORE;
        if !after_talk && let Some(so_far) = self.tags_so_far(began) {
            return self.tag_after_tag(began, so_far);
        }
        self.talk = true;
        self.stop_reading();
        self.talk_goes_on(began, "")
    }

    /// What the breath is so far, if among ordinary words too it reads as tags that each stand alone.
    fn tags_so_far(&mut self, began: usize) -> Option<Candidate> {
        let (first, last) = (self.lead(began), self.past.end());
        let open = self.open.finish(&self.past, first, last);
        let readings = self.grammar.parse(&open.first()?.texts())?;
        if readings.len() < MANY || !readings.iter().all(|reading| stands_alone(&reading.said)) {
            return None;
        }
        let tags = self.tags.finish(&self.past, first, last);
        let candidate = judge::candidate(&tags, &self.grammar)?;
        (candidate.readings == readings).then_some(candidate)
    }

    /// Gives all but the last, which may be cut in its middle: the stretch goes on with that one.
    fn tag_after_tag(&mut self, began: usize, mut so_far: Candidate) -> Vec<Heard> {
        let first = self.lead(began);
        let kept = so_far.readings.pop().map_or(0, |last| last.first);
        let last_word_steps = (so_far.words[kept].start * STEPS_A_SECOND) as usize;
        so_far.words.truncate(kept);
        let cut = (first - self.origin) as usize / STEP + last_word_steps;
        let heard = self.give(began, cut, first, &so_far);
        self.gate.go_on_from(cut);
        self.went_on = Some(cut);
        self.last_end = Some(cut);
        self.last_was_talk = false;
        self.last_gave_tags = false;
        heard
    }
}

fn stands_alone(said: &Said) -> bool {
    !matches!(said, Said::Detail(_) | Said::Change(_) | Said::Command { .. })
}
