//! Cumulative sums that learn the usual level on the way, so that an animal's first session can be
//! watched too (Hawkins 1987, The Statistician 36:299: self-starting CUSUM for location).
//!
//! What is known of a level is a normal–gamma distribution (Gelman et al., Bayesian Data Analysis,
//! section 3.3); a new value is turned into the normal score of its predictive Student
//! distribution, which is standard normal as long as nothing changes, however little is known yet.

use super::{StatsError, finite, positive};

/// What is known of normal values (such as log times) before and while they come in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learnt {
    /// The level, worth so many values.
    mean: f64,
    worth: f64,
    /// Sum of squares about the level, worth so many values.
    squares: f64,
    degrees: f64,
}

impl Learnt {
    /// Knows a level as well as `worth` values would show it (zero: not at all), and a standard
    /// deviation as well as `degrees` values would.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless `sd` and `degrees` are above zero, `worth` is not negative and
    /// all are finite.
    pub fn new(mean: f64, worth: f64, sd: f64, degrees: f64) -> Result<Self, StatsError> {
        let (sd, degrees) = (positive("the sd", sd)?, positive("the degrees of freedom", degrees)?);
        if worth != 0.0 {
            positive("the worth of the mean", worth)?;
        }
        Ok(Learnt { mean: finite("the mean", mean)?, worth, squares: sd * sd * degrees, degrees })
    }

    /// Takes in a value; one that is not finite changes nothing.
    pub fn learn(&mut self, value: f64) {
        if !value.is_finite() {
            return;
        }
        let off = value - self.mean;
        // The first value of an unknown level shows nothing of the scatter.
        if self.worth > 0.0 {
            self.degrees += 1.0;
        }
        self.squares += off * off * self.worth / (self.worth + 1.0);
        self.worth += 1.0;
        self.mean += off / self.worth;
    }

    /// The level as known now.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The standard deviation as known now.
    pub fn sd(&self) -> f64 {
        (self.squares / self.degrees).sqrt()
    }

    /// Whether the level is known at all.
    pub fn knows(&self) -> bool {
        self.worth > 0.0
    }

    /// Normal score of the next value: standard normal while nothing changes. `None` while no level
    /// is known. The Student score is made normal by Wallace (1959, Ann Math Stat 30:1121).
    pub fn score(&self, value: f64) -> Option<f64> {
        if !self.knows() || !value.is_finite() {
            return None;
        }
        let t = (value - self.mean) / self.spread();
        let n = self.degrees;
        let z = correction(n) * (n * (t * t / n).ln_1p()).sqrt();
        Some(z.copysign(t))
    }

    /// The value with this score: the inverse of [`Self::score`].
    pub fn value_of(&self, score: f64) -> Option<f64> {
        if !self.knows() || !score.is_finite() {
            return None;
        }
        let n = self.degrees;
        let z = score / correction(n);
        let t = (n * (z * z / n).exp_m1()).sqrt();
        Some(self.mean + t.copysign(score) * self.spread())
    }

    /// Scale of the predictive distribution.
    fn spread(&self) -> f64 {
        self.sd().max(1e-6) * (1.0 + 1.0 / self.worth).sqrt()
    }
}

fn correction(degrees: f64) -> f64 {
    (8.0 * degrees + 1.0) / (8.0 * degrees + 3.0)
}

/// Threshold of a one-sided sum of standard normal scores less `k`, with `wanted` scores between
/// false alarms on average: Siegmund's approximation (1985, Sequential Analysis, section II.3), whose
/// error against the exact chain is a few per cent. At least 1, so that no single score alarms
/// from a standstill.
pub fn quick_threshold(k: f64, wanted: f64) -> f64 {
    // Mean run length (e^x - 1 - x) / (2 k^2) with x = 2 k (h + 1.166).
    let target = 2.0 * k * k * wanted.max(1.0);
    let mut x = (1.0 + target).ln();
    for _ in 0..8 {
        let value = x.exp() - 1.0 - x - target;
        x = (x - value / x.exp_m1().max(1e-9)).max(1e-6);
    }
    (x / (2.0 * k) - 1.166).max(1.0)
}

