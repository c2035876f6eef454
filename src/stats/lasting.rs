//! How long good work lasts, when nobody ever saw the moment at which it ended: each finished session
//! says how likely it is to have declined by each moment, and the law of the moments is what makes all
//! of them likeliest together.
//!
//! Sessions that are only known to have declined somewhere, or not before their end, are interval- and
//! right-censored (Turnbull 1976, J R Stat Soc B 38:290); here the intervals have soft ends, and
//! self-consistency is that of an EM over soft onsets (Dempster, Laird & Rubin 1977, J R Stat Soc B
//! 39:1). With the few sessions of one animal the law is kept smooth: log-normal, its middle, its scatter
//! and the manner of the decline averaged over a grid with a wide prior. Bounds are those of a bootstrap
//! over sessions (Efron 1979, Ann Stat 7:1), from a seed.

use super::lookback::{FAILS, Finished, SLOWS, Usual, log_ratios};
use super::tails::normal_cdf;
use super::{Estimate, StatsError, count, positive};

/// Moments at which a decline may begin.
const MOMENTS: usize = 40;
/// Middles of the law that are thought of, as parts of the time one expects: from a fifth to eight times.
const MIDDLES: usize = 22;
/// Scatters of the logs from day to day, and their chances (an assumption).
const SCATTERS: [(f64, f64); 3] = [(0.25, 0.35), (0.45, 0.4), (0.7, 0.25)];
/// Scatter of the prior about the expected time.
const EXPECTED: f64 = 0.8;
/// Resamples that the bounds rest on.
const RESAMPLED: usize = 200;
/// Tries that follow each other are alike, and no model of an animal is right: what a session says counts
/// by this power (Grünwald & van Ommen 2017, Bayesian Anal 12:1069; the size was chosen on tuning laws).
const POWER: f64 = 0.7;

/// How long good work lasts.
#[derive(Debug, Clone, PartialEq)]
pub struct Lasting {
    laws: Vec<Law>,
    /// Chances of the laws: of all sessions, and of each resample.
    chances: Vec<f64>,
    resampled: Vec<Vec<f64>>,
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
}

impl Law {
    /// Chance to have declined by then.
    fn by(&self, seconds: f64) -> f64 {
        if seconds <= 0.0 { 0.0 } else { normal_cdf((seconds / self.middle).ln() / self.scatter) }
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
        let laws: Vec<Law> = (0..MIDDLES)
            .flat_map(|i| {
                let part = (1.0_f64 / 5.0).ln() + 40.0_f64.ln() * i as f64 / (MIDDLES - 1) as f64;
                SCATTERS.map(|(scatter, _)| Law { middle: expected * part.exp(), scatter })
            })
            .collect();
        let masses: Vec<Vec<f64>> = laws
            .iter()
            .map(|law| edges.windows(2).map(|e| law.by(e[1]) - law.by(e[0])).collect())
            .collect();
        let manners = SLOWS.len() * FAILS.len() - 1;
        // fits[session][law][manner]: the log likelihood ratio to a session that stayed good.
        let fits: Vec<Vec<f64>> = sessions
            .iter()
            .enumerate()
            .map(|(number, session)| fit(session, number, &usual, &moments, &laws, &masses))
            .collect();
        let prior: Vec<f64> = laws
            .iter()
            .flat_map(|law| {
                let scatter = SCATTERS.iter().find(|(s, _)| *s == law.scatter).map_or(1.0, |s| s.1);
                let off = (law.middle / expected).ln() / EXPECTED;
                std::iter::repeat_n(scatter.ln() - off * off / 2.0, manners)
            })
            .collect();
        let once = vec![1.0; sessions.len()];
        let whole = posterior(&prior, &fits, &once);
        let each: Vec<f64> = sessions
            .iter()
            .enumerate()
            .map(|(n, session)| declined(&whole, &fits[n], &laws, manners, session.ended_s))
            .collect();
        let mut chance = Chance(seed);
        let resampled = (0..RESAMPLED)
            .map(|_| {
                let mut times = vec![0.0; sessions.len()];
                (0..sessions.len()).for_each(|_| times[chance.below(sessions.len())] += 1.0);
                by_law(&posterior(&prior, &fits, &times), manners)
            })
            .collect();
        Ok(Lasting {
            chances: by_law(&whole, manners),
            laws,
            resampled,
            sessions: count(sessions.len()),
            declined: each.iter().sum(),
            longest_s: longest,
            each,
        })
    }

