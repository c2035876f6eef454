//! How long good work lasts before a decline begins: a log-normal time, known from earlier sessions of
//! which some were over before any decline.
//!
//! The mean log is fitted to what was seen and what was cut off (Schmee & Hahn 1979, Technometrics
//! 21:417: a cut-off time counts as what it would have become on average), with a wide prior about the
//! planned length; the scatter from day to day is assumed. The hazard of the predictive distribution
//! then says how likely a decline begins just now.

use super::tails::normal_cdf;

/// Scatter of the log times from day to day (an assumption).
const DAYS: f64 = 0.35;
/// Uncertainty of the mean log before any session.
const UNKNOWN: f64 = 0.7;

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GoodTime {
    mean: f64,
    sd: f64,
}

impl GoodTime {
    /// From earlier sessions: seconds of good work, and whether a decline ended them. `expected` is
    /// about how long one thinks it lasts. What is not above zero is left out.
    pub fn of(expected: f64, sessions: impl Iterator<Item = (f64, bool)>) -> Self {
        let start = if expected > 0.0 { expected.ln() } else { 0.0 };
        let seen: Vec<(f64, bool)> = sessions
            .filter(|(seconds, _)| *seconds > 0.0 && seconds.is_finite())
            .map(|(seconds, declined)| (seconds.ln(), declined))
            .collect();
        let prior_worth = (DAYS / UNKNOWN).powi(2);
        let worth = prior_worth + seen.len() as f64;
        let mut mean = start;
        for _ in 0..20 {
            let sum: f64 = seen
                .iter()
                .map(|(log, declined)| if *declined { *log } else { beyond(*log, mean) })
                .sum();
            mean = (prior_worth * start + sum) / worth;
        }
        // Cut-off times say less than whole ones; half is between nothing and all.
        let whole = seen.iter().filter(|(_, declined)| *declined).count() as f64;
        let known = prior_worth + whole + (seen.len() as f64 - whole) / 2.0;
        GoodTime { mean, sd: DAYS * (1.0 + 1.0 / known).sqrt() }
    }

    /// The middle of what is expected, in seconds.
    pub fn median(&self) -> f64 {
        self.mean.exp()
    }

    /// Chance that a decline begins between two moments, when it has not begun before.
    pub fn chance(&self, from: f64, to: f64) -> f64 {
        let hazard = self.cumulative(to) - self.cumulative(from);
        if hazard > 0.0 { -(-hazard).exp_m1() } else { 0.0 }
    }

    /// Cumulative hazard; past three standard deviations it goes on straight.
    fn cumulative(&self, seconds: f64) -> f64 {
        if seconds <= 0.0 {
            return 0.0;
        }
        let z = (seconds.ln() - self.mean) / self.sd;
        -normal_cdf(-z.min(4.0)).ln()
    }
}

/// Mean of a normal log time that is known to lie above `log`.
fn beyond(log: f64, mean: f64) -> f64 {
    let z = ((log - mean) / DAYS).min(8.0);
    let density = (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    mean + DAYS * density / normal_cdf(-z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cut_off_sessions_lengthen_and_declines_pin_down() {
        let none = GoodTime::of(180.0, std::iter::empty());
        assert!((none.median() - 180.0).abs() < 1e-9);
        let cut = GoodTime::of(180.0, [(180.0, false); 4].into_iter());
        assert!(cut.median() > 200.0, "{}", cut.median());
        let pinned = GoodTime::of(180.0, [(90.0, true); 6].into_iter());
        assert!((pinned.median() - 93.0).abs() < 5.0, "{}", pinned.median());
        assert!(pinned.sd < none.sd);
        // Together the chances of all moments make nearly one.
        let stays: f64 =
            (0..400).map(|s| 1.0 - pinned.chance(f64::from(s), f64::from(s + 1))).product();
        assert!(stays < 0.01, "{stays}");
    }
}
