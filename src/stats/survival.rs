//! How long until performance falls, when many sessions were stopped while still good.

use super::summary::sorted;
use super::tails::chi_squared_upper;
use super::{Estimate, Level, StatsError, bad, count, measurable, open_share, positive, rates};

/// One session: how long it was watched, and whether the decline was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watched {
    /// Time to the decline, or to the end of watching; zero or more, in any unit.
    pub time: f64,
    /// True when it declined then; false when it was stopped while still good.
    pub declined: bool,
}

/// How to make an interval of a survival chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Band {
    /// On the log(-log) scale: stays within 0 and 1. **The default here**, as in lifelines.
    #[default]
    LogLog,
    /// On the log scale, as R does by default; cut off at 1.
    Log,
}

/// One drop of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop {
    /// When.
    pub time: f64,
    /// How many were still watched just before (those stopped at this very time included).
    pub at_risk: u32,
    /// How many declined then.
    pub events: u32,
    /// Chance to last longer than this.
    pub survival: f64,
    /// Standard error of `survival` (Greenwood 1926); `None` once nobody is left.
    pub se: Option<f64>,
    /// Cumulative hazard (Nelson–Aalen).
    pub hazard: f64,
    /// Greenwood's sum, the relative variance; infinite once nobody is left.
    greenwood: f64,
}

/// A survival curve (Kaplan & Meier 1958, JASA 53:457). At equal times declines go before stops.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    drops: Vec<Drop>,
    sessions: u32,
    events: u32,
    total_time: f64,
    longest: f64,
}

impl Curve {
    /// Fits the curve.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without a session; [`StatsError::Bad`] for a time below zero or not
    /// finite.
    pub fn fit(sessions: &[Watched]) -> Result<Self, StatsError> {
        let order = in_order(sessions)?;
        let (mut at_risk, mut survival, mut hazard, mut greenwood) =
            (order.len() as u32, 1.0, 0.0, 0.0);
        let mut drops = Vec::new();
        for group in order.chunk_by(|a, b| a.time == b.time) {
            let events = group.iter().filter(|w| w.declined).count() as u32;
            if events > 0 {
                let (n, d) = (f64::from(at_risk), f64::from(events));
                survival *= (n - d) / n;
                hazard += d / n;
                greenwood += d / (n * (n - d));
                let se = (survival > 0.0).then(|| survival * greenwood.sqrt());
                let time = group[0].time;
                drops.push(Drop { time, at_risk, events, survival, se, hazard, greenwood });
            }
            at_risk -= group.len() as u32;
        }
        Ok(Curve {
            events: drops.iter().map(|d| d.events).sum(),
            drops,
            sessions: count(order.len()),
            total_time: order.iter().map(|w| w.time).sum(),
            longest: order.last().map_or(0.0, |w| w.time),
        })
    }

    /// The drops, in order of time.
    pub fn drops(&self) -> &[Drop] {
        &self.drops
    }

    /// How many sessions it rests on.
    pub fn sessions(&self) -> u32 {
        self.sessions
    }

    /// How many of them declined.
    pub fn events(&self) -> u32 {
        self.events
    }

    /// The longest time watched: beyond it the curve says nothing.
    pub fn longest(&self) -> f64 {
        self.longest
    }

    /// Chance to last longer than `time`, with its interval; before the first drop it is 1 with no
    /// spread that these data could show. Once it is 0, the interval is everything.
    pub fn at(&self, time: f64, band: Band, level: Level) -> Estimate {
        let i = self.drops.partition_point(|d| d.time <= time);
        let n = self.sessions;
        match i.checked_sub(1).map(|i| &self.drops[i]) {
            None => Estimate { point: 1.0, low: 1.0, high: 1.0, n },
            Some(drop) => {
                let (low, high) = interval(drop, band, level).unwrap_or((0.0, 1.0));
                Estimate { point: drop.survival, low, high, n }
            }
        }
    }

    /// The interval at each drop; `None` once nobody is left, where it is undefined.
    pub fn intervals(&self, band: Band, level: Level) -> Vec<Option<(f64, f64)>> {
        self.drops.iter().map(|drop| interval(drop, band, level)).collect()
    }

    /// The first time by which a share of `declined` had declined (0.5: the median), with the
    /// interval from the log-log band (Brookmeyer & Crowley 1982, Biometrics 38:29). A time that was
    /// not reached is `None`: an answer, not a fault.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the share lies between 0 and 1.
    pub fn time_by(&self, declined: f64, level: Level) -> Result<TimeBy, StatsError> {
        let left = 1.0 - open_share("the share declined", declined)?;
        let first = |reached: &dyn Fn(&Drop) -> bool| {
            self.drops.iter().find(|d| reached(d)).map(|d| d.time)
        };
        // A margin: 0.9 * 8 / 9 is a little above 0.8 in doubles.
        let reached = |chance: f64| chance <= left + 1e-9;
        let band = |d: &Drop| interval(d, Band::LogLog, level);
        Ok(TimeBy {
            point: first(&|d| reached(d.survival)),
            low: first(&|d| reached(band(d).map_or(0.0, |b| b.0))),
            high: first(&|d| band(d).is_some_and(|b| reached(b.1))),
            n: self.sessions,
        })
    }

