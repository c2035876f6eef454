//! One session of a simulated animal with its trainer.

use rand::RngExt;

use super::animal::{Day, LEARNT, QUITS, spread};
use super::{Animal, Dice, Simulated, Trainer, Truth};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, Plan, RewardValue, Side};
use crate::session::Input;

/// Time runs in such pieces while waiting.
const PIECE: f64 = 0.5;
/// From the try to the marker.
const REACTION: f64 = 0.3;
/// When the animal will do no more, the trainer gives up after this.
const GIVES_UP: f64 = 45.0;
/// Worry that counts as felt.
const FELT: f64 = 0.2;

/// Runs one session on `working` and lets the animal learn from it.
pub fn run(
    animal: &mut Animal,
    trainer: &Trainer,
    plan: &Plan,
    working: u8,
    dice: &mut Dice,
) -> Simulated {
    let day = animal.day(dice);
    let truth = Truth {
        declined: None,
        broke_down: None,
        ended: At::ZERO,
        working,
        habit: 0.0,
        learnt: None,
    };
    let mut course = Course {
        animal,
        trainer,
        plan,
        day,
        now: 0.0,
        last_reward: 0.0,
        inputs: Vec::new(),
        habits: Vec::new(),
        truth,
    };
    course.say(Said::Command { command: Command::Begin }, "tally begin", dice);
    let mut mood_said = false;
    while course.now < trainer.stops_after {
        course.one_try(dice);
        if course.truth.broke_down.is_some() {
            break;
        }
        if trainer.says_mood && !mood_said && course.vigour() < 0.6 {
            mood_said = true;
            course.say(Said::State { mood: Mood::Tired }, "tired", dice);
        }
    }
    course.truth.ended = course.at();
    course.truth.habit = course.animal.habit(working);
    Simulated { inputs: course.inputs, truth: course.truth, habits: course.habits }
}

struct Course<'a> {
    animal: &'a mut Animal,
    trainer: &'a Trainer,
    plan: &'a Plan,
    day: Day,
    /// Seconds since the start.
    now: f64,
    last_reward: f64,
    inputs: Vec<(At, Input)>,
    habits: Vec<(At, f64)>,
    truth: Truth,
}

impl Course<'_> {
    fn at(&self) -> At {
        At::from_secs_f64(self.now)
    }

    fn vigour(&self) -> f64 {
        self.animal.vigour(&self.day, self.now)
    }

    fn say(&mut self, said: Said, words: &str, dice: &mut Dice) {
        let is_command = matches!(said, Said::Command { .. });
        if is_command || !dice.random_bool(self.trainer.lost) {
            self.inputs.push((self.at(), Input::said(said, words)));
        }
    }

    /// Lets time pass, with what it does to the animal.
    fn pass(&mut self, seconds: f64) {
        let end = self.now + seconds;
        while self.now < end {
            let piece = PIECE.min(end - self.now);
            // Below what a clock can tell there is nothing left to pass.
            if piece < 1e-9 {
                break;
            }
            self.now += piece;
            self.animal.wait(&mut self.day, self.now - self.last_reward, piece);
            let declines = self.now >= self.day.tires_at() || self.day.worry() >= FELT;
            if declines && self.truth.declined.is_none() {
                self.truth.declined = Some(self.at());
            }
            if self.vigour() < QUITS && self.truth.broke_down.is_none() {
                self.truth.broke_down = Some(self.at());
            }
        }
    }

    fn one_try(&mut self, dice: &mut Dice) {
        let setting_up = spread(self.trainer.setting_up, 0.3, dice);
        self.pass(setting_up);
        if self.trainer.cues {
            self.say(Said::Cue, "cue", dice);
        }
        let answer = self.animal.answer_time(&self.day, self.now, dice);
        self.pass(answer);
        if self.truth.broke_down.is_some() {
            self.pass(GIVES_UP);
            return;
        }
        let working = self.truth.working;
        let success = dice.random_bool(self.animal.success(&self.day, working, self.now));
        // A failed try is still a step short half of the time.
        let lesser = !success && working > 1 && dice.random_bool(0.5);
        let side = if dice.random_bool(self.animal.right) { Side::Right } else { Side::Left };
        self.pass(REACTION);
        let pays_lesser = lesser && self.now - self.last_reward > self.trainer.patience;
        if success || pays_lesser {
            self.pay(if success { working } else { working - 1 }, success, side, dice);
        } else {
            self.animal.learn(working, false);
            if dice.random_bool(self.trainer.says_miss) {
                self.say(Said::Miss(Details::default()), "miss", dice);
            }
            self.pass(0.5);
        }
        let habit = self.animal.habit(working);
        self.habits.push((self.at(), habit));
        if habit >= LEARNT && self.truth.learnt.is_none() {
            self.truth.learnt = Some(self.at());
        }
    }

    fn pay(&mut self, step: u8, success: bool, side: Side, dice: &mut Dice) {
        if dice.random_bool(self.trainer.slips) {
            self.say(Said::Rep(Details::default()), "yes", dice);
            self.pass(0.8);
            self.say(Said::TakeBack, "scratch that", dice);
            self.pass(0.4);
        }
        let jackpot = success && dice.random_bool(self.trainer.jackpots);
        // A lesser rep must be named, else the marker means the step worked on.
        let says_step = !success || dice.random_bool(self.trainer.says_step);
        let details = Details {
            step: says_step.then_some(step),
            side: dice.random_bool(self.trainer.says_side).then_some(side),
            value: jackpot.then_some(RewardValue::Jackpot),
            ..Details::default()
        };
        let value =
            details.value.unwrap_or_else(|| self.plan.default_value(step, self.truth.working));
        let words = spoken(details);
        self.say(Said::Rep(details), &words, dice);
        self.last_reward = self.now;
        self.day.comfort();
        self.animal.learn(step, true);
        let place = match value {
            RewardValue::Low => 0,
            RewardValue::High => 1,
            RewardValue::Jackpot => 2,
        };
        let eating = spread(self.trainer.eating[place], 0.2, dice);
        self.pass(eating);
    }
}

/// The default words of a rep.
fn spoken(details: Details) -> String {
    const NUMBERS: [&str; 6] = ["one", "two", "three", "four", "five", "six"];
    let step = details.step.and_then(|step| NUMBERS.get(usize::from(step) - 1));
    let side = details.side.map(|side| if side == Side::Left { "left" } else { "right" });
    let value = details.value.map(|value| match value {
        RewardValue::Low => "low",
        RewardValue::High => "high",
        RewardValue::Jackpot => "jackpot",
    });
    let mut words = vec!["yes"];
    words.extend(step);
    words.extend(side);
    words.extend(value);
    words.join(" ")
}
