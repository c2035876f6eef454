//! One switch is enough: a key, a USB switch or a foot pedal that acts as a key, read as short, long, double and triple
//! presses. Pure: times of key events in, presses out.
//!
//! A terminal reports when a key goes down, not when it comes up. A key that is held shows only by its repeats: the
//! first after a while, the others close behind each other. So what was pressed is known a moment later; but it
//! carries the time at which the key first went down.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::interpret::switch::{Press, Switch, Timing};
//! let ms = Duration::from_millis;
//! let mut switch = Switch::new(Timing::default());
//! assert!(switch.key(ms(1000)).is_empty());
//! assert!(switch.pass(ms(1300)).is_empty(), "it may still become a double or long press");
//! let pressed = switch.pass(ms(2000));
//! assert_eq!((pressed[0].press, pressed[0].at), (Press::Short, ms(1000)));
//! ```

mod meaning;

use std::time::Duration;

pub use meaning::{Action, Meant, SwitchSettings, Under};

/// Closer than this is one switch that bounces. Key repeats are at least 25 ms apart.
pub(super) const BOUNCE: Duration = Duration::from_millis(20);
/// Repeats of a held key come closer than this (ten a second and more); people do not press so fast.
const REPEAT_GAP: Duration = Duration::from_millis(120);

/// How one switch was pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Press {
    /// Down and up.
    Short,
    /// Held.
    Long,
    /// Twice in a row.
    Double,
    /// Three times in a row.
    Triple,
}

/// A press, and when the key first went down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pressed {
    /// How.
    pub press: Press,
    /// When, by the steady clock.
    pub at: Duration,
}

/// What tells presses apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timing {
    /// Held for this long, a press is long.
    pub long: Duration,
    /// Two presses that begin within this time are a double one.
    pub double: Duration,
    /// A third press that begins within this time after the second makes them a triple one; zero, and none is waited for.
    pub triple: Duration,
    /// The system's delay before a held key repeats is at most this. 660 ms is usual under X11, 500 to 600 ms on
    /// desktops, 250 ms on a bare Linux console (from memory).
    pub repeat_delay: Duration,
}

impl Default for Timing {
    fn default() -> Self {
        Timing {
            long: Duration::from_millis(600),
            double: Duration::from_millis(400),
            triple: Duration::from_millis(400),
            repeat_delay: Duration::from_millis(700),
        }
    }
}

#[derive(Debug, Clone, Copy)]
enum State {
    Idle,
    /// Down once.
    One(Duration),
    /// Down twice, too far apart for a bounce: a second press, or the first repeat.
    Two(Duration, Duration),
    /// Pressed twice; a third may come.
    Twice(Duration, Duration),
    /// It repeats, since the first and up to the second; reported or not.
    Held(Duration, Duration, bool),
}

/// Reads one switch.
#[derive(Debug, Clone)]
pub struct Switch {
    timing: Timing,
    state: State,
}

impl Switch {
    /// A switch that nobody presses.
    pub fn new(timing: Timing) -> Self {
        Switch { timing, state: State::Idle }
    }

    /// When the press under way began: nothing later than this is settled yet.
    pub fn pending_since(&self) -> Option<Duration> {
        match self.state {
            State::Idle | State::Held(_, _, true) => None,
            State::One(first)
            | State::Two(first, _)
            | State::Twice(first, _)
            | State::Held(first, _, false) => Some(first),
        }
    }

    /// When [`Switch::pass`] has something to report, if no key event comes before.
    pub fn wake_at(&self) -> Option<Duration> {
        let after = |moment: Duration| Some(moment + Duration::from_nanos(1));
        match self.state {
            State::Idle => None,
            State::One(first) => after(first + self.timing.repeat_delay.max(self.timing.double)),
            State::Two(_, last) | State::Held(_, last, _) => after(last + REPEAT_GAP),
            State::Twice(_, second) => after(second + self.timing.triple),
        }
    }

    /// A key event at `at`: down, or repeated.
    #[must_use = "a press not carried out is lost"]
    pub fn key(&mut self, at: Duration) -> Vec<Pressed> {
        let mut out = self.pass(at);
        let soon = |last: Duration, gap| at.saturating_sub(last) < gap;
        self.state = match self.state {
            State::Idle => State::One(at),
            State::One(first) if soon(first, BOUNCE) => State::One(first),
            State::One(first) => State::Two(first, at),
            State::Two(first, second) if soon(second, BOUNCE) => State::Two(first, second),
            State::Two(first, _) => State::Held(first, at, false),
            State::Twice(first, _) => {
                out.push(Pressed { press: Press::Triple, at: first });
                // What follows at once are its own bounces and repeats.
                State::Held(first, at, true)
            }
            State::Held(first, _, told) => State::Held(first, at, told),
        };
        if let State::Held(first, last, false) = self.state
            && last.saturating_sub(first) >= self.timing.long
        {
            self.state = State::Held(first, last, true);
            out.push(Pressed { press: Press::Long, at: first });
        }
        out
    }

