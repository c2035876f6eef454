//! Choosing by one switch: what can be taken is read one after the other, a press takes, holding goes back. Pure: presses
//! and time in, effects out; it runs over the [`Choices`] of any machine and knows none of them.
//!
//! While nothing is read, a press that nobody asked for is handed on as it is, so that a marker waits for nothing.
//! Reading begins by a press where one of several is asked for, by a press twice where yes or no is, by what the hands take
//! for the gesture of the menu, and by itself where whoever presses is asked something and leaves it.
//!
//! ```
//! use std::time::Duration;
//! use hushtally_core::interpret::switch::{Press, Pressed};
//! use hushtally_core::machine::{Choices, Label, Machine, Offer};
//! use hushtally_core::scan::{ScanEffect, ScanInput, Scanner};
//! let fruit = |line, input| Offer::to(Label::of(line), input);
//! let choices = Choices::one_of(vec![fruit("apple", 1), fruit("pear", 2)]);
//! let mut scanner = Scanner::new(Duration::from_secs(2));
//! let press = |at| {
//!     let pressed = Pressed { press: Press::Short, at };
//!     ScanInput::Pressed { pressed, menu: false, choices: choices.clone() }
//! };
//! let at = Duration::from_secs(10);
//! assert_eq!(scanner.handle(at, press(at)), [ScanEffect::Read(Label::of("apple"))]);
//! let _heard = scanner.handle(at, ScanInput::Quiet(choices.clone()));
//! let next = scanner.wake_at().expect("the next one comes by itself");
//! assert_eq!(scanner.pass(next), [ScanEffect::Read(Label::of("pear"))]);
//! let at = Duration::from_secs(13);
//! assert_eq!(scanner.handle(at, press(at)), [ScanEffect::Take(vec![2])]);
//! ```

use std::time::Duration;

use crate::interpret::switch::{Press, Pressed};
use crate::machine::{Choices, Label, Leads, Machine, Offer};

/// A list is read so often without a press, then it is left.
const ROUNDS: u8 = 2;
/// A press so soon after an item began was meant for the one before: nobody answers a sound sooner (a simple reaction to
/// one takes some 0.15 s, from memory).
const REACTION: Duration = Duration::from_millis(200);
/// Where a press alone answers already, reading begins by itself only after so many times the pace.
const LATER: u32 = 3;
/// More or less time to press is by this factor.
const FACTOR: f64 = 1.25;
/// Bounds of the pace.
const SHORTEST: Duration = Duration::from_millis(300);
const LONGEST: Duration = Duration::from_secs(60);
/// Reading an item takes no longer than this.
const READING: Duration = Duration::from_secs(10);

/// What happens.
#[derive(Debug, Clone, PartialEq)]
pub enum ScanInput<I> {
    /// The switch was pressed.
    Pressed {
        /// How, and when.
        pressed: Pressed,
        /// Whether this press asks for the menu, where nothing is asked.
        menu: bool,
        /// What can be taken now.
        choices: Choices<I>,
    },
    /// Our own voice is silent, and this can be taken.
    Quiet(Choices<I>),
    /// This can be taken, maybe since something was said.
    Now(Choices<I>),
}

/// What it asks of the world.
#[derive(Debug, Clone, PartialEq)]
#[must_use = "an effect not carried out is lost"]
pub enum ScanEffect<I> {
    /// Read this.
    Read(Label),
    /// This was taken.
    Take(Vec<I>),
    /// The press is not about choosing.
    Bring(Pressed),
}

/// One list being read.
#[derive(Debug, Clone)]
struct Level<I> {
    offers: Vec<Offer<I>>,
    /// What is read; after the last one the way back.
    place: usize,
}

/// What is being read.
#[derive(Debug, Clone)]
struct Scan<I> {
    /// Of which the first level is.
    choices: Choices<I>,
    levels: Vec<Level<I>>,
    rounds: u8,
    /// When the item at hand began to be read.
    began: Duration,
    /// Set once it was read to its end.
    next_at: Option<Duration>,
}