    /// Mean time without decline within `limit` (restricted mean), with a normal interval
    /// (Klein & Moeschberger 2003, section 4.5).
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless the limit is above zero; [`StatsError::Undefined`] when it lies
    /// beyond the longest time watched and some still lasted then.
    pub fn restricted_mean(&self, limit: f64, level: Level) -> Result<Estimate, StatsError> {
        let limit = positive("the limit", limit)?;
        let gone = self.drops.last().is_some_and(|d| d.survival <= 0.0);
        if limit > self.longest && !gone {
            return Err(StatsError::Undefined { why: "nobody was watched for that long" });
        }
        let inside = self.drops.iter().take_while(|d| d.time < limit);
        let (mut area, mut from, mut height) = (0.0, 0.0, 1.0);
        // Area from each drop on, built forwards: total minus what came before it.
        let mut before = Vec::new();
        for drop in inside {
            area += height * (drop.time - from);
            before.push((area, drop));
            (from, height) = (drop.time, drop.survival);
        }
        area += height * (limit - from);
        let var: f64 = before
            .iter()
            .filter(|(_, d)| d.at_risk > d.events)
            .map(|(done, d)| {
                let (n, e) = (f64::from(d.at_risk), f64::from(d.events));
                (area - done).powi(2) * e / (n * (n - e))
            })
            .sum();
        let half = level.z() * var.sqrt();
        Ok(Estimate {
            point: area,
            low: (area - half).max(0.0),
            high: (area + half).min(limit),
            n: self.sessions,
        })
    }

    /// Declines per unit of time if the hazard were constant, with Garwood's exact interval; `n` is
    /// the number of declines.
    ///
    /// # Errors
    /// [`StatsError::Bad`] when no time was watched at all.
    pub fn constant_hazard(&self, level: Level) -> Result<Estimate, StatsError> {
        rates::garwood(self.events, self.total_time, level)
    }

    /// All the time watched.
    pub fn total_time(&self) -> f64 {
        self.total_time
    }
}

/// A time that may not have been reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeBy {
    /// The time; `None`: not reached.
    pub point: Option<f64>,
    /// Lower end; `None`: not reached.
    pub low: Option<f64>,
    /// Upper end; `None`: not reached.
    pub high: Option<f64>,
    /// How many sessions it rests on.
    pub n: u32,
}

/// Two groups compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRank {
    /// Chi-squared on one degree of freedom.
    pub chi_squared: f64,
    /// Its p.
    pub p: f64,
    /// Declines seen in the first group.
    pub observed: u32,
    /// Declines expected there if both were alike.
    pub expected: f64,
}

/// The log-rank test (Mantel 1966; Peto & Peto 1972).
///
/// # Errors
/// [`StatsError::TooFew`] when a group is empty; [`StatsError::Undefined`] when nobody declined
/// while both were watched; [`StatsError::Bad`] as [`Curve::fit`].
pub fn log_rank(first: &[Watched], second: &[Watched]) -> Result<LogRank, StatsError> {
    let (a, b) = (in_order(first)?, in_order(second)?);
    let times: Vec<f64> = a.iter().chain(&b).filter(|w| w.declined).map(|w| w.time).collect();
    let mut times = sorted(&times);
    times.dedup();
    let (mut observed, mut expected, mut var) = (0, 0.0, 0.0);
    for time in times {
        let at = |group: &[Watched]| {
            let from = group.partition_point(|w| w.time < time);
            let here = group[from..].iter().take_while(|w| w.time == time);
            (group.len() - from, here.filter(|w| w.declined).count())
        };
        let ((n1, d1), (n2, d2)) = (at(&a), at(&b));
        let (n, d, share) = ((n1 + n2) as f64, (d1 + d2) as f64, n1 as f64 / (n1 + n2) as f64);
        observed += d1;
        expected += d * share;
        if n > 1.0 {
            var += d * share * (1.0 - share) * (n - d) / (n - 1.0);
        }
    }
    if var <= 0.0 {
        return Err(StatsError::Undefined { why: "no decline while both groups were watched" });
    }
    let chi_squared = (observed as f64 - expected).powi(2) / var;
    let p = chi_squared_upper(chi_squared, 1.0);
    Ok(LogRank { chi_squared, p, observed: count(observed), expected })
}

fn in_order(sessions: &[Watched]) -> Result<Vec<Watched>, StatsError> {
    if sessions.is_empty() {
        return Err(StatsError::TooFew { what: "sessions", needed: 1, got: 0 });
    }
    if let Some(w) = sessions.iter().find(|w| !(w.time >= 0.0 && measurable(w.time))) {
        return Err(bad("a time watched", "zero or more", w.time));
    }
    let mut order = sessions.to_vec();
    order.sort_by(|a, b| a.time.total_cmp(&b.time));
    Ok(order)
}

fn interval(drop: &Drop, band: Band, level: Level) -> Option<(f64, f64)> {
    let (s, z) = (drop.survival, level.z());
    if s <= 0.0 || s >= 1.0 {
        return None;
    }
    let relative = drop.greenwood.sqrt();
    Some(match band {
        Band::Log => {
            let reach = (z * relative).exp();
            (s / reach, (s * reach).min(1.0))
        }
        Band::LogLog => {
            let reach = (z * relative / s.ln().abs()).exp();
            (s.powf(reach), s.powf(1.0 / reach))
        }
    })
}
