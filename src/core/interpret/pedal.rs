//! A switch that also reports when it comes up, as a MIDI pedal does: what was pressed is known exactly, and sooner than
//! from a terminal's key. Pure: times of downs and ups in, presses out.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::interpret::pedal::Pedal;
//! use hushtally_core::interpret::switch::{Press, Timing};
//! let ms = Duration::from_millis;
//! let mut pedal = Pedal::new(Timing::default());
//! assert!(pedal.down(ms(1000)).is_empty());
//! let pressed = pedal.pass(ms(1600));
//! assert_eq!((pressed[0].press, pressed[0].at), (Press::Long, ms(1000)), "still held");
//! ```

use std::time::Duration;

use super::switch::{BOUNCE, Press, Pressed, Switch, Timing};

#[derive(Debug, Clone, Copy)]
enum State {
    Idle,
    /// Down since.
    Down(Duration),
    /// It went down and came up, at these times.
    Up(Duration, Duration),
    /// It went down a second time: the first and the second time.
    DownAgain(Duration, Duration),
    /// It came up again: when it went down first, and second, and when it came up.
    UpAgain(Duration, Duration, Duration),
    /// What was pressed is reported; it has not come up yet.
    Told,
}

/// Reads one pedal.
#[derive(Debug, Clone)]
pub struct Pedal {
    timing: Timing,
    state: State,
}

impl Pedal {
    /// A pedal that nobody presses.
    pub fn new(timing: Timing) -> Self {
        Pedal { timing, state: State::Idle }
    }

    /// It went down.
    #[must_use = "a press not carried out is lost"]
    pub fn down(&mut self, at: Duration) -> Vec<Pressed> {
        let mut out = self.pass(at);
        self.state = match self.state {
            State::Idle => State::Down(at),
            State::Up(first, up) if at.saturating_sub(up) < BOUNCE => State::Down(first),
            State::Up(first, _) if !self.timing.triple.is_zero() => State::DownAgain(first, at),
            State::Up(first, _) => {
                out.push(Pressed { press: Press::Double, at: first });
                State::Told
            }
            State::UpAgain(first, second, up) if at.saturating_sub(up) < BOUNCE => {
                State::DownAgain(first, second)
            }
            State::UpAgain(first, ..) => {
                out.push(Pressed { press: Press::Triple, at: first });
                State::Told
            }
            held => held,
        };
        out
    }

    /// It came up.
    #[must_use = "a press not carried out is lost"]
    pub fn up(&mut self, at: Duration) -> Vec<Pressed> {
        let out = self.pass(at);
        self.state = match self.state {
            State::Down(first) => State::Up(first, at),
            State::DownAgain(first, second) => State::UpAgain(first, second, at),
            State::Told => State::Idle,
            up => up,
        };
        out
    }

    /// Lets time pass up to `now`: every event before it has been given.
    #[must_use = "a press not carried out is lost"]
    pub fn pass(&mut self, now: Duration) -> Vec<Pressed> {
        // Where a long press does nothing, nothing is waited for (see `SwitchSettings::timing`).
        let long_is_used = !self.timing.repeat_delay.is_zero();
        let (press, at, next) = match self.state {
            State::Down(first) if long_is_used && now >= first + self.timing.long => {
                (Press::Long, first, State::Told)
            }
            State::Up(first, up) if now > (first + self.timing.double).max(up + BOUNCE) => {
                (Press::Short, first, State::Idle)
            }
            State::DownAgain(first, second) if now > second + self.timing.triple => {
                (Press::Double, first, State::Told)
            }
            State::UpAgain(first, second, up)
                if now > (second + self.timing.triple).max(up + BOUNCE) =>
            {
                (Press::Double, first, State::Idle)
            }
            _ => return Vec::new(),
        };
        self.state = next;
        vec![Pressed { press, at }]
    }

    /// When [`Pedal::pass`] has something to report, if nothing happens before.
    pub fn wake_at(&self) -> Option<Duration> {
        let long_is_used = !self.timing.repeat_delay.is_zero();
        match self.state {
            State::Down(first) => long_is_used.then(|| first + self.timing.long),
            State::Up(first, up) => {
                let over = (first + self.timing.double).max(up + BOUNCE);
                Some(over + Duration::from_nanos(1))
            }
            State::DownAgain(_, second) => {
                Some(second + self.timing.triple + Duration::from_nanos(1))
            }
            State::UpAgain(_, second, up) => {
                let over = (second + self.timing.triple).max(up + BOUNCE);
                Some(over + Duration::from_nanos(1))
            }
            State::Idle | State::Told => None,
        }
    }

    /// When the press under way began: nothing later than this is settled yet.
    pub fn pending_since(&self) -> Option<Duration> {
        match self.state {
            State::Idle | State::Told => None,
            State::Down(first)
            | State::Up(first, _)
            | State::DownAgain(first, _)
            | State::UpAgain(first, ..) => Some(first),
        }
    }
}

