//! Random walks by one switch: they reach every function that it is offered, and never an end without a way on.
//!
//! A walker presses, holds, presses twice or three times, waits, and otherwise picks one of what is read and takes it. It
//! has no voice and no keys.

mod others;
mod talk;

use std::collections::{BTreeSet, VecDeque};
use std::sync::{LazyLock, Mutex};
use std::time::Duration;

use crate::interpret::switch::{Press, Pressed};
use crate::machine::{Choices, Label, Leads, Machine, Offer};
use crate::plan::Command;
use crate::scan::{ScanEffect, ScanInput, Scanner};
use crate::wording::Wording;

const LIST: &str = include_str!("../../../../tests/bench.d/functions.toml");
/// Nothing lies deeper, also with forty plans: so many presses take anything, the one that has it read included.
const MOST_PRESSES: usize = 7;

/// What is around a machine.
pub(super) trait World<M: Machine<Time = Duration>> {
    /// Carries out what the machine asks for, and notes what was reached; what follows comes back.
    fn carry_out(&mut self, now: Duration, effects: Vec<M::Effect>) -> Vec<M::Input>;
    /// What was taken, by what it was called, and what came of it at once.
    fn took(&mut self, called: &Label, effects: &[M::Effect]);
    /// A press that is not about choosing.
    fn press(&self, machine: &M, press: Press) -> Vec<M::Input>;
    fn opens_menu(&self, machine: &M, press: Press) -> bool;
    fn is_over(&self, machine: &M) -> bool;
}

pub(super) struct Walk<M: Machine<Time = Duration>, W> {
    pub(super) machine: M,
    pub(super) world: W,
    scanner: Scanner<M::Input>,
    pub(super) now: Duration,
    /// What is being read.
    read: Option<Label>,
    /// Of what is being read, the one that will be taken.
    wanted: usize,
    chance: fastrand::Rng,
}

impl<M, W> Walk<M, W>
where
    M: Machine<Time = Duration> + Clone,
    W: World<M>,
{
    pub(super) fn begin(machine: M, first: Vec<M::Effect>, world: W, seed: u64) -> Self {
        let scanner = Scanner::new(Duration::from_secs(2));
        let (now, chance) = (Duration::from_secs(10), fastrand::Rng::with_seed(seed));
        let mut walk = Walk { machine, world, scanner, now, read: None, wanted: 0, chance };
        walk.follow(first);
        walk
    }

    /// So many turns, or until it is over.
    pub(super) fn go(&mut self, turns: usize) {
        for turn in 0..turns {
            if self.world.is_over(&self.machine) {
                return;
            }
            self.now += Duration::from_millis(700);
            let effects = self.machine.pass(self.now);
            self.follow(effects);
            self.check(turn % 8 == 0);
            if self.scanner.scan.is_some() {
                self.pick();
            } else {
                match self.chance.usize(0..20) {
                    0..9 => self.press(Press::Short),
                    9..15 => self.press(Press::Long),
                    15..17 => self.press(Press::Double),
                    17 => self.press(Press::Triple),
                    _ => self.wait(),
                }
            }
            self.look();
        }
    }

    /// Waits for the item wanted, and takes it; now and then it holds or waits instead.
    fn pick(&mut self) {
        match self.chance.usize(0..12) {
            0 => return self.press(Press::Long),
            1 => return self.press(Press::Double),
            2 => return self.wait(),
            _ => {}
        }
        for _ in 0..self.wanted {
            let Some(due) = self.scanner.wake_at() else { break };
            self.now = self.now.max(due);
            let effects = self.scanner.pass(self.now);
            self.scanned(effects);
            self.look();
        }
        self.now += Duration::from_millis(700);
        self.press(Press::Short);
    }

    fn wait(&mut self) {
        self.now += Duration::from_secs(self.chance.usize(0..100) as u64);
        let effects = self.scanner.pass(self.now);
        self.scanned(effects);
        let effects = self.machine.pass(self.now);
        self.follow(effects);
    }

    fn press(&mut self, press: Press) {
        let menu = self.world.opens_menu(&self.machine, press);
        let choices = self.machine.choices();
        if self.scanner.scan.is_none() {
            // What is taken at once is called what it is called when it is read.
            self.read = match press {
                Press::Short => called(&choices, choices.short.as_ref()),
                Press::Long => called(&choices, choices.long.as_ref()),
                Press::Double | Press::Triple => called(&choices, choices.again.as_ref()),
            };
        }
        let pressed = Pressed { press, at: self.now };
        let effects = self.scanner.handle(self.now, ScanInput::Pressed { pressed, menu, choices });
        self.scanned(effects);
    }

    fn scanned(&mut self, effects: Vec<ScanEffect<M::Input>>) {
        for effect in effects {
            match effect {
                ScanEffect::Read(label) => {
                    assert!(words(&label).len() > 1, "{label:?} is called something");
                    self.read = Some(label);
                    self.wanted = self.chance.usize(0..9);
                    self.machine.choosing(self.scanner.until(self.now));
                }
                ScanEffect::Take(inputs) => {
                    let called = self.read.take().unwrap_or_else(|| Label::of("nothing read"));
                    for input in inputs {
                        let effects = self.machine.handle(self.now, input);
                        self.world.took(&called, &effects);
                        self.follow(effects);
                    }
                }
                ScanEffect::Bring(Pressed { press, .. }) => {
                    for input in self.world.press(&self.machine, press) {
                        let effects = self.machine.handle(self.now, input);
                        self.follow(effects);
                    }
                }
            }
        }
    }

    fn follow(&mut self, effects: Vec<M::Effect>) {
        let mut follows = VecDeque::from(self.world.carry_out(self.now, effects));
        while let Some(input) = follows.pop_front() {
            let effects = self.machine.handle(self.now, input);
            follows.extend(self.world.carry_out(self.now, effects));
        }
    }

    /// Our own voice is silent at once.
    fn look(&mut self) {
        if self.scanner.by_switch() {
            let choices = self.machine.choices();
            let mut effects = self.scanner.handle(self.now, ScanInput::Now(choices.clone()));
            if self.scanner.awaits_quiet() {
                effects.extend(self.scanner.handle(self.now, ScanInput::Quiet(choices)));
            }
            self.scanned(effects);
        }
    }

    /// There is a way on from here, and a short one.
    fn check(&self, closely: bool) {
        let choices = self.machine.choices();
        let goes_on = self.machine.wake_at().is_some() || !choices.asks;
        assert!(goes_on || !choices.offers.is_empty(), "an end without a way on");
        let deepest = depth(&choices.offers);
        assert!(deepest < MOST_PRESSES, "{deepest} levels");
        assert!(widest(&choices.offers) <= 9, "too many to be read in one go");
        if choices.asks && closely {
            assert!(self.goes_on(&choices, &choices.offers), "no answer leads on: {:?}", self.read);
        }
    }

    /// Whether one of these offers makes that something else can be taken.
    fn goes_on(&self, choices: &Choices<M::Input>, offers: &[Offer<M::Input>]) -> bool {
        offers.iter().any(|offer| match &offer.leads {
            Leads::To(inputs) => {
                let mut machine = self.machine.clone();
                inputs.iter().for_each(|input| drop(machine.handle(self.now, input.clone())));
                machine.choices() != *choices
            }
            Leads::Into(below) => self.goes_on(choices, below),
            Leads::Pace { .. } => false,
        })
    }
}