/// The scanner.
#[derive(Debug, Clone)]
pub struct Scanner<I> {
    pace: Duration,
    scan: Option<Scan<I>>,
    /// Whether a switch was used last.
    by_switch: bool,
    /// What is asked by now, until our own voice is silent.
    asked: bool,
    /// What is to be read by itself, and when.
    soon: Option<(Duration, Choices<I>)>,
    /// What could be taken when nothing was read.
    seen: Option<Choices<I>>,
}

impl<I: Clone + PartialEq> Scanner<I> {
    /// One that waits for so long at each item after it was read.
    pub fn new(pace: Duration) -> Self {
        let pace = pace.clamp(SHORTEST, LONGEST);
        Scanner { pace, scan: None, by_switch: false, asked: false, soon: None, seen: None }
    }

    /// The same, when a switch was used before.
    #[must_use]
    pub fn after_a_press(mut self, pressed: bool) -> Self {
        (self.by_switch, self.asked) = (pressed, pressed);
        self
    }

    /// Whether a switch was used last.
    pub fn by_switch(&self) -> bool {
        self.by_switch
    }

    /// How long it waits at each item.
    pub fn pace(&self) -> Duration {
        self.pace
    }

    /// Whether it wants to be told when our own voice is silent.
    pub fn awaits_quiet(&self) -> bool {
        self.asked || self.scan.as_ref().is_some_and(|scan| scan.next_at.is_none())
    }

    /// Something was said or typed: whoever can do that is read nothing unasked.
    pub fn said(&mut self) {
        (self.by_switch, self.asked, self.soon) = (false, false, None);
    }

    /// Until when somebody chooses, as far as is known at `now`.
    pub fn until(&self, now: Duration) -> Duration {
        now + self.pace * LATER + READING
    }
}

impl<I: Clone + PartialEq> Machine for Scanner<I> {
    type Time = Duration;
    type Input = ScanInput<I>;
    type Effect = ScanEffect<I>;

    fn handle(&mut self, at: Duration, input: ScanInput<I>) -> Vec<ScanEffect<I>> {
        let mut out = Vec::new();
        match input {
            ScanInput::Pressed { pressed, menu, choices } => {
                self.by_switch = true;
                self.asked = true;
                self.soon = None;
                self.left(&choices);
                match self.scan.take() {
                    Some(scan) => self.answer(pressed, scan, &mut out),
                    None => self.pressed(pressed, menu, choices, &mut out),
                }
            }
            ScanInput::Quiet(choices) => {
                self.left(&choices);
                if let Some(scan) = self.scan.as_mut() {
                    scan.next_at = scan.next_at.or(Some(at + self.pace));
                } else if self.asked && choices.asks && !choices.offers.is_empty() {
                    let waits = if choices.short.is_some() { LATER } else { 1 };
                    self.soon = Some((at + self.pace * waits, choices));
                }
                self.asked = false;
            }
            ScanInput::Now(choices) => {
                self.left(&choices);
                // Whoever presses is asked something else now.
                let new = self.seen.as_ref().is_some_and(|seen| *seen != choices);
                if new && self.scan.is_none() && self.by_switch {
                    (self.soon, self.asked) = (None, true);
                }
                self.seen = Some(choices);
            }
        }
        out
    }

    fn pass(&mut self, to: Duration) -> Vec<ScanEffect<I>> {
        let mut out = Vec::new();
        if let Some((_, choices)) = self.soon.take_if(|(at, _)| *at <= to) {
            self.open(to, choices, &mut out);
        }
        if let Some(at) = self.scan.as_ref().and_then(|scan| scan.next_at).filter(|at| *at <= to) {
            self.go_on(at, &mut out);
        }
        out
    }

    fn wake_at(&self) -> Option<Duration> {
        let soon = self.soon.as_ref().map(|(at, _)| *at);
        let next = self.scan.as_ref().and_then(|scan| scan.next_at);
        soon.into_iter().chain(next).min()
    }
}