/// The keyboard's switch and the pedal, side by side.
#[derive(Debug, Clone)]
pub struct Switches {
    /// A key of a terminal.
    pub key: Switch,
    /// A pedal.
    pub pedal: Pedal,
}

impl Switches {
    /// Both with the same timing; nobody presses them.
    pub fn new(timing: Timing) -> Self {
        Switches { key: Switch::new(timing), pedal: Pedal::new(timing) }
    }

    /// Lets time pass for both.
    #[must_use = "a press not carried out is lost"]
    pub fn pass(&mut self, now: Duration) -> Vec<Pressed> {
        let mut pressed = self.key.pass(now);
        pressed.extend(self.pedal.pass(now));
        pressed
    }

    /// When [`Switches::pass`] has something to report, if nothing happens before.
    pub fn wake_at(&self) -> Option<Duration> {
        self.key.wake_at().into_iter().chain(self.pedal.wake_at()).min()
    }

    /// When the earlier of the presses under way began.
    pub fn pending_since(&self) -> Option<Duration> {
        self.key.pending_since().into_iter().chain(self.pedal.pending_since()).min()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interpret::switch::{Action, SwitchSettings};

    fn ms(ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    /// Presses read from downs and ups, in turns, at these milliseconds, with time reported every 100 ms as in life; and
    /// when each was known.
    fn read(timing: Timing, events: &[u64]) -> Vec<(Press, u64, u64)> {
        let mut pedal = Pedal::new(timing);
        let mut out = Vec::new();
        let (mut events, mut told, mut down) = (events.iter().peekable(), 0, false);
        while told < 10_000 {
            let (now, pressed) = if let Some(at) = events.next_if(|at| **at <= told + 100) {
                down = !down;
                (*at, if down { pedal.down(ms(*at)) } else { pedal.up(ms(*at)) })
            } else {
                told += 100;
                (told, pedal.pass(ms(told)))
            };
            out.extend(pressed.into_iter().map(|p| (p.press, p.at.as_millis() as u64, now)));
        }
        assert_eq!(pedal.pending_since(), None);
        out
    }

    #[test]
    fn short_long_double_and_triple_are_told_apart_and_known_soon() {
        let usual = |events: &[u64]| read(Timing::default(), events);
        assert_eq!(usual(&[1000, 1150]), [(Press::Short, 1000, 1500)]);
        assert_eq!(usual(&[1000, 1590]), [(Press::Short, 1000, 1700)], "just not long");
        assert_eq!(usual(&[1000, 1605]), [(Press::Long, 1000, 1600)]);
        assert_eq!(usual(&[1000, 9000]), [(Press::Long, 1000, 1600)], "once, while still held");
        let twice = [1000, 1100, 1300, 1400];
        assert_eq!(usual(&twice), [(Press::Double, 1000, 1800)], "a third might have come");
        let twice_at_most = Timing { triple: Duration::ZERO, ..Timing::default() };
        assert_eq!(read(twice_at_most, &twice), [(Press::Double, 1000, 1300)]);
        let held = usual(&[1000, 1100, 1300, 3000]);
        assert_eq!(held, [(Press::Double, 1000, 1800)], "the second is held");
        let thrice = [1000, 1100, 1300, 1400, 1700, 1800];
        assert_eq!(usual(&thrice), [(Press::Triple, 1000, 1700)]);
        let slow = usual(&[1000, 1100, 1450, 1500]);
        assert_eq!(slow, [(Press::Short, 1000, 1450), (Press::Short, 1450, 1900)]);
    }

    #[test]
    fn contacts_that_bounce_are_one_press() {
        let bounced = read(Timing::default(), &[1000, 1004, 1007, 1010, 1013, 1200]);
        assert_eq!(bounced, [(Press::Short, 1000, 1500)]);
        let bounced = read(Timing::default(), &[1000, 1004, 1007, 1800, 1805, 1810]);
        assert_eq!(bounced.first(), Some(&(Press::Long, 1000, 1600)));
    }

    #[test]
    fn what_does_nothing_is_not_waited_for() {
        let settings = SwitchSettings {
            long: Action::None,
            double: Action::None,
            ..SwitchSettings::default()
        };
        assert_eq!(read(settings.timing(), &[1000, 2500]), [(Press::Short, 1000, 2600)]);
    }

    proptest::proptest! {
        #[test]
        fn every_press_is_told_at_the_time_of_a_down(
            gaps in proptest::collection::vec(21u64..900, 2..20)
        ) {
            let mut at = 500;
            let mut events: Vec<u64> = gaps.iter().map(|gap| { at += gap; at }).filter(|at| *at < 8_000).collect();
            events.truncate(events.len() / 2 * 2);
            let told = read(Timing::default(), &events);
            proptest::prop_assert_eq!(told.is_empty(), events.is_empty());
            let downs: Vec<u64> = events.iter().copied().step_by(2).collect();
            proptest::prop_assert!(told.iter().all(|(_, at, known)| downs.contains(at) && known >= at));
            proptest::prop_assert!(told.windows(2).all(|pair| pair[0].1 < pair[1].1));
        }
    }
}
