//! The chance that success has fallen below what was usual, try by try, and that it has come back.
//!
//! Before each try success may have fallen, with a small chance, or have recovered, with another
//! (forward filter of a hidden Markov chain with two states, Rabiner 1989, Proc IEEE 77:257; with
//! nothing to recover from it is Shiryaev's rule, 1963, Theory Probab Appl 8:22). In a lapse the odds
//! of success are a half. What is usual is learnt from the tries that were probably no lapse.
//!
//! The constants were chosen on twelve of the 25 recordings of mice whose rewarded side was reversed
//! now and then; `reversals_called_share` of the bench reports the others. Tried and left: a plain sum
//! (CUSUM), runs of unknown length with a beta prior (Adams & MacKay 2007), two or three depths of
//! lapse, usual shares apart for tries after a success and after a miss.
//!
//! ```
//! use hushtally_stats::lapse::Lapse;
//! let mut lapse = Lapse::default();
//! for n in 0..40 {
//!     lapse.add(n % 6 != 0);
//! }
//! assert!(lapse.chance() < 0.5);
//! let spoke = (0..12).position(|n| lapse.add(n % 4 == 0));
//! assert!(spoke.is_some_and(|tries| tries < 12));
//! ```

/// Chance that success falls before a try, and that it recovers.
const FALLS: f64 = 0.02;
const RECOVERS: f64 = 0.01;
/// The odds of success in a lapse are one in this many of the usual.
const ODDS: f64 = 2.0;
/// An old try counts this much less with each newer one.
const FADES: f64 = 0.99;
/// Usual success is kept within these.
const RANGE: (f64, f64) = (0.3, 0.97);
/// What stands in while nothing is known: successes and misses.
const ASSUMED: [f64; 2] = [4.0, 1.0];
/// The chance from which a lapse is called, and below which the next may be.
const CALLED: f64 = 0.89;
const OVER: f64 = 0.6 * CALLED;

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lapse {
    chance: f64,
    /// Successes and misses.
    usual: [f64; 2],
    called: bool,
}

impl Default for Lapse {
    fn default() -> Self {
        Lapse { chance: 0.1, usual: ASSUMED, called: false }
    }
}

impl Lapse {
    /// Takes in a try; true when a lapse is called now: once for one lapse.
    pub fn add(&mut self, success: bool) -> bool {
        let usual = &mut self.usual;
        let well = (usual[0] / (usual[0] + usual[1])).clamp(RANGE.0, RANGE.1);
        let odds = well / (1.0 - well) / ODDS;
        let badly = odds / (1.0 + odds);
        let [likely_well, likely_badly] =
            [well, badly].map(|chance| if success { chance } else { 1.0 - chance });
        let before = self.chance * (1.0 - RECOVERS) + (1.0 - self.chance) * FALLS;
        let fallen = before * likely_badly;
        self.chance = fallen / (fallen + (1.0 - before) * likely_well);
        let counts = 1.0 - self.chance;
        let fades = 1.0 - (1.0 - FADES) * counts;
        usual.iter_mut().for_each(|count| *count *= fades);
        usual[usize::from(!success)] += counts;
        if self.chance < OVER {
            self.called = false;
        }
        self.chance >= CALLED && !std::mem::replace(&mut self.called, true)
    }

    /// The chance that success is lower than usual now.
    pub fn chance(&self) -> f64 {
        self.chance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By going through every path of the hidden state, with the usual chances that the filter had.
    #[test]
    fn the_filter_agrees_with_all_paths_counted() {
        let tries = [true, true, false, true, false, false, true, false, false, false];
        let mut lapse = Lapse::default();
        let mut likely = Vec::new();
        for success in tries {
            let usual = lapse.usual;
            let well = (usual[0] / (usual[0] + usual[1])).clamp(RANGE.0, RANGE.1);
            let odds = well / (1.0 - well) / ODDS;
            let badly = odds / (1.0 + odds);
            likely.push([well, badly].map(|p| if success { p } else { 1.0 - p }));
            lapse.add(success);
            let mut ends = [0.0, 0.0];
            for path in 0..1_u32 << (likely.len() + 1) {
                let state = |step: usize| (path >> step & 1) as usize;
                let mut chance = if state(0) == 1 { 0.1 } else { 0.9 };
                for (step, likely) in likely.iter().enumerate() {
                    let changes = [[1.0 - FALLS, FALLS], [RECOVERS, 1.0 - RECOVERS]];
                    chance *= changes[state(step)][state(step + 1)] * likely[state(step + 1)];
                }
                ends[state(likely.len())] += chance;
            }
            assert!((lapse.chance() - ends[1] / (ends[0] + ends[1])).abs() < 1e-12);
        }
    }

    #[test]
    fn one_lapse_is_called_once_and_the_next_again() {
        let mut lapse = Lapse::default();
        let mut calls = Vec::new();
        for n in 0..300_u32 {
            let lapsed = (100..130).contains(&n) || (200..230).contains(&n);
            let success = if lapsed { n % 5 == 0 } else { n % 8 != 0 };
            if lapse.add(success) {
                calls.push(n);
            }
        }
        assert_eq!(calls.len(), 2, "{calls:?}");
        assert!((100..115).contains(&calls[0]) && (200..215).contains(&calls[1]), "{calls:?}");
    }

    #[test]
    fn the_chance_stays_a_chance_whatever_comes() {
        let mut lapse = Lapse::default();
        for n in 0..20_000_u32 {
            lapse.add(n < 10_000);
            assert!((0.0..=1.0).contains(&lapse.chance()));
        }
    }
}
