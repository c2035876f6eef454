//! Whether an animal that was at work ceases to: tries of the last minute and a half against those of
//! the five minutes before it.
//!
//! Animals that work for themselves do so in bouts (Sibly, Nott & Fletcher 1990, Anim Behav 39:63). Gaps
//! within a bout scatter so much that no single one says that it is over, and pauses between bouts are so
//! long that hardly any is unusual; but that work which went on for minutes has all but ceased is seen from
//! the counts. Only what worked can cease to: the minutes before must have held some.

use std::collections::VecDeque;

/// What is lately, and what is before it, in seconds.
const LATELY_S: f64 = 90.0;
const BEFORE_S: f64 = 300.0;
/// Less than this of the time before says nothing of the pace.
const LEAST_BEFORE_S: f64 = 90.0;
/// Busy: this many tries in all of the time before, or as many for a part of it.
const BUSY: f64 = 12.0;
/// Shares of the pace before: at most the first it has all but ceased, above the other it is there again.
const CEASED: f64 = 0.25;
const AGAIN: f64 = 0.9;

/// The latest tries.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pace {
    from: f64,
    tries: VecDeque<f64>,
}

impl Pace {
    /// Counting from `now`, in active seconds.
    pub fn new(now: f64) -> Self {
        Pace { from: now, tries: VecDeque::new() }
    }

    /// A try came.
    pub fn tried(&mut self, now: f64) {
        self.tries.push_back(now);
        while self.tries.front().is_some_and(|at| *at <= now - LATELY_S - BEFORE_S) {
            self.tries.pop_front();
        }
    }

    /// The paces now; `None` while too little came before.
    pub fn now(&self, now: f64) -> Option<Paces> {
        let began = now - LATELY_S;
        let before_s = (began - self.from).min(BEFORE_S);
        if before_s < LEAST_BEFORE_S {
            return None;
        }
        let until = |at: f64| self.tries.partition_point(|time| *time <= at);
        let before = until(began) - until(began - before_s);
        let lately = self.tries.len() - until(began);
        Some(Paces {
            lately: lately as f64,
            expected: before as f64 * LATELY_S / before_s,
            whole: before_s >= BEFORE_S,
        })
    }
}

/// Tries of late, and how many there would be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paces {
    /// Tries in the last minute and a half.
    pub lately: f64,
    /// How many would have come in it at the pace before.
    pub expected: f64,
    whole: bool,
}

impl Paces {
    /// Whether the animal was at work before: this many tries a second, of which no more are asked than
    /// [`Self::busy`] asks.
    pub fn at_work(&self, per_s: f64) -> bool {
        self.busy() || self.expected >= per_s * LATELY_S
    }

    /// Whether tries came this often before that a minute and a half without one tells.
    pub fn busy(&self) -> bool {
        self.expected >= BUSY * LATELY_S / BEFORE_S
    }

    /// Whether an animal that was at work has all but ceased to.
    pub fn ceased(&self) -> bool {
        self.whole && self.busy() && self.lately <= CEASED * self.expected
    }

    /// Whether it works as before.
    pub fn again(&self) -> bool {
        self.busy() && self.lately > AGAIN * self.expected
    }
}

/// Seconds that count as lately.
pub const fn lately_s() -> f64 {
    LATELY_S
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_a_try_in(seconds: f64, until: f64) -> Pace {
        let mut pace = Pace::new(0.0);
        let mut at = 0.0;
        while at < until {
            at += seconds;
            pace.tried(at);
        }
        pace
    }

    #[test]
    fn work_that_ceases_is_seen_within_a_minute_and_a_half() {
        let pace = at_a_try_in(10.0, 600.0);
        let ceased = |now: f64| pace.now(now).is_some_and(|paces| paces.ceased());
        assert!(!ceased(600.0) && !ceased(640.0));
        assert!(ceased(680.0));
        assert!(pace.now(600.0).is_some_and(|paces| paces.again()));
    }

    #[test]
    fn rare_tries_are_not_work_that_could_cease() {
        let pace = at_a_try_in(60.0, 600.0);
        let at_work = |paces: Paces| paces.at_work(0.01) && !paces.at_work(0.04);
        assert!(pace.now(600.0).is_some_and(at_work));
        assert!(pace.now(700.0).is_some_and(|paces| paces.lately == 0.0 && !paces.ceased()));
    }

    #[test]
    fn the_first_minutes_say_nothing_of_the_pace() {
        let pace = at_a_try_in(5.0, 170.0);
        assert_eq!(pace.now(170.0), None);
        assert!(pace.now(300.0).is_some_and(|paces| paces.lately == 0.0 && !paces.ceased()));
    }
}
