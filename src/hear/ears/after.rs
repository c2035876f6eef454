//! What follows a tag: talk that shows that it was none, or only the sound around.

use super::Ears;
use crate::hear::{Doubt, Heard};

/// Talk that begins this soon after a tag shows that it was the beginning of talk.
pub(super) const RESUMES: usize = 30;
/// Nobody goes on talking so much softer than the tag before.
const AROUND_DB: f32 = 12.0;
/// After so many steps the level of what has begun shows which it is.
const SHOWS: usize = 10;

/// The latest tags.
#[derive(Debug, Clone)]
pub(super) struct Given {
    pub(super) end_step: usize,
    pub(super) tags: usize,
    /// What becomes of them if they were the beginning of talk.
    pub(super) doubt: Doubt,
}

impl Ears {
    /// The command that waited, once no talk followed it.
    pub(super) fn command_due(&mut self) -> Option<Heard> {
        let undecided = |began| self.gate.steps() - began < SHOWS || !self.is_around();
        if self.gate.began().is_some_and(undecided) {
            return None;
        }
        let (_, tag) = self.waiting.take_if(|(due, _)| self.gate.steps() >= *due)?;
        Some(Heard::Tags(vec![tag]))
    }

    /// Talk that begins at `began` withdraws what was given just before.
    pub(super) fn talk_goes_on(&mut self, began: usize, text: &str) -> Option<Heard> {
        if self.is_around() {
            return None;
        }
        let soon = |end: usize| began.saturating_sub(end) <= RESUMES;
        if let Some((due, tag)) = self.waiting.take() {
            let (words, decided) = (tag.words, self.now());
            let doubt = Doubt { at: tag.at, end: tag.end, words, other: text.to_owned(), decided };
            return soon(due - RESUMES).then_some(Heard::Doubt(doubt));
        }
        let given = self.given.take().filter(|given| soon(given.end_step))?;
        let doubt = Doubt { other: text.to_owned(), decided: self.now(), ..given.doubt };
        Some(Heard::Withdrawn { tags: given.tags, doubt })
    }

    /// So much softer than what was said last, the present stretch is the sound around and not the trainer who goes on.
    fn is_around(&self) -> bool {
        self.gate.loudest() < self.spoke_db - AROUND_DB
    }
}
