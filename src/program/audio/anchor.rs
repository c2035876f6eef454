//! Ties the count of samples to the steady clock, and notices when samples vanish without a word.
//!
//! Session time is counted in samples. Samples arrive some time after they sounded, and never before,
//! so the least lag between clock and count, over a while, is the true distance between the two. A card
//! that runs a little fast or slow moves it slowly; a jump means that the sound system lost samples.

use std::time::Duration;

use super::RATE;
use crate::at::At;

/// Sound that vanished.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Slip {
    /// Samples at [`RATE`].
    pub(crate) samples: u64,
}

/// How long, how often and how closely to look before believing a jump.
#[derive(Debug, Clone, Copy)]
struct Look {
    span: Duration,
    least_jump: i64,
}

/// In ordinary running: a late batch or two is not a loss.
const PATIENT: Look = Look { span: Duration::from_secs(2), least_jump: 250_000_000 };
/// After the sound system said that it lost some.
const AFTER_XRUN: Look = Look { span: Duration::from_millis(400), least_jump: 20_000_000 };
/// Batches in a look. A program that was held up sees one late batch, then the rest in time.
const LEAST_BATCHES: u32 = 10;

#[derive(Debug, Default)]
pub(crate) struct Anchor {
    /// Clock minus count, in nanoseconds; none before the first sound.
    distance: Option<i64>,
    began: Option<Duration>,
    least: i64,
    batches: u32,
    xrun: bool,
}

impl Anchor {
    /// Takes note that, at `now`, `samples` at [`RATE`] have been counted in all. Says how many are
    /// missing, if some are; the caller then counts them too.
    pub(crate) fn heard(&mut self, now: Duration, samples: u64) -> Option<Slip> {
        let lag = nanos(now) - nanos(At::of_sample(samples, RATE).elapsed());
        let distance = *self.distance.get_or_insert(lag);
        if lag < distance {
            self.distance = Some(lag);
        }
        let began = *self.began.get_or_insert(now);
        self.least = if self.batches == 0 { lag } else { self.least.min(lag) };
        self.batches += 1;
        let look = if self.xrun { AFTER_XRUN } else { PATIENT };
        if now.saturating_sub(began) < look.span || self.batches < LEAST_BATCHES {
            return None;
        }
        self.look_again();
        let jump = self.least - self.distance.unwrap_or(self.least);
        if jump >= look.least_jump {
            let samples = jump as u64 / 1_000 * u64::from(RATE.get()) / 1_000_000;
            return Some(Slip { samples });
        }
        self.distance = Some(self.least);
        None
    }

    /// The sound system says that it lost some: look closely from now on, for a moment.
    pub(crate) fn lost_some(&mut self) {
        self.look_again();
        self.xrun = true;
    }

    /// True from an xrun until it is known what it cost.
    pub(crate) fn is_looking_closely(&self) -> bool {
        self.xrun
    }

    /// Forgets the look under way: after a gap that is accounted for.
    pub(crate) fn look_again(&mut self) {
        self.began = None;
        self.batches = 0;
        self.xrun = false;
    }

    /// Session time at `now`; the start, before any sound.
    pub(crate) fn session_time(&self, now: Duration) -> At {
        let since = self.distance.map_or(0, |distance| nanos(now) - distance);
        At::after(Duration::from_nanos(since.max(0) as u64))
    }
}

fn nanos(time: Duration) -> i64 {
    i64::try_from(time.as_nanos()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BATCH: u64 = 320; // 20 ms

    fn ms(milliseconds: u64) -> Duration {
        Duration::from_millis(milliseconds)
    }

    /// Feeds `batches` of 20 ms that began at clock `from`, each `late(i)` after it was whole.
    fn feed(
        anchor: &mut Anchor,
        from: Duration,
        count: &mut u64,
        batches: u64,
        late: impl Fn(u64) -> Duration,
    ) -> Vec<u64> {
        let mut slips = Vec::new();
        for i in 0..batches {
            *count += BATCH;
            if let Some(slip) = anchor.heard(from + ms(20) * (i as u32 + 1) + late(i), *count) {
                slips.push(slip.samples);
                *count += slip.samples;
            }
        }
        slips
    }

    #[test]
    fn session_time_follows_the_clock_between_batches() {
        let (mut anchor, mut count) = (Anchor::default(), 0);
        assert_eq!(anchor.session_time(ms(700)), At::ZERO);
        feed(&mut anchor, ms(1_000), &mut count, 50, |i| ms(30 - i % 20));
        // Sound began at 1000; batches came 11 ms late at best.
        assert_eq!(anchor.session_time(ms(5_011)), At::after(ms(4_000)));
    }

    #[test]
    fn jitter_and_a_held_up_program_are_not_a_loss() {
        let (mut anchor, mut count) = (Anchor::default(), 0);
        let late = |i: u64| if i % 400 < 150 { ms(3_000 - i % 400 * 20) } else { ms(i * 7 % 90) };
        assert_eq!(feed(&mut anchor, ms(0), &mut count, 3_000, late), [0u64; 0]);
    }

    #[test]
    fn a_slow_drift_is_followed_and_not_called_a_loss() {
        let (mut anchor, mut count) = (Anchor::default(), 0);
        // A card 200 parts in a million slow, for an hour: 0.72 s.
        let late = |i: u64| Duration::from_nanos(i * 4_000);
        assert_eq!(feed(&mut anchor, ms(0), &mut count, 180_000, late), [0u64; 0]);
        let behind = anchor.session_time(ms(3_600_000)).as_secs_f64() - 3_600.0;
        assert!((behind + 0.72).abs() < 0.001, "{behind}");
    }

    #[test]
    fn sound_that_vanished_is_found_and_counted() {
        let (mut anchor, mut count) = (Anchor::default(), 0);
        feed(&mut anchor, ms(0), &mut count, 500, |_| ms(10));
        // Half a second is lost.
        let slips = feed(&mut anchor, ms(10_500), &mut count, 500, |_| ms(10));
        assert_eq!(slips, [8_000]);
        assert_eq!(count, 1_000 * BATCH + 8_000);
    }

    #[test]
    fn after_an_xrun_a_short_loss_is_found_soon() {
        let (mut anchor, mut count) = (Anchor::default(), 0);
        feed(&mut anchor, ms(0), &mut count, 500, |_| ms(10));
        anchor.lost_some();
        let slips = feed(&mut anchor, ms(10_040), &mut count, 25, |i| ms(10 + i % 3));
        assert_eq!(slips, [640]);
        let (mut anchor, mut count) = (Anchor::default(), 0);
        feed(&mut anchor, ms(0), &mut count, 500, |_| ms(10));
        anchor.lost_some();
        assert_eq!(
            feed(&mut anchor, ms(10_005), &mut count, 25, |_| ms(10)),
            [0u64; 0],
            "too little"
        );
    }

    proptest! {
        #[test]
        fn no_order_of_times_breaks_it(steps in proptest::collection::vec((0u64..10_000, 0u64..100_000, any::<bool>()), 0..200)) {
            let (mut anchor, mut count) = (Anchor::default(), 0);
            for (clock, samples, xrun) in steps {
                if xrun {
                    anchor.lost_some();
                }
                count += samples;
                if let Some(slip) = anchor.heard(ms(clock), count) {
                    count += slip.samples;
                }
                let _ = anchor.session_time(ms(clock));
            }
        }
    }
}
