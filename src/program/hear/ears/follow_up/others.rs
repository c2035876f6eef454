//! Others who say the words: a parrot that repeats the marker, a child, a radio. They are told from the
//! trainer by their distance: what is much softer than the trainer's own tags of late is a doubt.

use std::collections::VecDeque;

/// This much softer. Chosen on the tuning half of the speakers; the trials stand in tests/bench.d/RESULTS.md.
const SOFTER_DB: f32 = 10.0;
/// Tags whose levels are remembered, and how many of them are enough to tell.
const REMEMBERED: usize = 12;
const ENOUGH: usize = 3;

/// How loud the latest tags were, also those of others: whoever moves away for good is believed after some uncertain tags.
#[derive(Debug, Clone, Default)]
pub(super) struct Levels(VecDeque<f32>);

impl Levels {
    /// Whether a tag of this level is by another; it is remembered.
    pub(super) fn is_another(&mut self, level_db: f32) -> bool {
        let is_another = self.is_softer(level_db);
        if self.0.len() == REMEMBERED {
            self.0.pop_front();
        }
        self.0.push_back(level_db);
        is_another
    }

    /// Whether this level is so much softer than the trainer's.
    pub(super) fn is_softer(&self, level_db: f32) -> bool {
        self.trainer().is_some_and(|trainer| level_db < trainer - SOFTER_DB)
    }

    /// The trainer is the loudest, and says a quarter of the tags at least: a parrot may repeat each of them twice.
    fn trainer(&self) -> Option<f32> {
        if self.0.len() < ENOUGH {
            return None;
        }
        let mut levels: Vec<f32> = self.0.iter().copied().collect();
        levels.sort_by(f32::total_cmp);
        levels.get(levels.len() * 3 / 4).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Which of these levels are by another.
    fn others(levels: &[f32]) -> Vec<bool> {
        let mut heard = Levels::default();
        levels.iter().map(|level| heard.is_another(*level)).collect()
    }

    #[test]
    fn a_parrot_that_repeats_each_marker_twice_is_another_and_the_trainer_never() {
        let (trainer, parrot) = (-20.0, -32.0);
        let levels: Vec<f32> = (0..60).map(|n| if n % 3 == 0 { trainer } else { parrot }).collect();
        for (place, is_another) in others(&levels).iter().enumerate().skip(ENOUGH) {
            assert_eq!(*is_another, place % 3 != 0, "{place}");
        }
    }

    #[test]
    fn a_trainer_who_steps_back_for_good_is_believed_after_some_uncertain_tags() {
        let levels: Vec<f32> = (0..40).map(|n| if n < 15 { -20.0 } else { -33.0 }).collect();
        let uncertain = others(&levels).iter().filter(|is_another| **is_another).count();
        assert!((5..=10).contains(&uncertain), "{uncertain}");
        let a_little = [-20.0, -24.0, -19.0, -26.0, -21.0, -28.0];
        assert!(!others(&a_little).contains(&true));
    }
}
