//! How long one kind of time usually takes for this animal on this day: seconds from cue to answer, or
//! from try to try.
//!
//! Logs of the times follow a Student t about the day's level, and a few of them are pauses that say
//! nothing of the level: beyond some seconds more than usual they fall off as a power of their length (Hill
//! 1975, Ann Stat 3:1163), whose exponent is learnt too, so that an animal that often stops and comes
//! back is given longer. The level is learnt with robust weights (West 1981, J R Stat Soc B 43:157: t
//! errors as scale mixtures) and with discount, so that a slow drift over an hour is followed (West &
//! Harrison 1997, Bayesian Forecasting and Dynamic Models, section 6.3).

/// Degrees of freedom of the logs about the level: tails that a few dozen times cannot rule out.
const FREEDOM: f64 = 4.0;
/// The level remembers about this many times; older ones fade.
const MEMORY: f64 = 60.0;
/// Scale of the logs, worth this many times, while nothing is known.
const SCALE: (f64, f64) = (0.25, 12.0);
/// The scale is never taken to be outside of these.
const SCALES: (f64, f64) = (0.15, 1.2);
/// Pauses and other times, as if seen this often.
const PAUSES: (f64, f64) = (0.28, 13.7);
/// A pause is longer than usual by this many seconds at least.
const PAUSE_S: f64 = 7.0;
/// Exponent of the pauses: this many, and the sum of their logs.
const TAIL: (f64, f64) = (13.0, 3.2);
/// What earlier sessions say of pauses counts as this many times at most, of the scale as half of them,
/// and of the exponent as this many pauses.
const MOST_BEFORE: f64 = 80.0;
const MOST_TAIL_BEFORE: f64 = 30.0;
/// Fewer times than this say nothing of the level.
const FEWEST: f64 = 2.5;

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Times {
    mean: f64,
    worth: f64,
    variance: f64,
    variance_worth: f64,
    pauses: (f64, f64),
    tail: (f64, f64),
}

impl Default for Times {
    fn default() -> Self {
        Times {
            mean: 0.0,
            worth: 0.0,
            variance: SCALE.0 * SCALE.0,
            variance_worth: SCALE.1,
            pauses: PAUSES,
            tail: TAIL,
        }
    }
}

/// Density of the Student t with four degrees of freedom.
fn density(z: f64) -> f64 {
    0.375 * (1.0 + z * z / FREEDOM).powf(-2.5)
}

/// Its upper tail (Abramowitz & Stegun 26.7.4 for four degrees of freedom).
fn above(z: f64) -> f64 {
    let square = z * z / (1.0 + z * z / FREEDOM);
    let half = 0.375 * z / (1.0 + z * z / FREEDOM).sqrt() * (1.0 - square / 12.0);
    (0.5 - half).max(0.0)
}

impl Times {
    /// What earlier sessions taught, as it stands at the beginning of another day: levels differ from
    /// day to day, so the level counts as `worth` times at most.
    #[must_use]
    pub fn another_day(self, worth: f64) -> Self {
        let (seen, not) = self.pauses;
        let (n, logs) = self.tail;
        let of_pauses = (MOST_BEFORE / (seen + not)).min(1.0);
        let of_tail = (MOST_TAIL_BEFORE / n).min(1.0);
        Times {
            worth: self.worth.min(worth),
            variance_worth: self.variance_worth.min(MOST_BEFORE / 2.0),
            pauses: (seen * of_pauses, not * of_pauses),
            tail: (n * of_tail, logs * of_tail),
            ..self
        }
    }

    /// Whether enough is known for a time to say anything.
    pub fn known(&self) -> bool {
        self.worth >= FEWEST
    }

    /// The usual log.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// How many times the level is worth.
    pub fn worth(&self) -> f64 {
        self.worth
    }

    /// Variance of the logs about the level.
    pub fn variance(&self) -> f64 {
        self.variance
    }

    /// The same about another usual log.
    #[must_use]
    pub fn about(self, mean: f64) -> Self {
        Times { mean, ..self }
    }

    fn scale(&self) -> f64 {
        let scale = self.variance.sqrt().clamp(SCALES.0, SCALES.1);
        scale * (1.0 + 1.0 / self.worth.max(0.5)).sqrt()
    }

    /// Share of the times that are pauses.
    pub fn pause_share(&self) -> f64 {
        self.pauses.0 / (self.pauses.0 + self.pauses.1)
    }

