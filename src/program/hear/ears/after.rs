//! What follows a tag: talk that shows that it was none, or only the sound around.

use std::collections::VecDeque;

use super::Ears;
use crate::hear::{Doubt, Heard, HeardTag};

/// Talk that begins this soon after a tag shows that it was the beginning of talk.
pub(super) const RESUMES: usize = 30;
/// Nobody goes on talking so much softer than the tag before.
const AROUND_DB: f32 = 12.0;
/// After so many steps the level of what has begun shows which it is.
const SHOWS: usize = 10;

/// Words that follow each other so closely are one saying: talk after "yes, yes" withdraws both. No more than these,
/// so that talk after a long row of markers does not cost them all.
const SAYINGS: usize = 3;

/// The latest tags.
#[derive(Debug, Clone)]
pub(super) struct Given {
    pub(super) end_step: usize,
    /// What becomes of them if they were the beginning of talk.
    pub(super) doubt: Doubt,
}

/// The latest tags that were said without much of a pause, oldest first.
#[derive(Debug, Clone, Default)]
pub(super) struct Saying(VecDeque<Given>);

impl Saying {
    /// Tags that began at step `began`.
    pub(super) fn add(&mut self, began: usize, given: Given) {
        if self.0.back().is_some_and(|last| !soon(last.end_step, began)) {
            self.0.clear();
        }
        if self.0.len() == SAYINGS {
            self.0.pop_front();
        }
        self.0.push_back(given);
    }

    /// All of it, as one, when what begins at step `began` follows closely.
    fn before(&mut self, began: usize) -> Option<Given> {
        let one = |all: Given, next: Given| Given {
            end_step: next.end_step,
            doubt: Doubt {
                end: next.doubt.end,
                words: format!("{} {}", all.doubt.words, next.doubt.words),
                ..all.doubt
            },
        };
        let said = std::mem::take(&mut self.0).into_iter().reduce(one)?;
        soon(said.end_step, began).then_some(said)
    }
}

/// Whether what begins at step `began` goes on from what ended at step `end`.
fn soon(end: usize, began: usize) -> bool {
    began.saturating_sub(end) <= RESUMES
}

impl Ears {
    /// The command that waited, once no talk followed it.
    pub(super) fn command_due(&mut self) -> Vec<Heard> {
        let undecided = |began| self.gate.steps() - began < SHOWS || !self.is_around();
        let is_due = self.waiting.as_ref().is_some_and(|(due, _)| self.gate.steps() >= *due);
        if !is_due || self.gate.began().is_some_and(undecided) {
            return Vec::new();
        }
        self.no_longer_waiting()
    }

    /// Keeps a tag that ended at step `end` until no talk can follow it; what waited before it comes now.
    pub(super) fn give_later(&mut self, end: usize, tag: HeardTag) -> Vec<Heard> {
        let before = self.no_longer_waiting();
        self.spoke_db = self.gate.loudest();
        self.waiting = Some((end + RESUMES, tag));
        before
    }

    /// The tag that waited, now: talk can no longer withdraw it, nor what came before it.
    pub(super) fn no_longer_waiting(&mut self) -> Vec<Heard> {
        let Some((_, tag)) = self.waiting.take() else { return Vec::new() };
        self.saying = Saying::default();
        vec![Heard::Tags(vec![tag])]
    }

    /// Talk that begins at `began` withdraws what was said just before; what waited longer comes now.
    pub(super) fn talk_goes_on(&mut self, began: usize, text: &str) -> Vec<Heard> {
        if self.is_around() {
            return Vec::new();
        }
        let (other, decided) = (text.to_owned(), self.now());
        let follows = |(due, _): &mut (usize, HeardTag)| soon(*due - RESUMES, began);
        if let Some((_, HeardTag { at, end, words, .. })) = self.waiting.take_if(follows) {
            return vec![Heard::Doubt(Doubt { at, end, words, other, decided })];
        }
        let mut heard = self.no_longer_waiting();
        heard.extend(
            self.saying
                .before(began)
                .map(|given| Heard::Withdrawn(Doubt { other, decided, ..given.doubt })),
        );
        heard
    }

    /// So much softer than what was said last, the present stretch is the sound around and not the trainer who goes on.
    fn is_around(&self) -> bool {
        self.gate.loudest() < self.spoke_db - AROUND_DB
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::at::At;

    fn at(step: usize) -> At {
        At::from_secs_f64(step as f64 / 100.0)
    }

    fn given(from: usize, words: &str) -> Given {
        let (words, other) = (words.to_owned(), String::new());
        let doubt =
            Doubt { at: at(from), end: at(from + 40), words, other, decided: at(from + 60) };
        Given { end_step: from + 40, doubt }
    }

    /// Tags of 0.4 s from these steps on: from which step on talk that begins at `talk` withdraws them, and their words.
    fn withdrawn(tags: &[(usize, &str)], talk: usize) -> Option<(At, String)> {
        let mut saying = Saying::default();
        tags.iter().for_each(|(from, words)| saying.add(*from, given(*from, words)));
        saying.before(talk).map(|all| (all.doubt.at, all.doubt.words))
    }

    #[test]
    fn talk_withdraws_all_that_was_said_with_it() {
        let both = Some((at(0), "yes yes".to_owned()));
        assert_eq!(withdrawn(&[(0, "yes"), (60, "yes")], 120), both, "yes, yes, I am coming");
        let last = Some((at(100), "two".to_owned()));
        assert_eq!(withdrawn(&[(0, "yes"), (100, "two")], 160), last, "the first was long before");
        assert_eq!(withdrawn(&[(0, "yes"), (60, "yes")], 180), None, "talk was long after");
        assert_eq!(withdrawn(&[], 10), None);
    }

    #[test]
    fn talk_after_a_row_of_markers_costs_the_last_three() {
        let row: Vec<_> = (0..10).map(|n| (n * 60, "yes")).collect();
        assert_eq!(withdrawn(&row, 600).map(|(since, _)| since), Some(at(7 * 60)));
    }
}
