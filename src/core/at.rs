//! Session time: a value, counted from the first sample of the session's sound. Never reads a clock.

use std::fmt;
use std::num::NonZeroU32;
use std::ops::Add;
use std::time::Duration;

use serde::{Deserialize, Serialize};

/// A moment in a session, as the time since the first sample of its sound.
///
/// ```
/// use hushtally_core::at::At;
/// use std::time::Duration;
/// let onset = At::from_secs_f64(2.5);
/// assert_eq!(onset + Duration::from_millis(500), At::from_secs_f64(3.0));
/// assert_eq!(onset.since(At::from_secs_f64(9.0)), Duration::ZERO); // never negative
/// ```
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(into = "u64", from = "u64")]
pub struct At(Duration);

impl At {
    /// The first sample.
    pub const ZERO: At = At(Duration::ZERO);

    /// The moment `elapsed` after the first sample.
    pub const fn after(elapsed: Duration) -> Self {
        At(elapsed)
    }

    /// From seconds; anything that is not a usable time (negative, NaN, too large) becomes the start.
    pub fn from_secs_f64(seconds: f64) -> Self {
        At(Duration::try_from_secs_f64(seconds).unwrap_or_default())
    }

    /// The moment of sample `index` at `rate` samples a second.
    pub fn of_sample(index: u64, rate: NonZeroU32) -> Self {
        let hz = u64::from(rate.get());
        // Whole seconds first, so that hours of sound do not overflow.
        At(Duration::from_secs(index / hz) + Duration::from_nanos(index % hz * 1_000_000_000 / hz))
    }

    /// Seconds since the first sample.
    pub fn as_secs_f64(self) -> f64 {
        self.0.as_secs_f64()
    }

    /// Nanoseconds since the first sample (585 years fit).
    pub fn as_nanos(self) -> u64 {
        u64::try_from(self.0.as_nanos()).unwrap_or(u64::MAX)
    }

    /// Time since the first sample.
    pub const fn elapsed(self) -> Duration {
        self.0
    }

    /// Time from `earlier` to this moment; zero when `earlier` is in fact later.
    pub fn since(self, earlier: At) -> Duration {
        self.0.saturating_sub(earlier.0)
    }

    /// This moment moved back by `span`, not before the start.
    pub fn back(self, span: Duration) -> Self {
        At(self.0.saturating_sub(span))
    }
}

impl Add<Duration> for At {
    type Output = At;
    fn add(self, span: Duration) -> At {
        At(self.0.saturating_add(span))
    }
}

impl From<At> for u64 {
    fn from(at: At) -> u64 {
        at.as_nanos()
    }
}

impl From<u64> for At {
    fn from(nanos: u64) -> At {
        At(Duration::from_nanos(nanos))
    }
}

impl fmt::Display for At {
    /// Minutes, seconds and hundredths: `2:07.35`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hundredths = self.0.as_millis() / 10;
        write!(f, "{}:{:02}.{:02}", hundredths / 6000, hundredths / 100 % 60, hundredths % 100)
    }
}
