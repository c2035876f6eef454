//! What is usual for an animal: its times, and how often it misses.

use super::Times;

/// Streams of times: from cue to answer; from try to try; from movement to movement within a try.
pub const STREAMS: usize = 3;
/// What a time from try to try came after: a miss, a low, a high reward. Other times are all of the
/// first sort.
pub const SORTS: usize = 3;
/// How sorts differ is not known before about this many times of a sort were seen.
const SORT_WORTH: f64 = 6.0;
/// The chance of a miss is taken to be within these.
const MISS: (f64, f64) = (0.03, 0.7);
/// Tries after which the chance of a miss is forgotten by a third.
const MEMORY: f64 = 60.0;
/// Levels of days differ by about this much on the log scale, as if seen in this many days.
const BETWEEN_DAYS: f64 = 0.17;
const BETWEEN_SEEN: f64 = 4.0;

/// Which times are compared with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kind {
    /// Stream.
    pub stream: usize,
    /// Sort.
    pub sort: usize,
}

/// What is usual for this animal on this day.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Usual {
    /// Times by stream.
    pub times: [Times; STREAMS],
    /// How much longer the log of a time is for each sort, and how many times that rests on.
    pub sorts: [(f64, f64); SORTS],
    /// Tries that missed, and that met, as if seen this often.
    pub tries: (f64, f64),
}

impl Usual {
    /// The time as it would be of no particular sort.
    pub(super) fn plain(&self, kind: Kind, seconds: f64) -> f64 {
        let (longer, n) = self.sorts[kind.sort];
        if kind.stream == 1 { seconds * (-longer * n / (n + SORT_WORTH)).exp() } else { seconds }
    }

    /// Takes in a finished time.
    pub fn learn(&mut self, kind: Kind, seconds: f64, part: f64) {
        let plain = self.plain(kind, seconds);
        let times = &mut self.times[kind.stream];
        if kind.stream == 1 && times.known() && seconds > 0.0 {
            let off = (seconds.ln() - times.mean()).clamp(-1.0, 1.0);
            let (longer, n) = &mut self.sorts[kind.sort];
            *n += part;
            *longer += part * (off - *longer) / n.clamp(1.0, MEMORY);
        }
        times.learn(plain, part);
    }

    /// The chance of a miss.
    pub fn miss(&self) -> f64 {
        let (missed, met) = self.tries;
        let miss = missed / (missed + met);
        if miss.is_finite() { miss.clamp(MISS.0, MISS.1) } else { 0.5 }
    }
}

impl Usual {
    /// Takes in a try that counts `part` of a whole one.
    pub fn tried(&mut self, met: bool, part: f64) {
        let (missed, mets) = &mut self.tries;
        // The memory fades once it is full.
        let fades = if *missed + *mets > MEMORY / 2.0 { 1.0 - 1.0 / MEMORY } else { 1.0 };
        *missed = *missed * fades + part * f64::from(u8::from(!met));
        *mets = *mets * fades + part * f64::from(u8::from(met));
    }

    /// What the days before say of the day to come; `tries` is as [`Usual::tries`]. The level of times
    /// differs from day to day, by how much is learnt with it; so it counts as many times as it takes
    /// within a day to know the level as well (a random effect of the day; Gelman et al., Bayesian Data
    /// Analysis, section 5.4).
    pub fn of_days(days: impl IntoIterator<Item = Day>, tries: (f64, f64)) -> Self {
        let mut all = Usual { tries, ..Usual::default() };
        let mut levels: [Vec<(f64, f64)>; STREAMS] = Default::default();
        for day in days {
            let mut own = Usual { sorts: all.sorts, ..Usual::default() };
            for (kind, seconds) in &day.times {
                own.learn(*kind, *seconds, 1.0);
                all.learn(*kind, *seconds, 1.0);
            }
            for ((level, times), together) in levels.iter_mut().zip(own.times).zip(&mut all.times) {
                if times.known() {
                    level.push((times.mean(), times.worth()));
                }
                *together = together.another_day(BETWEEN_SEEN);
            }
        }
        for (times, levels) in all.times.iter_mut().zip(levels) {
            let n = levels.len() as f64;
            if n == 0.0 {
                *times = times.another_day(0.0);
                continue;
            }
            let mean = levels.iter().map(|(mean, _)| mean).sum::<f64>() / n;
            let within = times.variance();
            let beyond_chance = levels
                .iter()
                .map(|(level, worth)| ((level - mean).powi(2) - within / worth).max(0.0));
            let between = (BETWEEN_SEEN * BETWEEN_DAYS * BETWEEN_DAYS + beyond_chance.sum::<f64>())
                / (BETWEEN_SEEN + n - 1.0);
            *times = times.about(mean).another_day(within / (between * (1.0 + 1.0 / n)));
        }
        all
    }
}

/// Times of one day, in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Day {
    /// Kind and seconds.
    pub times: Vec<(Kind, f64)>,
}

#[cfg(test)]
mod tests {
    use super::*;

    const ANSWER: Kind = Kind { stream: 0, sort: 0 };

    fn day(level: f64) -> Day {
        let around = [0.8, 1.0, 1.25, 1.0, 0.9, 1.1];
        Day { times: around.iter().cycle().take(24).map(|x| (ANSWER, level * x)).collect() }
    }

    #[test]
    fn days_that_differ_bind_the_next_one_less() {
        let alike = Usual::of_days([day(3.0), day(3.0), day(3.0), day(3.0)], (2.0, 8.0));
        let unlike = Usual::of_days([day(1.5), day(3.0), day(6.0), day(3.0)], (2.0, 8.0));
        assert!((alike.times[0].mean() - 3.0_f64.ln()).abs() < 0.05);
        assert!((unlike.times[0].mean() - 3.0_f64.ln()).abs() < 0.05);
        assert!(alike.times[0].worth() > 1.5 * unlike.times[0].worth());
        assert_eq!(alike.miss(), 0.2);
        assert!(!Usual::of_days([], (1.0, 1.0)).times[0].known());
    }
}