fn depth<I>(offers: &[Offer<I>]) -> usize {
    let below = |offer: &Offer<I>| match &offer.leads {
        Leads::Into(offers) => depth(offers),
        _ => 0,
    };
    1 + offers.iter().map(below).max().unwrap_or_default()
}

fn widest<I>(offers: &[Offer<I>]) -> usize {
    let below = |offer: &Offer<I>| match &offer.leads {
        Leads::Into(offers) => widest(offers),
        _ => 0,
    };
    offers.iter().map(below).max().unwrap_or_default().max(offers.len())
}

/// What this is called among these choices.
fn called<I: PartialEq>(choices: &Choices<I>, input: Option<&I>) -> Option<Label> {
    let is_it = |offer: &&Offer<I>| match &offer.leads {
        Leads::To(inputs) => inputs.len() == 1 && inputs.first() == input,
        _ => false,
    };
    choices.offers.iter().find(is_it).map(|offer| offer.label.clone())
}

/// The names of the functions in this part of the list.
fn names(part: &str) -> Vec<String> {
    let list: toml::Table = toml::from_str(LIST).expect("the list");
    list[part].as_table().expect("a part").keys().cloned().collect()
}

/// Walks, sixty at least, until all of this part of the list was reached; six hundred at most.
fn reached(part: &str, mut walk: impl FnMut(u64) -> BTreeSet<String>) -> BTreeSet<String> {
    let all = names(part);
    let mut reached = BTreeSet::new();
    for seed in 0..600 {
        if seed > 60 && all.iter().all(|name| reached.contains(name)) {
            break;
        }
        reached.append(&mut walk(seed));
    }
    reached
}

/// What is read; this fails where it has no words.
fn words(label: &Label) -> String {
    static ENGLISH: LazyLock<Mutex<Wording>> = LazyLock::new(|| Mutex::new(Wording::english()));
    ENGLISH.lock().expect("nobody fails while reading").choice(label)
}

/// The list has every command; a step is worked on by its number, and before a session it is another function.
#[test]
fn every_command_is_in_the_list() {
    let listen = names("listen");
    for command in Command::ALL {
        assert!(listen.contains(&command.name().into_owned()), "{command:?} is not in the list");
    }
}

/// The share of all functions that were reached; the bench reads the figure that this prints.
#[test]
fn one_switch_reaches_every_function_that_it_is_offered() {
    let parts = [
        ("listen", reached("listen", talk::day)),
        ("settle", reached("settle", others::settled)),
        ("soundcheck", reached("soundcheck", others::checked)),
        ("lesson", reached("lesson", others::taught)),
        ("quiz", reached("quiz", others::quizzed)),
    ];
    let (mut all, mut missing) = (0, Vec::new());
    for (part, reached) in &parts {
        let names = names(part);
        all += names.len();
        let not = names.iter().filter(|name| !reached.contains(*name));
        missing.extend(not.map(|name| format!("{part}: {name}")));
    }
    let share = (all - missing.len()) as f64 / all as f64;
    println!("\nswitch_reach_share\t{share:.3}");
    assert!(missing.is_empty(), "not reached of {all}: {missing:?}");
}
