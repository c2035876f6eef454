//! How long good work lasts, when nobody ever saw the moment at which it ended: each finished session
//! says how likely it is to have declined by each moment, and the law of the moments is what makes all
//! of them likeliest together.
//!
//! Sessions that are only known to have declined somewhere, or not before their end, are interval- and
//! right-censored (Turnbull 1976, J R Stat Soc B 38:290); here the intervals have soft ends, and
//! self-consistency is that of an EM over soft onsets (Dempster, Laird & Rubin 1977, J R Stat Soc B
//! 39:1). With the few sessions of one animal the law is kept smooth: log-normal, its middle, its scatter
//! and the manner of the decline averaged over a grid with a wide prior.
//!
//! Bounds are those of the posterior of a resample of the sessions, averaged over many resamples (BayesBag:
//! Bühlmann 2014, Stat Sci 29:91; Huggins & Miller 2019, arXiv:1912.07104; both from memory). The posterior
//! alone trusts a model that is never quite right, and a bootstrap of its means says nothing of what the prior
//! hides: such bounds at 95 % held the truth of 60 to 80 of 100 animals. The average has both.

use super::lookback::{FAILS, Finished, SLOWS, Usual, log_ratios};
use super::tails::{normal_cdf, normal_quantile};
use super::{Estimate, StatsError, count, positive};

/// Moments at which a decline may begin.
const MOMENTS: usize = 40;
/// Middles of the law that are thought of, as parts of the time one expects: from a fifth to eight times.
const MIDDLES: usize = 22;
/// Scatters of the logs from day to day, and their chances (an assumption).
const SCATTERS: [(f64, f64); 3] = [(0.25, 0.35), (0.45, 0.4), (0.7, 0.25)];
/// Scatter of the prior about the expected time.
const EXPECTED: f64 = 0.8;
/// Shares of the good sessions that look at some moment, any of them as likely, as if a decline had begun:
/// the animal looked away, a treat fell; and their chances (chosen on tuning laws). Without them an animal that
/// never tires has declines.
const SLIPS: [(f64, f64); 3] = [(0.0, 1.0 / 3.0), (0.15, 1.0 / 3.0), (0.3, 1.0 / 3.0)];
/// Resamples that the bounds rest on.
const RESAMPLED: usize = 100;
/// Chance left out on each side of an interval: 95 % within.
const TAIL: f64 = 0.025;
/// Tries that follow each other are alike, and no model of an animal is right: what a session says counts
/// by this power (Grünwald & van Ommen 2017, Bayesian Anal 12:1069; the size was chosen on tuning laws).
const POWER: f64 = 0.7;

/// How long good work lasts.
#[derive(Debug, Clone, PartialEq)]
pub struct Lasting {
    laws: Vec<Law>,
    /// Chances of the laws by all sessions, and averaged over resamples of them.
    chances: Vec<f64>,
    bagged: Vec<f64>,
    /// Sessions it rests on.
    pub sessions: u32,
    /// How many of them had declined before their end, as far as can be told.
    pub declined: f64,
    /// The longest session: beyond it nothing was seen.
    pub longest_s: f64,
    /// For each session the chance that it had declined before its end.
    pub each: Vec<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    middle: f64,
    scatter: f64,
    slips: f64,
}

/// What a session says of a law and a manner of decline.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fit {
    /// Log likelihood ratio to a session that stayed good.
    log: f64,
    /// Chance that it had declined before its end.
    declined: f64,
}

impl Law {
    /// Chance to have declined by then.
    fn by(&self, seconds: f64) -> f64 {
        if seconds <= 0.0 { 0.0 } else { normal_cdf((seconds / self.middle).ln() / self.scatter) }
    }

    /// When a share has declined.
    fn time_by(&self, share: f64) -> f64 {
        self.middle * (self.scatter * normal_quantile(share)).exp()
    }
}

