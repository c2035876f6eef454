//! The rate just now: a sliding window, and an exponentially weighted one.

use super::rates::Counted;
use super::{StatsError, finite, positive};

/// Counts the events of the window `(now - length, now]`: the left edge is outside, so that
/// adjoining windows never count one event twice. A session younger than the window counts over
/// the time since `start` instead (start included), not over a window it never had.
///
/// `times` are in rising order; units are whatever `length` is in.
///
/// # Errors
/// [`StatsError::Bad`] unless the length is above zero; [`StatsError::TooFew`] when no time has
/// passed since `start`.
pub fn window_count(
    times: &[f64],
    start: f64,
    now: f64,
    length: f64,
) -> Result<Counted, StatsError> {
    let length = positive("the window", length)?;
    let (start, now) = (finite("the start", start)?, finite("the time", now)?);
    if now <= start {
        return Err(StatsError::TooFew { what: "time", needed: 1, got: 0 });
    }
    let edge = now - length;
    let (from, exposure) = if edge < start {
        (times.partition_point(|&t| t < start), now - start)
    } else {
        (times.partition_point(|&t| t <= edge), length)
    };
    let to = times.partition_point(|&t| t <= now);
    Ok(Counted { count: super::count(to.saturating_sub(from)), exposure })
}

/// An exponentially weighted rate: an event counts 1 / tau when it happens and fades with time
/// constant `tau`. The estimate is corrected for the time before the start, in which nothing could
/// happen (edge correction as for kernel intensities, Diggle 1985, Appl Stat 34:138; from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FadingRate {
    tau: f64,
    start: f64,
    last: f64,
    weight: f64,
}

impl FadingRate {
    /// A rate that starts at `start` and remembers about `tau` of time.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless `tau` is above zero and `start` is a number.
    pub fn new(tau: f64, start: f64) -> Result<Self, StatsError> {
        let start = finite("the start", start)?;
        Ok(FadingRate { tau: positive("the time constant", tau)?, start, last: start, weight: 0.0 })
    }

    /// One event at `time`. A time before the last one (a clock set back) counts as the last one.
    pub fn add(&mut self, time: f64) {
        let time = if time > self.last { time.min(f64::MAX) } else { self.last };
        self.weight = self.weight * (-(time - self.last) / self.tau).exp() + 1.0;
        self.last = time;
    }

    /// Events per unit of time at `now`.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] when no time has passed since the start.
    pub fn rate(&self, now: f64) -> Result<f64, StatsError> {
        let now = finite("the time", now)?.max(self.last);
        let elapsed = now - self.start;
        if elapsed <= 0.0 {
            return Err(StatsError::TooFew { what: "time", needed: 1, got: 0 });
        }
        let seen = -(-elapsed / self.tau).exp_m1();
        Ok(self.weight * (-(now - self.last) / self.tau).exp() / (self.tau * seen))
    }
}