/// Threshold, in misses, of a sum of Bernoulli trials (steps `miss - reference`, see
/// [`super::cusum::MissShift`]) whose odds of a miss multiply by `odds`, with `wanted` trials
/// between false alarms on average: corrected diffusion of Reynolds & Stoumbos (1999, J Qual Technol
/// 31:87; polynomial from memory), checked against the exact chain.
pub fn quick_miss_threshold(miss: f64, odds: f64, wanted: f64) -> f64 {
    let p = miss.clamp(0.01, 0.5);
    let worse = p * odds / (1.0 - p + p * odds);
    let (r1, r2) = (((1.0 - p) / (1.0 - worse)).ln(), odds.ln());
    let l = p.ln();
    let overshoot =
        0.410 - 0.0842 * l - 0.0391 * l.powi(3) - 0.00376 * l.powi(4) - 0.000_008 * l.powi(7);
    let drift = (r1 - r2 * p).abs();
    // (e^x - x - 1) / drift trials, with x = r2 (h + overshoot sqrt(p q)).
    let target = wanted.max(1.0) * drift;
    let mut x = (1.0 + target).ln();
    for _ in 0..8 {
        let value = x.exp() - x - 1.0 - target;
        x = (x - value / x.exp_m1().max(1e-9)).max(1e-6);
    }
    (x / r2 - overshoot * (p * (1.0 - p)).sqrt()).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::super::cusum::{MissShift, normal_run_length};
    use super::*;

    #[test]
    fn scores_and_values_are_inverse() {
        let mut learnt = Learnt::new(0.0, 0.0, 0.5, 4.0).unwrap();
        assert_eq!(learnt.score(1.0), None);
        for value in [0.7, 0.9, 0.4, 1.3] {
            learnt.learn(value);
        }
        assert!((learnt.mean() - 0.825).abs() < 1e-12);
        for z in [-2.0, 0.0, 0.3, 2.5] {
            let back = learnt.score(learnt.value_of(z).unwrap()).unwrap();
            assert!((back - z).abs() < 1e-9, "{z} {back}");
        }
    }

    /// Student quantiles: t(0.975, 5) = 2.570582, t(0.95, 10) = 1.812461 (any printed table).
    #[test]
    fn wallace_is_close_to_the_exact_score() {
        for (degrees, t, z) in [(5.0, 2.570_582, 1.959_964), (10.0, 1.812_461, 1.644_854)] {
            // A level known beyond doubt leaves only the scatter in doubt.
            let learnt = Learnt::new(0.0, 1e12, 1.0, degrees).unwrap();
            assert!((learnt.score(t).unwrap() - z).abs() < 0.01);
        }
    }

    /// Whatever little is known at first, good work alarms as seldom as wanted.
    #[test]
    fn learning_on_the_way_keeps_the_run_length() {
        use rand_distr::{Distribution, Normal};
        let (k, wanted) = (0.5, 200.0);
        let h = quick_threshold(k, wanted);
        let mut dice: rand_chacha::ChaCha8Rng = rand::SeedableRng::seed_from_u64(5);
        let usual = Normal::new(1.3, 0.4).unwrap();
        let runs = 2000;
        let mut steps = 0_u32;
        for _ in 0..runs {
            let mut learnt = Learnt::new(0.0, 0.0, 0.5, 4.0).unwrap();
            let mut sum = 0.0_f64;
            while sum < h {
                let value = usual.sample(&mut dice);
                if let Some(score) = learnt.score(value) {
                    sum = (sum + score - k).max(0.0);
                }
                learnt.learn(value);
                steps += 1;
            }
        }
        let mean = f64::from(steps) / f64::from(runs);
        assert!((0.85..1.35).contains(&(mean / wanted)), "{mean}");
    }

    #[test]
    fn quick_threshold_agrees_with_the_chain() {
        for k in [0.25, 0.5, 0.75] {
            for wanted in [100.0, 500.0, 2000.0] {
                let h = quick_threshold(k, wanted);
                let exact = normal_run_length(k, h, 0.0, 0.0).unwrap();
                assert!((exact / wanted - 1.0).abs() < 0.08, "k {k} wanted {wanted}: {exact}");
            }
        }
    }

    #[test]
    fn quick_miss_threshold_agrees_with_the_chain() {
        for miss in [0.1, 0.2, 0.3, 0.4] {
            let worse = miss * 3.0 / (1.0 - miss + miss * 3.0);
            let shift = MissShift::new(miss, worse).unwrap();
            for wanted in [200.0, 1000.0, 4000.0] {
                let h = quick_miss_threshold(miss, 3.0, wanted);
                // The grid between two values of the sum makes the true run length a staircase.
                let exact = shift.run_length(h, miss).unwrap();
                assert!((0.6..1.7).contains(&(exact / wanted)), "{miss} {wanted} {h}: {exact}");
            }
        }
    }
}
