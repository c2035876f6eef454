//! The chance that a decline has begun, given what was seen so far.
//!
//! Before the decline each moment has a small chance (hazard) to be its beginning (Shiryaev 1963,
//! Theory Probab Appl 8:22); it then goes from small over middling to deep and ends in a standstill.
//! Each observation speaks for or against each stage with its likelihood ratio to the good state; the
//! chances follow from Bayes' theorem (forward filter of a hidden Markov chain, Rabiner 1989, Proc IEEE
//! 77:257). Alarming when the chance reaches `1 - a` is wrong in at most a share `a` of the cases, as
//! long as the model holds.

/// Stages of a decline: small, middling, deep, standstill.
pub const STAGES: usize = 4;

/// Odds that each stage has been reached, against the good state.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Onset {
    odds: [f64; STAGES],
}

impl Onset {
    /// Lets time pass: the decline may have begun with chance `hazard`, and each stage may have gone
    /// over into the next with chance `deepens`. Chances that are not numbers count as zero.
    #[must_use]
    pub fn passed(self, hazard: f64, deepens: f64) -> Self {
        let chance = |x: f64| if x > 0.0 { x.min(0.9) } else { 0.0 };
        let (hazard, deepens) = (chance(hazard), chance(deepens));
        let mut odds = [0.0; STAGES];
        let mut reached = hazard;
        for (stage, (to, from)) in odds.iter_mut().zip(self.odds).enumerate() {
            let leaves = if stage + 1 < STAGES { from * deepens } else { 0.0 };
            *to = ((from - leaves + reached) / (1.0 - hazard)).min(1e12);
            reached = leaves;
        }
        Onset { odds }
    }

    /// After something with these log likelihood ratios was seen. What is not a number says nothing.
    #[must_use]
    pub fn seen(self, log_ratios: [f64; STAGES]) -> Self {
        let mut odds = self.odds;
        for (odd, ratio) in odds.iter_mut().zip(log_ratios) {
            if !ratio.is_nan() {
                *odd = (*odd * ratio.clamp(-50.0, 50.0).exp()).min(1e12);
            }
        }
        Onset { odds }
    }

    /// Chance that the decline has begun.
    pub fn chance(&self) -> f64 {
        let odds: f64 = self.odds.iter().sum();
        odds / (1.0 + odds)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn follows_bayes_theorem() {
        let onset = Onset::default().passed(0.1, 0.0).seen([2.0_f64.ln(); STAGES]);
        // Prior odds 1 to 9, twice as likely if begun: 2/9 to 1.
        assert!((onset.chance() - 2.0 / 11.0).abs() < 1e-12);
        let onset = onset.passed(0.1, 0.3).seen([0.5_f64.ln(); STAGES]);
        // Deepening moves chance between the stages and makes none.
        let odds = (2.0 / 9.0 + 0.1) / 0.9 / 2.0;
        assert!((onset.chance() - odds / (1.0 + odds)).abs() < 1e-12);
        assert!(onset.passed(f64::NAN, f64::NAN).seen([f64::NAN; STAGES]).chance().is_finite());
    }
}
