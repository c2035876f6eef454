//! When in a finished session a decline began, looking back at all of it.
//!
//! For each moment at which a decline may have begun it is asked how much better the session is told by a
//! decline from then on than by none: times from try to try that grow, tries that miss, a silence at the
//! end. The level of the day is not known and is averaged over, times have Student's tails so that one
//! long gap says little (Lange, Little & Taylor 1989, JASA 84:881), and nothing is asked of what was
//! alarmed. It is the likelihood of a change-point with a drift after it (Bayesian retrospective
//! change-points: Smith 1975, Biometrika 62:407); what it is multiplied with is [`super::lasting`]'s.

/// One try of a finished session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Active seconds since the start.
    pub at_s: f64,
    /// Seconds it took; `None` where nothing was measured, or what was says nothing.
    pub took_s: Option<f64>,
    /// What kind of time that is, below [`KINDS`]: each kind has its own usual length.
    pub kind: usize,
    /// Whether it met the criterion.
    pub met: bool,
}

/// Kinds of times that may be told apart.
pub const KINDS: usize = 4;

/// A finished session.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Finished {
    /// Tries in order of time.
    pub tries: Vec<Seen>,
    /// Active seconds of all of it.
    pub ended_s: f64,
}

/// A growth since the start of a decline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Growth {
    /// None.
    None,
    /// So much a minute, up to a bound of [`DEEPEST`].
    PerMinute(f64),
    /// This much at once.
    AtOnce(f64),
}

/// No growth goes beyond.
pub const DEEPEST: f64 = 2.0;

impl Growth {
    fn after(self, seconds: f64) -> f64 {
        match self {
            Growth::None => 0.0,
            Growth::PerMinute(by) => (by * seconds / 60.0).min(DEEPEST),
            Growth::AtOnce(by) => by,
        }
    }
}

/// Ways in which times grow, and in which success falls; each pair of them is a manner.
pub const SLOWS: [Growth; 5] = [
    Growth::None,
    Growth::PerMinute(0.15),
    Growth::PerMinute(0.35),
    Growth::PerMinute(0.8),
    Growth::AtOnce(0.9),
];
/// See [`SLOWS`].
pub const FAILS: [Growth; 4] =
    [Growth::None, Growth::PerMinute(0.4), Growth::PerMinute(1.2), Growth::AtOnce(1.8)];

/// Degrees of freedom of the times' tails.
const DEGREES: f64 = 4.0;
/// Places at which the day's level is tried, in units of its scatter, and their chances (about normal).
const DAYS: [(f64, f64); 5] = [(-1.8, 0.08), (-0.9, 0.24), (0.0, 0.36), (0.9, 0.24), (1.8, 0.08)];
/// Scatter of a day's log odds to meet the criterion about those of the days around it.
const DAY_ODDS: f64 = 0.6;
/// The silence at the end of a session says at most this much: a trainer may also have packed up (chosen on
/// tuning laws).
const SILENCE_SAYS: f64 = 4.0;

/// What is usual for an animal while it is good.
#[derive(Debug, Clone, PartialEq)]
pub struct Usual {
    /// Mean log time of each kind.
    level: [f64; KINDS],
    /// Scatter of the logs within a day, and of the level from day to day.
    within: f64,
    between: f64,
    /// Log odds to meet the criterion, session by session, from the days around it.
    odds: Vec<f64>,
}

impl Usual {
    /// From the beginning of each session, up to `fresh_s`, when it is fresh in most of them.
    pub fn of(sessions: &[Finished], fresh_s: f64) -> Self {
        let fresh = |session: &Finished| -> usize {
            let early = session.tries.partition_point(|one| one.at_s <= fresh_s);
            early.max(session.tries.len().min(4))
        };
        let logs = |session: &Finished| -> Vec<(usize, f64)> {
            let timed = session.tries[..fresh(session)].iter();
            timed.filter_map(|one| Some((one.kind, log_time(one.took_s?)?))).collect()
        };
        let all: Vec<Vec<(usize, f64)>> = sessions.iter().map(logs).collect();
        let every: Vec<f64> = all.iter().flatten().map(|(_, log)| *log).collect();
        let middle = median(every).unwrap_or(0.0);
        let level: [f64; KINDS] = std::array::from_fn(|kind| {
            let of_kind = all.iter().flatten().filter(|(k, _)| *k == kind);
            let values: Vec<f64> = of_kind.map(|(_, log)| *log).collect();
            if values.len() < 4 { middle } else { median(values).unwrap_or(middle) }
        });
        let off: Vec<Vec<f64>> = all
            .iter()
            .map(|session| session.iter().map(|(kind, log)| log - level[*kind]).collect())
            .collect();
        let days: Vec<f64> = off.iter().map(|day| median(day.clone()).unwrap_or(0.0)).collect();
        let rest = off.iter().zip(&days).flat_map(|(day, mid)| day.iter().map(move |x| x - mid));
        let within = spread(rest.collect()).unwrap_or(0.4).clamp(0.1, 1.5);
        let between = spread(days).unwrap_or(0.15);
        let each = every_count(&off);
        // What chance alone makes the days' middles differ is not the days' own scatter.
        let between = (between * between - 1.6 * within * within / each).max(0.0).sqrt();
        let counts: Vec<(f64, f64)> = sessions
            .iter()
            .map(|session| {
                let early = &session.tries[..fresh(session)];
                (early.iter().filter(|one| one.met).count() as f64, early.len() as f64)
            })
            .collect();
        let odds = (0..counts.len())
            .map(|index| {
                let near = &counts[index.saturating_sub(2)..(index + 3).min(counts.len())];
                let (met, tries) =
                    near.iter().fold((1.0, 2.0), |(m, t), (met, tries)| (m + met, t + tries));
                (met / (tries - met)).ln()
            })
            .collect();
        Usual { level, within, between: between.clamp(0.08, 0.6), odds }
    }
}

