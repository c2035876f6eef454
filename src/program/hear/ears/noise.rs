//! Ears in noise: where speech stands little over it, one reading is often wrong, and several seldom in the same way.

use super::{Ears, LEAD, STEP};
use crate::hear::denoise::denoised;
use crate::hear::judge::{Gaps, together};
use crate::hear::recogniser::Alternative;
use crate::hear::stretch::Reader;

/// Speech whose loudest part is less than this over the noise, in dB, is read in several ways. Chosen on the tuning
/// half of the speakers, in babble 10 and 20 dB below them: tags that are right and within bounds went from 73 and
/// 92 % of 650 to 81 and 95 % with one more reading, by the Wiener filter, and to 83 and 95 % with both.
const NOISY_DB: f32 = 32.0;
/// The room's noise before a stretch, from which a filter learns: a second, and at least a quarter.
const LONGEST_ROOM: usize = 100;
const SHORTEST_ROOM: usize = 25;

/// A tag that is ahead by so much of everything else is right in noise too (99.4 % of 1105 in the same sets); one so
/// far behind ordinary words or nothing does not become one.
const AHEAD: f32 = 3.0;
const BEHIND: f32 = 15.0;

/// Whether a second look may change what a stretch is.
pub(super) fn is_unclear(gaps: Gaps) -> bool {
    let most = gaps.words.max(gaps.nothing);
    most > -AHEAD && most <= BEHIND
}

impl Ears {
    /// Keeps the room's noise before a stretch, if there is enough of it: quiet, or what the stretch rose from.
    pub(super) fn learn_room(&mut self, quiet_before: usize, first: u64) {
        // The stretch is read from a little before its beginning.
        let quiet = quiet_before.saturating_sub(LEAD).min(LONGEST_ROOM);
        let room = if self.gate.rose() { LONGEST_ROOM } else { quiet };
        let (_, before) = self.past.between(first.saturating_sub((room * STEP) as u64), first);
        if before.len() >= SHORTEST_ROOM * STEP {
            self.room = before;
        }
    }

    /// Whether the latest stretch stood little over the noise.
    pub(super) fn in_noise(&self) -> bool {
        self.gate.height() < NOISY_DB
    }

    /// The stretch with less of its noise, in two ways; none where it stands well over the noise.
    pub(super) fn ways(&self, first: u64, last: u64) -> Vec<Vec<i16>> {
        if !self.in_noise() || self.room.is_empty() {
            return Vec::new();
        }
        let (_, speech) = self.past.between(first, last);
        let whole: Vec<i16> = self.room.iter().chain(&speech).copied().collect();
        vec![self.wiener.filter(&self.room, &speech), denoised(&whole)[self.room.len()..].to_vec()]
    }
}

/// What a stretch is by the first reading and the same in other ways.
pub(super) fn with_ways(
    once: Vec<Alternative>,
    reader: &mut Reader,
    ways: &[Vec<i16>],
) -> Vec<Alternative> {
    let again = ways.iter().map(|samples| reader.whole(samples));
    together(std::iter::once(once).chain(again).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::judge::FAR;

    #[test]
    fn only_what_is_neither_sure_nor_hopeless_is_looked_at_again() {
        let unclear = |words, nothing| is_unclear(Gaps { words, more: -FAR, nothing });
        assert!(unclear(-2.9, -FAR) && unclear(-FAR, 2.0) && unclear(15.0, 0.0));
        assert!(!unclear(-3.0, -FAR), "sure");
        assert!(!unclear(15.1, -FAR) && !unclear(FAR, FAR), "hopeless");
    }
}
