//! Finds stretches of speech by their level above the room's noise, 10 ms at a time.
//!
//! Its figures were chosen on recordings of people and are listed with their trials in DEVELOPERS.md.

use std::collections::VecDeque;

use super::level::{HighPass, STEP, db};

/// Steps above this many dB over the floor open the gate.
const OPEN_DB: f32 = 9.0;
/// A stretch reaches back and lasts as long as the level is this far over the floor.
const HOLD_DB: f32 = 6.0;
/// What is this far below the loudest part of a stretch is its echo, not its end.
const DROP_DB: f32 = 30.0;
/// How many such steps open it; one below takes one back.
const OPEN_STEPS: usize = 3;
/// Steps of quiet that end a stretch: 150 ms, since a stop consonant holds its breath that long.
const HANG: usize = 15;
/// The same where speech stands little over the noise, so that its soft parts are below it: 280 ms. Chosen on the
/// tuning half; at 10 dB of hiss it took recall of synthetic voices from 47 to 64 %, in babble it made no difference.
const HANG_IN_NOISE: usize = 28;
/// Speech whose loudest part is less than this over the noise stands little over it.
const LITTLE_DB: f32 = 25.0;
/// No tag is shorter or longer than so many steps.
pub(super) const SHORTEST: usize = 6;
pub(super) const LONGEST: usize = 250;
/// How far before the opening a stretch may begin: 200 ms.
const REACH_BACK: usize = 20;
/// A floor below this is the noise of the converter, not of a room.
const LOWEST_FLOOR_DB: f32 = -68.0;
/// The first so many steps show the room's noise: 300 ms.
const LISTEN_FIRST: usize = 30;

/// What the gate notices with a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    /// Speech began; see [`Gate::began`].
    Opened,
    /// A stretch ended; its first and the step after its last.
    Closed(usize, usize),
}

/// Follows the level and opens for speech.
pub(super) struct Gate {
    filter: HighPass,
    power: f64,
    filled: usize,
    first: Vec<f32>,
    recent: VecDeque<f32>,
    steps: usize,
    floor: Option<f32>,
    above: usize,
    open: Option<Open>,
    height: f32,
}

#[derive(Debug, Clone, Copy)]
struct Open {
    began: usize,
    loudest: f32,
    quiet: usize,
}

impl Gate {
    pub(super) fn new() -> Self {
        Gate {
            filter: HighPass::above(120.0),
            power: 0.0,
            filled: 0,
            first: Vec::new(),
            recent: VecDeque::new(),
            steps: 0,
            floor: None,
            above: 0,
            open: None,
            height: 0.0,
        }
    }

    /// Steps done so far.
    pub(super) fn steps(&self) -> usize {
        self.steps
    }

    /// First step of the stretch that is going on.
    pub(super) fn began(&self) -> Option<usize> {
        self.open.map(|open| open.began)
    }

    /// Steps of quiet since speech was last loud, while a stretch is open.
    pub(super) fn quiet(&self) -> usize {
        self.open.map_or(0, |open| open.quiet)
    }

    /// How far the loudest part of the last stretch stood over the room's noise, in dB.
    pub(super) fn height(&self) -> f32 {
        self.height
    }

    /// Whether the last stretch stood little over the room's noise.
    pub(super) fn was_in_noise(&self) -> bool {
        self.height < LITTLE_DB
    }

    /// What was said up to `step` is done with: the stretch that is open goes on from there.
    pub(super) fn go_on_from(&mut self, step: usize) {
        if let Some(open) = &mut self.open {
            open.began = step;
        }
    }

    /// Takes a sample; tells what changed with it.
    pub(super) fn hear(&mut self, sample: i16) -> Option<Change> {
        self.power += self.filter.pass(sample).powi(2);
        self.filled += 1;
        if self.filled < STEP {
            return None;
        }
        let level = db(self.power / STEP as f64);
        self.power = 0.0;
        self.filled = 0;
        self.step(level)
    }

    /// Ends the stretch that is going on, if any.
    pub(super) fn finish(&mut self) -> Option<Change> {
        let open = self.open.take()?;
        self.above = 0;
        self.height = open.loudest - self.floor.unwrap_or(LOWEST_FLOOR_DB);
        Some(Change::Closed(open.began, self.steps - open.quiet))
    }

