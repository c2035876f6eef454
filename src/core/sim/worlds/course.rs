//! One session of a world, as the trainer tags it.

use rand::RngExt;

use super::super::animal::spread;
use super::super::{Dice, Simulated, Truth};
use super::subject::{Day, Subject, chance_factor};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::session::Input;

/// Median seconds of getting ready for the next try, by the trainer's pace.
pub(super) const SETTING_UP_S: [f64; 3] = [0.6, 1.5, 4.0];
/// Median seconds of paying and eating.
pub(super) const EATING_S: [f64; 3] = [1.5, 2.8, 5.0];
/// From the try to the marker.
const REACTION_S: f64 = 0.3;
/// A cue that is not answered for this long, or for this many times the species' usual, is given up.
const GIVES_UP: (f64, f64) = (12.0, 5.0);
/// This many rewards between two reloadings, and the median of how long one takes.
const RELOADS: (std::ops::Range<u32>, f64) = (12..25, 15.0);

pub(super) struct Course<'a> {
    animal: &'a Subject,
    day: Day,
    working: u8,
    now: f64,
    inputs: Vec<(At, Input)>,
    habits: Vec<(At, f64)>,
    says_miss: f64,
    lost: f64,
    until_reload: u32,
}

impl<'a> Course<'a> {
    pub(super) fn new(animal: &'a Subject, day: Day, plan: &Plan, dice: &mut Dice) -> Self {
        Course {
            animal,
            day,
            working: plan.start_step,
            now: 0.0,
            inputs: Vec::new(),
            habits: Vec::new(),
            says_miss: dice.random_range(0.6..1.0),
            lost: dice.random_range(0.0..0.04),
            until_reload: dice.random_range(RELOADS.0),
        }
    }

    pub(super) fn run(mut self, stops_after_s: f64, dice: &mut Dice) -> Simulated {
        let begin = Said::Command { command: Command::Begin };
        self.inputs.push((At::ZERO, Input::said(begin, "tally begin")));
        while self.now < stops_after_s {
            self.one_try(stops_after_s, dice);
        }
        let ended = At::from_secs_f64(stops_after_s);
        self.inputs.retain(|(at, _)| *at <= ended);
        let declined = (self.day.tires_at < stops_after_s).then_some(self.day.tires_at);
        let truth = Truth {
            declined: declined.map(At::from_secs_f64),
            broke_down: None,
            ended,
            working: self.working,
            habit: self.day.success(super::Law::Never, 0.0),
            learnt: None,
        };
        Simulated { inputs: self.inputs, truth, habits: self.habits }
    }

    fn say(&mut self, said: Said, words: &str, dice: &mut Dice) {
        if !dice.random_bool(self.lost) {
            self.inputs.push((At::from_secs_f64(self.now), Input::said(said, words)));
        }
    }

    fn one_try(&mut self, stops_after_s: f64, dice: &mut Dice) {
        let world = self.animal.world;
        self.now += spread(world.trainer.of(SETTING_UP_S), 0.35, dice);
        if world.cues {
            self.say(Said::Cue, "cue", dice);
        }
        let usual = world.species.of(super::subject::ANSWER_S);
        let gives_up = GIVES_UP.0.max(GIVES_UP.1 * usual);
        match self.animal.answer_time(&mut self.day, self.now, dice) {
            Some(answer) if !world.cues || answer <= gives_up => self.now += answer,
            // Without a cue there is nothing to repeat: the trainer waits.
            None if !world.cues => {
                self.now = stops_after_s;
                return;
            }
            _ => {
                self.now += gives_up;
                self.missed(dice);
                return;
            }
        }
        let success = dice.random_bool(self.day.success(world.law, self.now));
        self.now += REACTION_S;
        if success {
            self.rewarded(dice)
        } else {
            self.missed(dice)
        }
        self.habits.push((At::from_secs_f64(self.now), self.day.success(super::Law::Never, 0.0)));
    }

    fn missed(&mut self, dice: &mut Dice) {
        if dice.random_bool(self.says_miss) {
            self.say(Said::Miss(Details::default()), "miss", dice);
        }
        self.now += 0.5;
    }

    fn rewarded(&mut self, dice: &mut Dice) {
        self.say(Said::Rep(Details::default()), "yes", dice);
        self.now += spread(self.animal.world.trainer.of(EATING_S), 0.25, dice);
        if !self.animal.world.reloads {
            return;
        }
        self.until_reload -= 1;
        if self.until_reload == 0 {
            self.until_reload = dice.random_range(RELOADS.0);
            self.now += RELOADS.1 * chance_factor(self.animal.world.tails, 0.4, dice);
        }
    }
}