impl Lasting {
    /// From finished sessions; `expected_s` is about how long one thinks it lasts. The same seed gives
    /// the same bounds.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without a session that has a try; [`StatsError::Bad`] unless the time
    /// expected is above zero.
    pub fn of(sessions: &[Finished], expected_s: f64, seed: u64) -> Result<Self, StatsError> {
        let expected = positive("the time expected", expected_s)?;
        let usable = |one: &&Finished| !one.tries.is_empty() && one.ended_s > 0.0;
        let sessions: Vec<Finished> = sessions.iter().filter(usable).cloned().collect();
        if sessions.is_empty() {
            return Err(StatsError::TooFew { what: "sessions", needed: 1, got: 0 });
        }
        let longest = sessions.iter().map(|one| one.ended_s).fold(0.0, f64::max);
        let usual = Usual::of(&sessions, (expected / 3.0).min(longest / 3.0));
        let edges: Vec<f64> =
            (0..=MOMENTS).map(|i| longest * (i as f64 / MOMENTS as f64).powf(1.3)).collect();
        let moments: Vec<f64> = edges.windows(2).map(|e| f64::midpoint(e[0], e[1])).collect();
        let widths: Vec<f64> = edges.windows(2).map(|e| e[1] - e[0]).collect();
        let (laws, law_prior) = laws(expected);
        let masses: Vec<Vec<f64>> = laws
            .iter()
            .map(|law| edges.windows(2).map(|e| law.by(e[1]) - law.by(e[0])).collect())
            .collect();
        let manners = SLOWS.len() * FAILS.len() - 1;
        // fits[session][law and manner]
        let fits: Vec<Vec<Fit>> = sessions
            .iter()
            .enumerate()
            .map(|(number, session)| {
                let inside = moments.partition_point(|moment| *moment < session.ended_s);
                let ratios = by_manner(session, number, &usual, &moments[..inside]);
                fit(&ratios, &widths[..inside], &laws, &masses)
            })
            .collect();
        let prior: Vec<f64> =
            law_prior.iter().flat_map(|log| std::iter::repeat_n(*log, manners)).collect();
        let once = vec![1.0; sessions.len()];
        let whole = posterior(&prior, &fits, &once);
        let declined = |fits: &Vec<Fit>| -> f64 {
            whole.iter().zip(fits).map(|(chance, fit)| chance * fit.declined).sum()
        };
        let each: Vec<f64> = fits.iter().map(declined).collect();
        let mut chance = Chance(seed);
        let mut bagged = vec![0.0; laws.len()];
        for _ in 0..RESAMPLED {
            let mut times = vec![0.0; sessions.len()];
            (0..sessions.len()).for_each(|_| times[chance.below(sessions.len())] += 1.0);
            let resampled = by_law(&posterior(&prior, &fits, &times), manners);
            bagged.iter_mut().zip(resampled).for_each(|(bag, one)| *bag += one / RESAMPLED as f64);
        }
        Ok(Lasting {
            chances: by_law(&whole, manners),
            laws,
            bagged,
            sessions: count(sessions.len()),
            declined: each.iter().sum(),
            longest_s: longest,
            each,
        })
    }

    /// Chance to last longer than this many seconds, with its 95 % interval.
    pub fn lasts(&self, seconds: f64) -> Estimate {
        self.bounded(1.0 - self.by(seconds), |law| 1.0 - law.by(seconds))
    }

    /// The time by which a share of the sessions has declined, with its 95 % interval.
    pub fn time_by(&self, share: f64) -> Estimate {
        let (mut low, mut high) = (0.0, 1e3 * self.longest_s);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.by(middle) < share { low = middle } else { high = middle }
        }
        self.bounded(high, |law| law.time_by(share))
    }

    /// Chance that the time by which a share has declined was seen: it lies before the longest session's end.
    pub fn seen(&self, share: f64) -> f64 {
        let laws = self.laws.iter().zip(&self.bagged);
        laws.filter(|(law, _)| law.time_by(share) <= self.longest_s).map(|(_, chance)| chance).sum()
    }

    /// Chance to have declined by then.
    fn by(&self, seconds: f64) -> f64 {
        self.laws.iter().zip(&self.chances).map(|(law, chance)| chance * law.by(seconds)).sum()
    }

    /// Between the laws of the grid the bagged posterior is taken to be even.
    fn bounded(&self, point: f64, of: impl Fn(&Law) -> f64) -> Estimate {
        let mut each: Vec<(f64, f64)> =
            self.laws.iter().map(of).zip(self.bagged.iter().copied()).collect();
        each.sort_by(|a, b| a.0.total_cmp(&b.0));
        let end = |part: f64| {
            let (mut below, mut last) = (0.0, each[0].0);
            for (value, chance) in &each {
                if below + chance >= part {
                    return last + (value - last) * ((part - below) / chance).clamp(0.0, 1.0);
                }
                (below, last) = (below + chance, *value);
            }
            last
        };
        let (low, high) = (end(TAIL).min(point), end(1.0 - TAIL).max(point));
        Estimate { point, low, high, n: self.sessions }
    }
}

/// Every law that is thought of, with the log of its chance before any session.
fn laws(expected_s: f64) -> (Vec<Law>, Vec<f64>) {
    let middles = (0..MIDDLES)
        .map(|i| (1.0_f64 / 5.0).ln() + 40.0_f64.ln() * i as f64 / (MIDDLES - 1) as f64);
    let each = middles.flat_map(|off| {
        SCATTERS.into_iter().flat_map(move |(scatter, chance)| {
            SLIPS.map(|(slips, slip_chance)| {
                let law = Law { middle: expected_s * off.exp(), scatter, slips };
                (law, chance.ln() + slip_chance.ln() - (off / EXPECTED).powi(2) / 2.0)
            })
        })
    });
    each.unzip()
}

/// How much likelier one session is with a decline from each moment on than with none, by manner.
fn by_manner(session: &Finished, number: usize, usual: &Usual, moments: &[f64]) -> Vec<Vec<f64>> {
    let (slows, fails) = log_ratios(session, number, usual, moments);
    let mut ratios: Vec<Vec<f64>> = Vec::new();
    for (s, slow) in slows.iter().enumerate() {
        for (f, fail) in fails.iter().enumerate() {
            // A decline that does not show in any way cannot be told from none.
            if s + f > 0 {
                let both =
                    slow.iter().zip(fail).map(|(a, b)| (POWER * (a + b)).clamp(-60.0, 60.0).exp());
                ratios.push(both.collect());
            }
        }
    }
    ratios
}

