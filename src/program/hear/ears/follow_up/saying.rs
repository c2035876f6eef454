//! The latest tags that were said without much of a pause: talk that follows them shows that they were none. Pure.

use std::collections::VecDeque;

use crate::hear::Doubt;

/// Talk that begins this many steps after a tag shows that it was the beginning of talk.
pub(super) const RESUMES: usize = 30;

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

    /// The latest of it ended later than was thought.
    pub(super) fn goes_on_until(&mut self, step: usize) {
        if let Some(last) = self.0.back_mut() {
            last.end_step = last.end_step.max(step);
        }
    }

    /// The latest of it, which was never said.
    pub(super) fn take_last(&mut self) -> Option<Given> {
        self.0.pop_back()
    }

    /// All of it, as one, when what begins at step `began` follows closely.
    pub(super) fn before(&mut self, began: usize) -> Option<Given> {
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
pub(super) fn soon(end: usize, began: usize) -> bool {
    began.saturating_sub(end) <= RESUMES
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::at::At;
    use crate::interpret::OtherReading;

    fn at(step: usize) -> At {
        At::from_secs_f64(step as f64 / 100.0)
    }

    fn given(from: usize, words: &str) -> Given {
        let (words, other) = (words.to_owned(), OtherReading::Nothing);
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
