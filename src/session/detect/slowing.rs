//! Times that grow: the watch shared by the detectors of latency, effort and spacing.
//!
//! Logs of times are close to normal. The usual level is learnt from earlier sessions and on the way;
//! scores above it add up in a cumulative sum. A score counts at most [`MOST`], so that one look away
//! is not a decline (winsorised CUSUM; Lucas & Crosier 1982, Technometrics 24:199 give the idea of
//! robustness; Hawkins & Olwell 1998, section 3.4). A time that still runs counts as soon as it is
//! long enough to alarm when finished now.

use std::time::Duration;

use super::{Alarm, Scene};
use crate::session::{NudgeKind, Quantity, Reason};
use crate::stats::self_starting::{Learnt, quick_threshold};

/// A score counts at most so much.
const MOST: f64 = 2.5;
/// The change to notice: times this many times as long.
const LONGER: f64 = 1.5;
/// Weight of the newest time in the average that is shown.
const NEWEST: f64 = 0.25;
/// While nothing is known: standard deviation of the logs, as if seen in so many values.
const ASSUMED: (f64, f64) = (0.5, 4.0);

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Slowing {
    known: Learnt,
    sum: f64,
    threshold: f64,
    /// Exponentially weighted mean of the logs.
    average: Option<f64>,
    n: u32,
    rising_since: Duration,
    alarm: bool,
    told: u32,
}

impl Slowing {
    pub(crate) fn new(before: Option<Learnt>) -> Option<Self> {
        let known = match before {
            Some(before) => before,
            None => Learnt::new(0.0, 0.0, ASSUMED.0, ASSUMED.1).ok()?,
        };
        Some(Slowing {
            known,
            sum: 0.0,
            threshold: f64::MAX,
            average: None,
            n: 0,
            rising_since: Duration::ZERO,
            alarm: false,
            told: 0,
        })
    }

    /// Half of the change to notice, in standard deviations.
    fn allowance(&self) -> f64 {
        (LONGER.ln() / self.known.sd() / 2.0).clamp(0.25, 0.75)
    }

    /// A finished time in seconds; `run` values should pass between false alarms. A time that was
    /// cut off (`whole` false) was at least so long and teaches nothing of the level.
    pub(crate) fn take(&mut self, seconds: f64, whole: bool, run: f64, now: Duration) {
        if seconds.is_nan() || seconds <= 0.0 {
            return;
        }
        let log = seconds.ln();
        self.n = self.n.saturating_add(1);
        self.average = Some(self.average.map_or(log, |mean| mean + NEWEST * (log - mean)));
        let k = self.allowance();
        self.threshold = quick_threshold(k, run);
        if self.sum <= 0.0 {
            self.rising_since = now;
        }
        if let Some(score) = self.known.score(log) {
            self.sum = (self.sum + score.clamp(-MOST, MOST) - k).max(0.0);
        }
        if whole {
            // One look away must not widen what counts as usual either.
            let low = self.known.value_of(-MOST).unwrap_or(log);
            let high = self.known.value_of(MOST).unwrap_or(log);
            self.known.learn(log.max(low).min(high));
        }
        if self.sum >= self.threshold {
            self.alarmed();
        }
    }

    fn alarmed(&mut self) {
        self.alarm = true;
        self.sum = 0.0;
    }

    /// A time that has run for `seconds` and goes on.
    pub(crate) fn running(&mut self, seconds: f64) {
        if self.alarm || self.threshold == f64::MAX {
            return;
        }
        let missing = self.threshold - self.sum + self.allowance();
        if missing > MOST {
            return;
        }
        if self.known.value_of(missing).is_some_and(|log| seconds > 0.0 && seconds.ln() >= log) {
            self.alarmed();
        }
    }

    /// The alarm, if there is one: first *end soon*, then *end now*.
    pub(crate) fn look(&mut self, scene: &Scene, words: &Wording, share: f64) -> Option<Alarm> {
        if !std::mem::take(&mut self.alarm) {
            return None;
        }
        self.told = self.told.saturating_add(1);
        let nudge = if self.told == 1 { NudgeKind::EndSoon } else { NudgeKind::EndNow };
        let usual = self.known.mean().exp();
        let lately = self.average.unwrap_or(self.known.mean()).exp();
        let per_hour = scene.plan.limits.false_nudges_per_hour * share;
        Some(Alarm {
            nudge,
            since: Some(self.rising_since),
            reason: Reason {
                detector: words.detector.into(),
                because: format!(
                    "{} about {lately:.1} seconds lately, {usual:.1} usually",
                    words.takes
                ),
                inputs: vec![
                    Quantity::new("lately", lately, "s"),
                    Quantity::new("usually", usual, "s"),
                    Quantity::new("times seen", f64::from(self.n), ""),
                    Quantity::new("scatter of the logs", self.known.sd(), ""),
                    Quantity::new("threshold", self.threshold, "standard deviations"),
                    Quantity::new("false nudges an hour for this part", per_hour, "per h"),
                    Quantity::new("alarms so far", f64::from(self.told), ""),
                ],
                probability: Some(1.0 - (-per_hour * scene.seconds() / 3600.0).exp()),
                method: "self-starting cumulative sum of log times; lately: exponentially \
                         weighted average; probability: of a false alarm of this part in a \
                         session so long"
                    .into(),
                source: "Hawkins 1987, The Statistician 36:299; Siegmund 1985; Roberts 1959, \
                         Technometrics 1:239"
                    .into(),
            },
        })
    }
}

/// How a detector speaks of its times.
pub(crate) struct Wording {
    /// Its name.
    pub(crate) detector: &'static str,
    /// "answers take".
    pub(crate) takes: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lasting_slow_down_alarms_and_a_single_long_time_does_not() {
        let mut watch = Slowing::new(None).unwrap();
        let now = Duration::from_secs(1);
        for i in 0..20 {
            watch.take([2.0, 2.4, 1.8, 2.2][i % 4], true, 1000.0, now);
        }
        assert!((watch.known.mean().exp() - 2.09).abs() < 0.05);
        watch.take(60.0, true, 1000.0, now);
        assert!(!watch.alarm);
        for _ in 0..3 {
            watch.take(2.0, true, 1000.0, now);
        }
        let mut slow = 0;
        while !watch.alarm && slow < 20 {
            watch.take(3.6, true, 1000.0, now);
            slow += 1;
        }
        assert!(watch.alarm && slow < 10, "{slow}");
    }
}
