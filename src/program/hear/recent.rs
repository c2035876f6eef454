//! The latest seconds of sound, by sample number.

use std::collections::VecDeque;

/// Sound that is still at hand.
pub(super) struct RecentSound {
    first: u64,
    samples: VecDeque<i16>,
    keep: usize,
}

impl RecentSound {
    /// Keeps the last `keep` samples.
    pub(super) fn new(keep: usize) -> Self {
        RecentSound { first: 0, samples: VecDeque::with_capacity(keep + 1), keep }
    }

    /// Number of the sample that comes next.
    pub(super) fn end(&self) -> u64 {
        self.first + self.samples.len() as u64
    }

    /// Forgets everything; the next sample is number `first`.
    pub(super) fn start_at(&mut self, first: u64) {
        self.samples.clear();
        self.first = first;
    }

    /// Takes the next sample.
    pub(super) fn push(&mut self, sample: i16) {
        self.samples.push_back(sample);
        if self.samples.len() > self.keep {
            self.samples.pop_front();
            self.first += 1;
        }
    }

    /// What is at hand of the samples from `from` up to `to`, and the number of its first.
    pub(super) fn between(&self, from: u64, to: u64) -> (u64, Vec<i16>) {
        let from = from.clamp(self.first, self.end());
        let to = to.clamp(from, self.end());
        let place = |number: u64| (number - self.first) as usize;
        (from, self.samples.range(place(from)..place(to)).copied().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gives_what_it_still_has() {
        let mut sound = RecentSound::new(4);
        (0..10).for_each(|sample| sound.push(sample));
        assert_eq!(sound.between(7, 9), (7, vec![7, 8]));
        assert_eq!(sound.between(0, 99), (6, vec![6, 7, 8, 9]));
        assert_eq!(sound.between(99, 200), (10, vec![]));
    }
}