    /// Lets time pass up to `now`: every key event before it has been given.
    #[must_use = "a press not carried out is lost"]
    pub fn pass(&mut self, now: Duration) -> Vec<Pressed> {
        let mut out = Vec::new();
        loop {
            let (press, at, next) = match self.state {
                State::One(first)
                    if now > first + self.timing.repeat_delay.max(self.timing.double) =>
                {
                    (Some(Press::Short), first, State::Idle)
                }
                // No third event close behind, so the second was not a repetition.
                State::Two(first, second) if now > second + REPEAT_GAP => {
                    let double = second.saturating_sub(first) <= self.timing.double;
                    if double && !self.timing.triple.is_zero() {
                        (None, first, State::Twice(first, second))
                    } else if double {
                        (Some(Press::Double), first, State::Idle)
                    } else {
                        (Some(Press::Short), first, State::One(second))
                    }
                }
                State::Twice(first, second) if now > second + self.timing.triple => {
                    (Some(Press::Double), first, State::Idle)
                }
                State::Held(first, last, told) if now > last + REPEAT_GAP => {
                    ((!told).then_some(Press::Short), first, State::Idle)
                }
                _ => return out,
            };
            self.state = next;
            out.extend(press.map(|press| Pressed { press, at }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    /// Presses read from key events at these milliseconds, with time reported every 100 ms as in life.
    fn read(timing: Timing, keys: &[u64]) -> Vec<(Press, u64)> {
        let mut switch = Switch::new(timing);
        let mut out = Vec::new();
        let (mut keys, mut told) = (keys.iter().peekable(), 0);
        while told < 20_000 {
            if let Some(key) = keys.next_if(|key| **key <= told + 100) {
                out.extend(switch.key(ms(*key)));
            } else {
                told += 100;
                out.extend(switch.pass(ms(told)));
            }
        }
        out.into_iter().map(|p| (p.press, p.at.as_millis() as u64)).collect()
    }

    fn usual(keys: &[u64]) -> Vec<(Press, u64)> {
        read(Timing::default(), keys)
    }

    /// A key held from `from` for this long, as a system with this delay repeats it 30 times a second.
    fn held(from: u64, lasts: u64, delay: u64) -> Vec<u64> {
        std::iter::once(from).chain((from + delay..=from + lasts).step_by(33)).collect()
    }

    #[test]
    fn one_key_is_short_two_soon_after_each_other_double_and_three_triple() {
        assert_eq!(usual(&[1000]), [(Press::Short, 1000)]);
        assert_eq!(usual(&[1000, 1008]), [(Press::Short, 1000)], "it bounces");
        for apart in [150, 250, 400] {
            assert_eq!(usual(&[1000, 1000 + apart]), [(Press::Double, 1000)], "{apart}");
        }
        assert_eq!(usual(&[1000, 1200, 1400]), [(Press::Triple, 1000)]);
        assert_eq!(usual(&[1000, 1200, 1405, 1413]), [(Press::Triple, 1000)], "it bounces");
        assert_eq!(usual(&[1000, 1200, 1601]), [(Press::Double, 1000), (Press::Short, 1601)]);
        let twice_at_most = Timing { triple: Duration::ZERO, ..Timing::default() };
        let pressed = read(twice_at_most, &[1000, 1200, 1400]);
        assert_eq!(pressed, [(Press::Double, 1000), (Press::Short, 1400)]);
    }

    #[test]
    fn slow_presses_are_short_ones_each_at_its_own_time() {
        for apart in [401, 500, 699, 900, 3000] {
            let expected = [(Press::Short, 1000), (Press::Short, 1000 + apart)];
            assert_eq!(usual(&[1000, 1000 + apart]), expected, "{apart}");
        }
        let many: Vec<u64> = (0..6).map(|i| 1000 + 500 * i).collect();
        assert_eq!(usual(&many).len(), 6);
    }

    #[test]
    fn a_held_key_is_long_once_whatever_the_systems_delay() {
        for delay in [250, 500, 600, 660] {
            for lasts in [900, 1500, 6000] {
                let pressed = usual(&held(1000, lasts, delay));
                assert_eq!(pressed, [(Press::Long, 1000)], "{delay} {lasts}");
            }
            let twice = [held(1000, 900, delay), held(4000, 900, delay)].concat();
            assert_eq!(usual(&twice), [(Press::Long, 1000), (Press::Long, 4000)], "{delay}");
        }
        let short = held(1000, 400, 250);
        assert_eq!(usual(&short), [(Press::Short, 1000)], "not held long enough");
    }

    #[test]
    fn what_does_nothing_is_not_waited_for() {
        let settings = SwitchSettings {
            long: Action::None,
            double: Action::None,
            ..SwitchSettings::default()
        };
        let mut switch = Switch::new(settings.timing());
        assert!(switch.key(ms(1000)).is_empty());
        assert_eq!(switch.pass(ms(1001)), [Pressed { press: Press::Short, at: ms(1000) }]);
    }

    #[test]
    fn a_press_under_way_holds_time_back() {
        let mut switch = Switch::new(Timing::default());
        assert_eq!(switch.pending_since(), None);
        assert!(switch.key(ms(1000)).is_empty());
        assert_eq!(switch.pending_since(), Some(ms(1000)));
        assert!(switch.key(ms(1300)).is_empty());
        assert_eq!(switch.pending_since(), Some(ms(1000)));
        assert!(switch.pass(ms(1500)).is_empty(), "a third may come");
        assert_eq!(switch.pending_since(), Some(ms(1000)));
        assert_eq!(switch.pass(ms(1701)).len(), 1);
        assert_eq!(switch.pending_since(), None);
    }

    proptest! {
        #[test]
        fn every_key_ends_in_a_press_and_presses_keep_their_order(
            gaps in proptest::collection::vec(1u64..1500, 1..30)
        ) {
            let mut at = 500;
            let keys: Vec<u64> = gaps.iter().map(|gap| { at += gap; at }).filter(|at| *at < 15_000).collect();
            let pressed = usual(&keys);
            prop_assert_eq!(pressed.is_empty(), keys.is_empty());
            prop_assert!(pressed.windows(2).all(|pair| pair[0].1 < pair[1].1));
            prop_assert!(pressed.iter().all(|(_, at)| keys.contains(at)));
        }
    }
}