impl<I: Clone + PartialEq> Scanner<I> {
    /// What is read is left when it cannot be taken any more.
    fn left(&mut self, choices: &Choices<I>) {
        self.scan.take_if(|scan| scan.choices != *choices);
        self.soon.take_if(|(_, soon)| soon != choices);
    }

    /// A press while nothing is read.
    fn pressed(
        &mut self,
        pressed: Pressed,
        menu: bool,
        choices: Choices<I>,
        out: &mut Vec<ScanEffect<I>>,
    ) {
        if choices.offers.is_empty() || !(choices.asks || menu) {
            return out.push(ScanEffect::Bring(pressed));
        }
        let at_once = match pressed.press {
            _ if !choices.asks => None,
            Press::Short => choices.short.clone(),
            Press::Long => choices.long.clone(),
            Press::Double | Press::Triple => choices.again.clone(),
        };
        match at_once {
            Some(input) => out.push(ScanEffect::Take(vec![input])),
            None => self.open(pressed.at, choices, out),
        }
    }

    fn open(&mut self, at: Duration, choices: Choices<I>, out: &mut Vec<ScanEffect<I>>) {
        let level = Level { offers: choices.offers.clone(), place: 0 };
        self.scan =
            Some(Scan { choices, levels: vec![level], rounds: 0, began: at, next_at: None });
        self.read(at, out);
    }

    /// Reads the item at hand.
    fn read(&mut self, at: Duration, out: &mut Vec<ScanEffect<I>>) {
        let Some(scan) = &mut self.scan else { return };
        let Some(level) = scan.levels.last() else { return };
        let label = level.offers.get(level.place).map(|offer| offer.label.clone());
        (scan.began, scan.next_at) = (at, None);
        out.push(ScanEffect::Read(label.unwrap_or_else(|| Label::of("back"))));
    }

    /// On to the next item; after some rounds without a press it is left.
    fn go_on(&mut self, at: Duration, out: &mut Vec<ScanEffect<I>>) {
        let Some(scan) = &mut self.scan else { return };
        let Some(level) = scan.levels.last_mut() else { return };
        level.place = (level.place + 1) % (level.offers.len() + 1);
        scan.rounds += u8::from(level.place == 0);
        if scan.rounds >= ROUNDS {
            self.scan = None;
            return out.push(ScanEffect::Read(Label::of("left")));
        }
        self.read(at, out);
    }

    /// A press while a list is read.
    fn answer(&mut self, pressed: Pressed, mut scan: Scan<I>, out: &mut Vec<ScanEffect<I>>) {
        let Pressed { press, at } = pressed;
        scan.rounds = 0;
        let Some(level) = scan.levels.last_mut() else { return };
        let of = level.offers.len() + 1;
        let before = (level.place + of - 1) % of;
        let leads = match press {
            Press::Short => {
                if level.place > 0 && at < scan.began + REACTION {
                    level.place = before;
                }
                level.offers.get(level.place).map(|offer| offer.leads.clone())
            }
            Press::Long => None,
            Press::Double | Press::Triple => {
                level.place = before;
                self.scan = Some(scan);
                return self.read(at, out);
            }
        };
        match leads {
            Some(Leads::To(inputs)) => return out.push(ScanEffect::Take(inputs)),
            Some(Leads::Into(offers)) => scan.levels.push(Level { offers, place: 0 }),
            Some(Leads::Pace { longer }) => {
                let factor = if longer { FACTOR } else { 1.0 / FACTOR };
                self.pace = self.pace.mul_f64(factor).clamp(SHORTEST, LONGEST);
            }
            None => {
                scan.levels.pop();
                if scan.levels.is_empty() {
                    return out.push(ScanEffect::Read(Label::of("left")));
                }
            }
        }
        self.scan = Some(scan);
        self.read(at, out);
    }
}

#[cfg(test)]
mod tests;
