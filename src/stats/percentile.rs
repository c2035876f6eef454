//! Percentile schedules: pay what beats a rank among the last responses, so that the criterion
//! follows the animal and the share of paid responses stays as planned.
//!
//! The rank is k = (m + 1)(1 - w) for a window of m responses and a wanted share w (Platt 1973;
//! Galbicka 1994, J Appl Behav Anal 27:739). Its traps are decided here once: the product is
//! rounded to 1e-9 before it is called whole, fractions follow a stated rule, and ties too.

use std::collections::VecDeque;

use super::{StatsError, bad, finite, share};

/// Which end is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Better {
    /// Longer, farther, more.
    Higher,
    /// Quicker, closer, less.
    Lower,
}

/// What to do with a rank that is not whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fraction {
    /// Round down: pays a little more than planned. Keeps rewards frequent; the default.
    Down,
    /// Round up: pays a little less than planned.
    Up,
    /// The criterion lies between the two responses.
    Between,
}

/// What to do with a response that equals the criterion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tie {
    /// Pay only what is strictly better. On a flat history this pays nothing at all.
    Withhold,
    /// Pay what is as good.
    Pay,
    /// Break ties at random, which keeps the planned share: the caller's draw, from 0 up to 1.
    Draw(f64),
}

/// The rank `(m + 1)(1 - w)`, rounded to 1e-9: 0 pays everything, m + 1 nothing.
///
/// # Errors
/// [`StatsError::Bad`] unless the window holds at least 1 and the share is from 0 to 1.
pub fn rank(window: u32, wanted: f64) -> Result<f64, StatsError> {
    if window == 0 {
        return Err(bad("the window", "at least 1 response", 0.0));
    }
    let exact = (f64::from(window) + 1.0) * (1.0 - share("the wanted share", wanted)?);
    Ok((exact * 1e9).round() / 1e9)
}

/// The share that a whole rank really pays, without ties: `(m + 1 - k) / (m + 1)`.
///
/// # Errors
/// [`StatsError::Bad`] for an empty window or a rank beyond m + 1.
pub fn paid_share(window: u32, rank: u32) -> Result<f64, StatsError> {
    if window == 0 {
        return Err(bad("the window", "at least 1 response", 0.0));
    }
    let places = f64::from(window) + 1.0;
    if f64::from(rank) > places {
        return Err(bad("the rank", "at most the window and one", f64::from(rank)));
    }
    Ok((places - f64::from(rank)) / places)
}

/// The smallest window of at least `least` responses whose rank is whole, so that the schedule
/// pays exactly what was planned. `None` when there is none within a hundred more.
///
/// # Errors
/// [`StatsError::Bad`] unless the share is from 0 to 1.
pub fn whole_window(least: u32, wanted: f64) -> Result<Option<u32>, StatsError> {
    let least = least.max(1);
    share("the wanted share", wanted)?;
    for window in least..=least.saturating_add(100) {
        if rank(window, wanted)?.fract() == 0.0 {
            return Ok(Some(window));
        }
    }
    Ok(None)
}

/// What a response must reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Criterion {
    /// Any response is paid (rank 0).
    Anything,
    /// Beat this value.
    Beat(f64),
    /// No response is paid (rank m + 1).
    Nothing,
}

/// A running schedule over the last `m` responses.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    wanted: f64,
    better: Better,
    fraction: Fraction,
    most: usize,
    recent: VecDeque<f64>,
}

impl Schedule {
    /// A schedule over the last `window` responses that pays a share of `wanted`.
    ///
    /// # Errors
    /// [`StatsError::Bad`] for an empty window or one beyond 10 000, or a share outside 0 to 1.
    pub fn new(
        window: u32,
        wanted: f64,
        better: Better,
        fraction: Fraction,
    ) -> Result<Self, StatsError> {
        rank(window, wanted)?;
        if window > 10_000 {
            return Err(bad("the window", "at most 10 000 responses", f64::from(window)));
        }
        let most = window as usize;
        Ok(Schedule { wanted, better, fraction, most, recent: VecDeque::with_capacity(most) })
    }