/// What one session says of each law and manner; `widths` are those of the moments.
fn fit(ratios: &[Vec<f64>], widths: &[f64], laws: &[Law], masses: &[Vec<f64>]) -> Vec<Fit> {
    let all: f64 = widths.iter().sum();
    let slipped: Vec<f64> = ratios
        .iter()
        .map(|ratio| {
            let sum: f64 = ratio.iter().zip(widths).map(|(ratio, width)| ratio * width).sum();
            if all > 0.0 { sum / all } else { 1.0 }
        })
        .collect();
    let mut fits = Vec::with_capacity(laws.len() * ratios.len());
    for (law, mass) in laws.iter().zip(masses) {
        let inside: &[f64] = &mass[..widths.len()];
        let before: f64 = inside.iter().sum();
        for (ratio, slipped) in ratios.iter().zip(&slipped) {
            let declined: f64 = inside.iter().zip(ratio).map(|(m, r)| m * r).sum();
            let good = (1.0 - before) * (1.0 - law.slips + law.slips * slipped);
            let both = (good + declined).max(1e-300);
            fits.push(Fit { log: both.ln(), declined: (declined / both).clamp(0.0, 1.0) });
        }
    }
    fits
}

/// Chances of each law and manner, when each session counts this many times.
fn posterior(prior: &[f64], fits: &[Vec<Fit>], times: &[f64]) -> Vec<f64> {
    let mut logs = prior.to_vec();
    for (fit, times) in fits.iter().zip(times).filter(|(_, times)| **times > 0.0) {
        logs.iter_mut().zip(fit).for_each(|(log, fit)| *log += times * fit.log);
    }
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let worth: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let sum: f64 = worth.iter().sum();
    worth.into_iter().map(|w| w / sum).collect()
}

fn by_law(chances: &[f64], manners: usize) -> Vec<f64> {
    chances.chunks(manners).map(|chunk| chunk.iter().sum()).collect()
}

/// Numbers from a seed (SplitMix64: Steele, Lea & Flood 2014, OOPSLA 453).
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % bound as u64) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::super::lookback::Seen;
    use super::*;

    const LAW: Law = Law { middle: 150.0, scatter: 0.35, slips: 0.0 };

    /// A try every four seconds, from a moment on every twelve, until the end: a decline that nobody can miss.
    fn session(declines: f64, ended_s: f64, chance: &mut Chance) -> Finished {
        let mut tries = Vec::new();
        let mut at_s = 0.0;
        loop {
            let took = if at_s > declines { 12.0 } else { 4.0 };
            let took = took * (0.8 + 0.4 * chance.below(1000) as f64 / 1000.0);
            at_s += took;
            if at_s > ended_s {
                return Finished { tries, ended_s };
            }
            tries.push(Seen { at_s, took_s: Some(took), kind: 0, met: true });
        }
    }

    fn lasting(sessions: usize, seed: u64) -> Lasting {
        let mut chance = Chance(seed);
        let all: Vec<Finished> = (0..sessions)
            .map(|_| {
                let share = (chance.below(1000) as f64 + 0.5) / 1000.0;
                let ends = 130.0 + chance.below(140) as f64;
                session(LAW.time_by(share), ends, &mut chance)
            })
            .collect();
        Lasting::of(&all, 180.0, 17).unwrap()
    }

    /// Six sessions each. Bounds by a bootstrap of the means fail here: they hold the truth of 15 of these 20 animals.
    #[test]
    fn intervals_of_few_sessions_hold_the_truth() {
        let (truth, animals) = (LAW.time_by(0.25), 20);
        let held = (0..animals).filter(|seed| {
            let quarter = lasting(6, 100 + seed).time_by(0.25);
            quarter.low <= truth && truth <= quarter.high
        });
        assert!(held.count() >= 19);
    }

    #[test]
    fn more_sessions_say_more_and_what_was_not_seen_is_not_known() {
        let width = |found: &Lasting| {
            let quarter = found.time_by(0.25);
            (quarter.high / quarter.low).ln()
        };
        let (few, many) = (lasting(6, 1), lasting(40, 1));
        assert!(width(&many) < 0.7 * width(&few), "{} {}", width(&many), width(&few));
        assert!(many.seen(0.25) > 0.95, "{}", many.seen(0.25));
        let lasts = many.lasts(150.0);
        assert!(lasts.low < 0.5 && 0.5 < lasts.high && lasts.high < 1.0, "{lasts:?}");
        // Of sessions that were all good to their end nothing is certain.
        let mut chance = Chance(3);
        let good: Vec<Finished> = (0..12).map(|_| session(1e9, 180.0, &mut chance)).collect();
        let good = Lasting::of(&good, 180.0, 17).unwrap();
        assert!(good.seen(0.25) < 0.5, "{}", good.seen(0.25));
        assert!(good.lasts(170.0).low < 0.97, "{:?}", good.lasts(170.0));
    }
}
