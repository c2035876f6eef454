//! Holes in a film's sound. Pure.
//!
//! Where a camera lost sound, an MP4 film has no silence but a jump in its times (ISO/IEC 14496-12, "Decoding Time to
//! Sample Box"): the piece before the hole simply lasts longer. Put together without it, everything after the hole
//! would come too early.

/// A jump smaller than this is left alone: about one piece of AAC. It is made up for once several have added up.
const LEAST_S: f64 = 0.02;
/// Silence for all holes together is at most this, so that a small damaged file does not become days of it.
const MOST_S: f64 = 4.0 * 3_600.0;

/// Follows how the times of a film's pieces and the sound in them go along.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Gaps {
    /// When the next piece should begin, by the sound so far.
    next_s: Option<f64>,
    put_in_s: f64,
}

impl Gaps {
    /// A piece begins at `begins_s` by the film's own times and holds `lasts_s` of sound: seconds of silence to put
    /// before it. Pieces that begin too early are only put in a row.
    pub(crate) fn before(&mut self, begins_s: f64, lasts_s: f64) -> f64 {
        let expected_s = self.next_s.unwrap_or(begins_s);
        let missing_s = begins_s - expected_s;
        let usable = missing_s > LEAST_S && self.put_in_s + missing_s <= MOST_S;
        let silence_s = if usable { missing_s } else { 0.0 };
        self.put_in_s += silence_s;
        self.next_s = Some(expected_s + silence_s + lasts_s);
        silence_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_hole_becomes_silence_and_even_pieces_none() {
        let mut gaps = Gaps::default();
        assert_eq!(gaps.before(-0.02, 0.02), 0.0, "the first piece may begin anywhere");
        assert_eq!(gaps.before(0.0, 0.02), 0.0);
        assert!((gaps.before(10.02, 0.02) - 10.0).abs() < 1e-9);
        assert!(gaps.before(10.04, 0.02).abs() < 1e-9);
        assert_eq!(gaps.before(5.0, 0.02), 0.0, "times that go back");
        assert_eq!(gaps.before(1e12, 0.02), 0.0, "a time that cannot be");
    }

    #[test]
    fn small_jumps_add_up() {
        let mut gaps = Gaps::default();
        let total: f64 = (0..1000).map(|n| gaps.before(f64::from(n) * 0.021, 0.020)).sum();
        assert!((total - 1.0).abs() <= LEAST_S + 1e-9, "{total}");
    }

    proptest! {
        #[test]
        fn whatever_the_times_silence_is_bounded(
            pieces in proptest::collection::vec((any::<f64>(), 0.0..1.0f64), 0..200),
        ) {
            let mut gaps = Gaps::default();
            let total: f64 = pieces.into_iter().map(|(begins, lasts)| gaps.before(begins, lasts)).sum();
            prop_assert!((0.0..=MOST_S).contains(&total), "{}", total);
        }
    }
}