    /// Log of the time at which pauses begin.
    fn pause_from(&self) -> f64 {
        (self.mean.exp() + PAUSE_S).ln()
    }

    fn pause_density(&self, log: f64) -> f64 {
        let beyond = log - self.pause_from();
        let (n, sum) = self.tail;
        if beyond < 0.0 { 0.0 } else { n / sum * (sum / (sum + beyond)).powf(n + 1.0) }
    }

    fn pause_above(&self, log: f64) -> f64 {
        let beyond = (log - self.pause_from()).max(0.0);
        let (n, sum) = self.tail;
        (sum / (sum + beyond)).powf(n)
    }

    /// What is needed to compare a finished time.
    pub fn finished(&self, seconds: f64) -> Compared {
        let log = seconds.ln();
        self.compared(log, self.pause_density(log), false)
    }

    /// What is needed to compare a time that has run for this long.
    pub fn running(&self, seconds: f64) -> Compared {
        let log = seconds.ln();
        self.compared(log, self.pause_above(log), true)
    }

    fn compared(&self, log: f64, of_pauses: f64, running: bool) -> Compared {
        let share = self.pause_share();
        Compared { log, scale: self.scale(), plain: 1.0 - share, pause: share * of_pauses, running }
    }

    /// Takes in a finished time that counts `part` of a whole one (less when it may show a decline).
    pub fn learn(&mut self, seconds: f64, part: f64) {
        if !(seconds > 0.0 && seconds.is_finite() && part > 0.0) {
            return;
        }
        let log = seconds.ln();
        if self.worth <= 0.0 {
            (self.mean, self.worth) = (log, part);
            return;
        }
        let compared = self.finished(seconds);
        let here = compared.at(self.mean);
        let pause = if self.known() { compared.pause / here } else { 0.0 };
        let fades = 1.0 - 1.0 / MEMORY;
        self.pauses.0 += part * pause;
        self.pauses.1 += part * (1.0 - pause);
        self.tail.0 += part * pause;
        self.tail.1 += part * pause * (log - self.pause_from()).max(0.0);
        let z = (log - self.mean) / compared.scale;
        let weight = part * (1.0 - pause) * (FREEDOM + 1.0) / (FREEDOM + z * z);
        self.worth = self.worth * fades + weight;
        let off = log - self.mean;
        self.mean += weight / self.worth * off;
        // The weights make the spread of t errors the square of their scale.
        let counts = part * (1.0 - pause);
        self.variance_worth = self.variance_worth * fades + counts;
        let square = (FREEDOM + 1.0) / (FREEDOM + z * z) * off * (log - self.mean);
        self.variance += counts / self.variance_worth * (square - self.variance);
    }
}

/// A time, ready to be compared at several levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    log: f64,
    scale: f64,
    plain: f64,
    pause: f64,
    running: bool,
}

impl Compared {
    /// How likely the time is when the usual log is `mean`: its density, or for a running time the
    /// chance of one this long. Pauses are the same in a decline.
    pub fn at(&self, mean: f64) -> f64 {
        let z = (self.log - mean) / self.scale;
        let plain = if self.running { above(z) } else { density(z) / self.scale };
        (self.plain * plain + self.pause).max(1e-300)
    }

    /// Whether the time still runs.
    pub(super) fn is_running(&self) -> bool {
        self.running
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn learnt(times: &[f64]) -> Times {
        let mut level = Times::default();
        times.iter().cycle().take(60).for_each(|seconds| level.learn(*seconds, 1.0));
        level
    }

    #[test]
    fn a_pause_moves_the_level_little_and_makes_the_next_likelier() {
        let usual = learnt(&[4.0, 5.0, 6.0, 5.0]);
        assert!((usual.mean().exp() - 4.95).abs() < 0.2, "{}", usual.mean().exp());
        let mut after = usual;
        (0..3).for_each(|_| after.learn(90.0, 1.0));
        assert!((after.mean() - usual.mean()).abs() < 0.05);
        let chance = |times: &Times| times.running(60.0).at(times.mean());
        assert!(chance(&after) > 5.0 * chance(&usual), "{} {}", chance(&after), chance(&usual));
        assert!(chance(&usual) > 1e-5);
    }

    #[test]
    fn what_is_not_a_time_teaches_nothing() {
        let mut level = learnt(&[2.0, 3.0]);
        let before = level;
        for seconds in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            level.learn(seconds, 1.0);
        }
        assert_eq!(level, before);
    }
}