/// Log likelihood ratios of a decline that began at each moment against none before the end, for each way
/// in [`SLOWS`] and each in [`FAILS`]; the two add up. `number` is the session's place in `usual`.
pub fn log_ratios(
    session: &Finished,
    number: usize,
    usual: &Usual,
    moments: &[f64],
) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let times: Vec<(f64, f64)> = session
        .tries
        .iter()
        .filter_map(|one| {
            Some((one.at_s, (log_time(one.took_s?)? - usual.level[one.kind]) / usual.within))
        })
        .collect();
    let day = usual.between / usual.within;
    let last = session.tries.last().map_or(0.0, |one| one.at_s);
    let silence = (log_time(session.ended_s - last).unwrap_or(f64::NEG_INFINITY)
        - usual.level.iter().copied().fold(f64::NEG_INFINITY, f64::max))
        / usual.within;
    let slows = SLOWS.map(|way| {
        let ratio = |from: f64| {
            averaged(|place| {
                let off = place * day;
                let (mut good, mut bad) = (0.0, 0.0);
                for (at, z) in &times {
                    let without = log_student(z - off);
                    good += without;
                    bad += if *at > from {
                        log_student(z - off - way.after(at - from) / usual.within)
                    } else {
                        without
                    };
                }
                (good, bad)
            }) + silent(way, session.ended_s - from, silence, usual.within)
        };
        moments.iter().map(|from| if way == Growth::None { 0.0 } else { ratio(*from) }).collect()
    });
    let odds = usual.odds.get(number).copied().unwrap_or(0.0);
    let fails = FAILS.map(|way| {
        let ratio = |from: f64| {
            averaged(|place| {
                let odds = odds + place * DAY_ODDS;
                let (mut good, mut bad) = (0.0, 0.0);
                for one in &session.tries {
                    let without = log_chance(odds, one.met);
                    good += without;
                    bad += if one.at_s > from {
                        log_chance(odds - way.after(one.at_s - from), one.met)
                    } else {
                        without
                    };
                }
                (good, bad)
            })
        };
        moments.iter().map(|from| if way == Growth::None { 0.0 } else { ratio(*from) }).collect()
    });
    (slows.into(), fails.into())
}

/// Log ratio of two likelihoods, each averaged over the places of the day.
fn averaged(both: impl Fn(f64) -> (f64, f64)) -> f64 {
    let logs = DAYS.map(|(place, chance)| {
        let (good, bad) = both(place);
        (good + chance.ln(), bad + chance.ln())
    });
    sum_of_logs(logs.map(|(_, bad)| bad)) - sum_of_logs(logs.map(|(good, _)| good))
}

fn sum_of_logs(logs: [f64; DAYS.len()]) -> f64 {
    let most = logs.into_iter().fold(f64::NEG_INFINITY, f64::max);
    most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}

/// What the silence at the end says: a wait at least this long.
fn silent(way: Growth, since: f64, silence: f64, within: f64) -> f64 {
    if since <= 0.0 || silence <= 0.0 {
        return 0.0;
    }
    let longer = |z: f64| (0.5 * (1.0 - z / (z * z + DEGREES).sqrt())).max(1e-6).ln();
    (longer(silence - way.after(since) / within) - longer(silence)).min(SILENCE_SAYS)
}

/// Log density of Student's t, but for a constant.
fn log_student(z: f64) -> f64 {
    -0.5 * (DEGREES + 1.0) * (z * z / DEGREES).ln_1p()
}

fn log_chance(odds: f64, met: bool) -> f64 {
    -(if met { -odds } else { odds }).exp().ln_1p()
}

fn log_time(seconds: f64) -> Option<f64> {
    (seconds > 0.0 && seconds.is_finite()).then(|| seconds.max(0.05).ln())
}

fn every_count(days: &[Vec<f64>]) -> f64 {
    let values: usize = days.iter().map(Vec::len).sum();
    (values as f64 / days.len().max(1) as f64).max(1.0)
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// Median distance from the median, in standard deviations of a normal scatter; `None` below four.
fn spread(values: Vec<f64>) -> Option<f64> {
    if values.len() < 4 {
        return None;
    }
    let middle = median(values.clone())?;
    median(values.into_iter().map(|x| (x - middle).abs()).collect()).map(|mad| 1.4826 * mad)
}