    /// Takes a response into the window; the oldest leaves a full one.
    ///
    /// # Errors
    /// [`StatsError::Bad`] unless it is a finite number.
    pub fn push(&mut self, response: f64) -> Result<(), StatsError> {
        let response = finite("a response", response)?;
        if self.recent.len() == self.most {
            self.recent.pop_front();
        }
        self.recent.push_back(response);
        Ok(())
    }

    /// The responses in the window, oldest first.
    pub fn recent(&self) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.recent.iter().copied()
    }

    /// What the next response must beat.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] until the window is full, with how many responses it needs.
    pub fn criterion(&self) -> Result<Criterion, StatsError> {
        let (sorted, k) = self.ranked()?;
        let at = |rank: usize| match rank {
            0 => Criterion::Anything,
            r if r > sorted.len() => Criterion::Nothing,
            r => Criterion::Beat(self.sign() * sorted[r - 1]),
        };
        let (down, part) = (k.floor() as usize, k.fract());
        Ok(match self.fraction {
            Fraction::Down => at(down),
            Fraction::Up => at(k.ceil() as usize),
            Fraction::Between if part == 0.0 => at(down),
            Fraction::Between => match (at(down), at(down + 1)) {
                (Criterion::Beat(a), Criterion::Beat(b)) => Criterion::Beat(a + part * (b - a)),
                // Beyond the ends there is nothing to lie between: the easier of the two.
                (easier, _) => easier,
            },
        })
    }

    /// Whether a response earns its reward. It is not taken into the window: see [`Self::push`].
    ///
    /// # Errors
    /// [`StatsError::TooFew`] until the window is full; [`StatsError::Bad`] for a response or draw
    /// that is not a number.
    pub fn pays(&self, response: f64, tie: Tie) -> Result<bool, StatsError> {
        let response = self.sign() * finite("a response", response)?;
        let (beaten, tied) = match (self.criterion()?, tie) {
            (Criterion::Anything, _) => return Ok(true),
            (Criterion::Nothing, _) => return Ok(false),
            (Criterion::Beat(c), _) => (response > self.sign() * c, response == self.sign() * c),
        };
        match tie {
            Tie::Withhold => Ok(beaten),
            Tie::Pay => Ok(beaten || tied),
            Tie::Draw(draw) if !tied => share("the draw", draw).map(|_| beaten),
            Tie::Draw(draw) => Ok(share("the draw", draw)? < self.tie_share(response)?),
        }
    }

    /// The share of tied responses to pay: the response's place among those it ties with is as
    /// likely to be any.
    fn tie_share(&self, response: f64) -> Result<f64, StatsError> {
        let (sorted, k) = self.ranked()?;
        let k = if self.fraction == Fraction::Up { k.ceil() } else { k.floor() };
        let below = sorted.partition_point(|&x| x < response);
        let ties = sorted.partition_point(|&x| x <= response) - below;
        Ok((((below + ties + 1) as f64 - k) / (ties + 1) as f64).clamp(0.0, 1.0))
    }

    /// The window, worst first and signed so that higher is better, with the rank.
    fn ranked(&self) -> Result<(Vec<f64>, f64), StatsError> {
        if self.recent.len() < self.most {
            let (needed, got) = (self.most, self.recent.len());
            return Err(StatsError::TooFew { what: "responses", needed, got });
        }
        let mut sorted: Vec<f64> = self.recent.iter().map(|x| self.sign() * x).collect();
        sorted.sort_by(f64::total_cmp);
        Ok((sorted, rank(self.most as u32, self.wanted)?))
    }

    fn sign(&self) -> f64 {
        if self.better == Better::Higher { 1.0 } else { -1.0 }
    }
}