    /// Chance to last longer than so many seconds, with its 95 % interval.
    pub fn lasts(&self, seconds: f64) -> Estimate {
        let left = |chances: &[f64]| 1.0 - self.by(chances, seconds);
        self.bounded(left)
    }

    /// The time by which a share of the sessions has declined, with its 95 % interval.
    pub fn time_by(&self, share: f64) -> Estimate {
        self.bounded(|chances| {
            let (mut low, mut high) = (0.0, 1e3 * self.longest_s);
            for _ in 0..60 {
                let middle = f64::midpoint(low, high);
                if self.by(chances, middle) < share { low = middle } else { high = middle }
            }
            high
        })
    }

    fn by(&self, chances: &[f64], seconds: f64) -> f64 {
        self.laws.iter().zip(chances).map(|(law, chance)| chance * law.by(seconds)).sum()
    }

    fn bounded(&self, of: impl Fn(&[f64]) -> f64) -> Estimate {
        let mut all: Vec<f64> = self.resampled.iter().map(|chances| of(chances)).collect();
        all.sort_by(f64::total_cmp);
        let end = |part: f64| all[((all.len() - 1) as f64 * part).round() as usize];
        let point = of(&self.chances);
        Estimate {
            point,
            low: end(0.025).min(point),
            high: end(0.975).max(point),
            n: self.sessions,
        }
    }
}

/// Log likelihood ratios of one session under each law and manner.
fn fit(
    session: &Finished,
    number: usize,
    usual: &Usual,
    moments: &[f64],
    laws: &[Law],
    masses: &[Vec<f64>],
) -> Vec<f64> {
    let inside = moments.partition_point(|moment| *moment < session.ended_s);
    let (slows, fails) = log_ratios(session, number, usual, &moments[..inside]);
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
    let mut fits = Vec::with_capacity(laws.len() * ratios.len());
    for mass in masses {
        let inside: &[f64] = &mass[..inside];
        let before: f64 = inside.iter().sum();
        for ratio in &ratios {
            let declined: f64 = inside.iter().zip(ratio).map(|(m, r)| m * r).sum();
            fits.push((1.0 - before + declined).max(1e-300).ln());
        }
    }
    fits
}

/// Chances of each law and manner, when each session counts so many times.
fn posterior(prior: &[f64], fits: &[Vec<f64>], times: &[f64]) -> Vec<f64> {
    let mut logs = prior.to_vec();
    for (fit, times) in fits.iter().zip(times).filter(|(_, times)| **times > 0.0) {
        logs.iter_mut().zip(fit).for_each(|(log, fit)| *log += times * fit);
    }
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let worth: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
    let sum: f64 = worth.iter().sum();
    worth.into_iter().map(|w| w / sum).collect()
}

fn by_law(chances: &[f64], manners: usize) -> Vec<f64> {
    chances.chunks(manners).map(|chunk| chunk.iter().sum()).collect()
}

/// Chance that a session had declined before its end.
fn declined(chances: &[f64], fits: &[f64], laws: &[Law], manners: usize, ended_s: f64) -> f64 {
    let each = chances.iter().zip(fits).enumerate();
    each.map(|(i, (chance, fit))| {
        let left = 1.0 - laws[i / manners].by(ended_s);
        chance * (1.0 - left / fit.exp()).clamp(0.0, 1.0)
    })
    .sum()
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
