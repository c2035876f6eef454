//! A simulated sitting: up to four behaviours, two animals and two people in any order, with tags taken back and put
//! right also across a switch, and whose each try really was. What stands is kept as a simple stack of what was said, and
//! not as the engine keeps it.

use std::time::Duration;

use rand::RngExt;

use super::{Dice, dice};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, Plan, RewardValue};
use crate::session::Input;

/// As many in a row are taken back at most; every session remembers more than that.
const TAKEN_BACK: usize = 4;
/// Those who train, the first from the begin on.
const PEOPLE: [&str; 2] = ["Ada", "Ben"];

/// A try and whose it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TryOf {
    /// When its marker or miss was said.
    pub at: At,
    /// The animal.
    pub animal: String,
    /// The behaviour.
    pub behaviour: String,
    /// Who took over; `None` while whoever began trains.
    pub person: Option<String>,
    /// What it was paid; `None` for a miss.
    pub paid: Option<RewardValue>,
}

/// A sitting, and what was really so.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedSitting {
    /// A plan for each animal and behaviour; the first is worked on first.
    pub plans: Vec<Plan>,
    /// What is said, in order.
    pub inputs: Vec<(At, Input)>,
    /// The tries that stand at the end, in order.
    pub tries: Vec<TryOf>,
}

/// What was said and can be taken back.
#[derive(Debug, Clone)]
enum Stands {
    Try(TryOf),
    /// A change: the try as it was.
    Changed(usize, TryOf),
    Hands(Option<String>),
    Other,
}

/// A sitting drawn at random, by plans made of this one.
pub fn sitting(plan: &Plan, seed: u64) -> SimulatedSitting {
    let dice = &mut dice(seed);
    let plans = plans(plan, dice);
    let mut talk = Talk {
        place: 0,
        // Of each animal, the behaviour that it worked on last.
        last: plans
            .iter()
            .enumerate()
            .rev()
            .map(|(place, plan)| (plan.animal.clone(), place))
            .collect(),
        plans,
        now: At::from_secs_f64(1.0),
        inputs: Vec::new(),
        stands: Vec::new(),
        person: None,
    };
    talk.say(Said::Command { command: Command::Begin });
    for _ in 0..dice.random_range(20..70) {
        talk.now = talk.now + Duration::from_millis(dice.random_range(300..9000));
        talk.one(dice);
    }
    talk.now = talk.now + Duration::from_secs(2);
    talk.say(Said::Command { command: Command::Finish });
    let tries = talk.stands.into_iter().filter_map(|one| match one {
        Stands::Try(of) => Some(of),
        _ => None,
    });
    SimulatedSitting { plans: talk.plans, inputs: talk.inputs, tries: tries.collect() }
}

/// Up to four behaviours of up to two animals.
fn plans(plan: &Plan, dice: &mut Dice) -> Vec<Plan> {
    let animals = ["Pip", "Rook"].into_iter().take(dice.random_range(1..=2));
    let behaviours = dice.random_range(1..=4);
    let mut plans = Vec::new();
    for animal in animals {
        for behaviour in ["turn", "wave", "bow", "wait"].into_iter().take(behaviours) {
            let (animal, behaviour) = (animal.to_owned(), behaviour.to_owned());
            plans.push(Plan { animal, behaviour, ..plan.clone() });
        }
    }
    plans
}

struct Talk {
    plans: Vec<Plan>,
    place: usize,
    last: std::collections::BTreeMap<String, usize>,
    now: At,
    inputs: Vec<(At, Input)>,
    stands: Vec<Stands>,
    person: Option<String>,
}

impl Talk {
    fn say(&mut self, said: Said) {
        self.inputs.push((self.now, Input::said(said, "said")));
    }

    fn one(&mut self, dice: &mut Dice) {
        match dice.random_range(0..100) {
            0..45 => self.tried(Some(RewardValue::Low), dice),
            45..58 => self.tried(None, dice),
            58..63 => self.other(Said::State { mood: Mood::Calm }),
            63..66 => self.other(Said::Cue),
            66..70 => self.take_over(dice),
            70..80 => self.take_back(dice),
            80..84 => self.put_right(),
            _ => self.switch(dice),
        }
    }

    fn tried(&mut self, paid: Option<RewardValue>, dice: &mut Dice) {
        let value = paid.filter(|_| dice.random_bool(0.3)).map(|_| RewardValue::High);
        let details = Details { value, ..Details::default() };
        self.say(if paid.is_some() { Said::Rep(details) } else { Said::Miss(details) });
        let Plan { animal, behaviour, .. } = &self.plans[self.place];
        self.stands.push(Stands::Try(TryOf {
            at: self.now,
            animal: animal.clone(),
            behaviour: behaviour.clone(),
            person: self.person.clone(),
            paid: value.or(paid.map(|_| self.plans[self.place].default_value(1, 1))),
        }));
    }

    fn other(&mut self, said: Said) {
        self.say(said);
        self.stands.push(Stands::Other);
    }

    fn take_over(&mut self, dice: &mut Dice) {
        let person = PEOPLE[dice.random_range(0..PEOPLE.len())].to_owned();
        self.say(Said::TakesOver { person: person.clone() });
        self.stands.push(Stands::Hands(self.person.replace(person)));
    }

    fn take_back(&mut self, dice: &mut Dice) {
        for _ in 0..dice.random_range(1..=TAKEN_BACK) {
            self.now = self.now + Duration::from_millis(dice.random_range(200..1500));
            self.say(Said::TakeBack);
            match self.stands.pop() {
                Some(Stands::Changed(place, before)) => self.stands[place] = Stands::Try(before),
                Some(Stands::Hands(before)) => self.person = before,
                _ => {}
            }
        }
    }

    /// "Correction jackpot", wherever work has gone since.
    fn put_right(&mut self) {
        let jackpot = Details { value: Some(RewardValue::Jackpot), ..Details::default() };
        self.say(Said::Change(jackpot));
        let latest = self.stands.iter().rposition(|one| matches!(one, Stands::Try(_)));
        let Some(place) = latest else {
            // It finds nothing, and is a doubt that can be taken back.
            self.stands.push(Stands::Other);
            return;
        };
        let Stands::Try(before) = self.stands[place].clone() else { return };
        if before.paid.is_some() {
            let paid = Some(RewardValue::Jackpot);
            self.stands[place] = Stands::Try(TryOf { paid, ..before.clone() });
            self.stands.push(Stands::Changed(place, before));
        } else {
            // A miss is paid nothing.
            self.stands.push(Stands::Other);
        }
    }

    fn switch(&mut self, dice: &mut Dice) {
        let to = dice.random_range(0..self.plans.len());
        let Plan { animal, behaviour, .. } = self.plans[to].clone();
        if animal == self.plans[self.place].animal {
            self.place = to;
            self.say(Said::Behaviour { name: behaviour });
        } else {
            self.last.insert(self.plans[self.place].animal.clone(), self.place);
            self.place = self.last[&animal];
            self.say(Said::Animal { name: animal });
        }
    }
}