    fn step(&mut self, level: f32) -> Option<Change> {
        let floor = match self.floor {
            Some(floor) => floor,
            None => {
                self.first.push(level);
                let floor = low_fifth(&self.first);
                if self.first.len() == LISTEN_FIRST {
                    self.first.clear();
                    self.floor = Some(floor);
                }
                floor
            }
        };
        // Quick to fall, slow to rise, slower still while somebody speaks.
        let rise = if self.open.is_some() { 0.01 } else { 0.03 };
        let moved = if level < floor { 0.15 * (level - floor) } else { (level - floor).min(rise) };
        let floor = floor + moved;
        if self.floor.is_some() {
            self.floor = Some(floor);
        }
        let base = floor.max(LOWEST_FLOOR_DB);
        let this = self.steps;
        self.steps += 1;
        let change = match &mut self.open {
            Some(open) => {
                open.loudest = open.loudest.max(level);
                let low = level < (base + HOLD_DB).max(open.loudest - DROP_DB);
                open.quiet = if low { open.quiet + 1 } else { 0 };
                let hang = if open.loudest - base < LITTLE_DB { HANG_IN_NOISE } else { HANG };
                if open.quiet >= hang { self.finish() } else { None }
            }
            None => {
                self.above = if level > base + OPEN_DB {
                    self.above + 1
                } else {
                    self.above.saturating_sub(1)
                };
                (self.above >= OPEN_STEPS).then(|| {
                    let began = this - self.reach_back(base + HOLD_DB).min(this);
                    self.open = Some(Open { began, loudest: level, quiet: 0 });
                    Change::Opened
                })
            }
        };
        self.recent.push_back(level);
        if self.recent.len() > REACH_BACK {
            self.recent.pop_front();
        }
        change
    }

    /// Steps before this one that already belong to the speech.
    fn reach_back(&self, over: f32) -> usize {
        let sure = OPEN_STEPS - 1;
        let soft = self.recent.iter().rev().skip(sure).take_while(|level| **level > over);
        sure + soft.count()
    }
}

/// The 20th percentile, by the nearest rank below.
fn low_fifth(levels: &[f32]) -> f32 {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f32::total_cmp);
    sorted[(sorted.len() - 1) / 5]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;

    /// A room of soft hiss with tones in it: from, to in seconds, amplitude.
    fn changes(seconds: f64, tones: &[(f64, f64, f64)]) -> Vec<(f64, Change)> {
        let mut gate = Gate::new();
        let mut seen = Vec::new();
        for (sample, noise) in (0..(seconds * 16_000.0) as usize).zip(hiss(1)) {
            let t = sample as f64 / 16_000.0;
            let mut value = 20.0 * noise;
            for (from, to, amplitude) in tones {
                if (*from..*to).contains(&t) {
                    value += amplitude * (t * 440.0 * std::f64::consts::TAU).sin();
                }
            }
            if let Some(change) = gate.hear(value as i16) {
                seen.push((t, change));
            }
        }
        seen
    }

    #[test]
    fn a_tone_is_one_stretch_with_its_true_ends() {
        let seen = changes(3.0, &[(1.0, 1.5, 3_000.0)]);
        let [(opened, Change::Opened), (closed, Change::Closed(from, to))] = seen[..] else {
            panic!("{seen:?}")
        };
        assert!((1.0..1.05).contains(&opened) && (1.64..1.67).contains(&closed));
        assert!((99..=100).contains(&from) && (150..=151).contains(&to));
    }

    #[test]
    fn a_held_breath_does_not_end_a_word_but_a_pause_does() {
        let short = changes(3.0, &[(1.0, 1.2, 3_000.0), (1.3, 1.5, 3_000.0)]);
        assert_eq!(short.len(), 2, "{short:?}");
        let long = changes(3.0, &[(1.0, 1.2, 3_000.0), (1.4, 1.6, 3_000.0)]);
        assert_eq!(long.len(), 4, "{long:?}");
    }

    #[test]
    fn speech_little_over_the_noise_may_be_silent_for_longer() {
        let tones = |amplitude| changes(3.0, &[(1.0, 1.2, amplitude), (1.4, 1.6, amplitude)]);
        assert_eq!(tones(3_000.0).len(), 4);
        assert_eq!(tones(60.0).len(), 2, "{:?}", tones(60.0));
    }

    #[test]
    fn a_room_that_gets_louder_for_good_becomes_the_floor() {
        let seen = changes(40.0, &[(2.0, 40.0, 60.0)]);
        assert!(matches!(seen.last(), Some((_, Change::Closed(..)))), "{seen:?}");
    }
}
