//! Finds segments of speech by their level above the room's noise, 10 ms at a time.
//!
//! Its figures were chosen on recordings of people and are listed with their trials in tests/bench.d/RESULTS.md.

use std::collections::VecDeque;

use super::level::{HighPass, STEP, db};

/// Steps above this many dB over the floor open the gate.
const OPEN_DB: f32 = 9.0;
/// A segment reaches back and lasts as long as the level is this far over the floor.
const HOLD_DB: f32 = 6.0;
/// What is this far below the loudest part of a segment is its echo, not its end.
const DROP_DB: f32 = 30.0;
/// How many such steps open it; one below takes one back.
const OPEN_STEPS: usize = 3;
/// Steps of quiet that end a segment: 150 ms, since a stop consonant holds its breath that long.
const HANG: usize = 15;
/// The same where speech stands little over the noise, so that its soft parts are below it: 280 ms.
const HANG_IN_NOISE: usize = 28;
/// Speech whose loudest part is less than this over the noise stands little over it.
pub(super) const LITTLE_DB: f32 = 25.0;
/// No tag is shorter or longer than this many steps.
pub(super) const SHORTEST: usize = 6;
pub(super) const LONGEST: usize = 250;
/// How far before the opening a segment may begin: 200 ms.
const REACH_BACK: usize = 20;
/// What is this much louder than the loudest of the second before is not the same any more: the trainer's voice among
/// birds or dogs, which would hold one long segment open.
const RISE_DB: f32 = 6.0;
/// Only sound that has gone on for 400 ms is something to rise out of, not the soft beginning of a word.
const RISE_AFTER: usize = 40;
/// What is this far below the loudest part of a segment is mostly its echo; of a word that has been so soft for as long
/// as a stop consonant holds its breath, all may be said. With less, "yes two" would be told in two parts.
const FAINT_DB: f32 = 20.0;
const FAINT: usize = HANG;
/// The same where the room's noise is not so far below: softer by this for 220 ms.
const SOFTER_DB: f32 = 12.0;
const SOFTER: usize = 22;
/// A second.
const RISE_OVER: usize = 100;
/// Back among the sound that it rose from, but not this near its own loudest, it has ended.
const BACK_DB: f32 = 3.0;
const OWN_DB: f32 = 6.0;
/// Where there was sound before a segment too, it ends when it has been this far below its loudest for 280 ms.
const FALL_DB: f32 = 14.0;
/// There was sound before, when the first number of the second number of steps stood over the floor.
const BUSY: usize = 120;
const BUSY_OF: usize = 300;
/// Fewer quiet steps than these of as many are not gaps.
const GAPS: usize = 6;
/// A floor below this is the noise of the converter, not of a room.
const LOWEST_FLOOR_DB: f32 = -68.0;
/// The room's noise is taken from this many steps at the start: 300 ms.
const LISTEN_FIRST: usize = 30;

/// What the gate notices with a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    /// Speech began; see [`Gate::began`].
    Opened,
    /// In an open segment something louder begins: the segment is that now, and what was before is the sound around.
    Rose,
    /// An open segment has been soft for this many steps, and can be over.
    Softened(usize),
    /// A segment ended; its first and the step after its last.
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
    last: Option<Open>,
}

#[derive(Debug, Clone, Copy)]
struct Open {
    began: usize,
    loudest: f32,
    /// Steps since it was last loud.
    quiet: usize,
    /// Steps since it was last nearly as loud as its loudest part.
    soft: usize,
    /// Steps since it was last more than faint, and more than softer.
    faint: usize,
    softer: usize,
    /// It has been so soft since then that this was told.
    softened: bool,
    /// The loudest of what it rose from, if it did.
    around: Option<f32>,
    /// Whether there was sound before it.
    busy: bool,
}

impl Open {
    fn new(began: usize, loudest: f32) -> Self {
        Open {
            began,
            loudest,
            quiet: 0,
            soft: 0,
            faint: 0,
            softer: 0,
            softened: false,
            around: None,
            busy: false,
        }
    }

    /// Takes the level of a step over a floor; the steps of quiet at its end, if it has ended.
    fn step(&mut self, level: f32, floor: f32) -> Option<usize> {
        self.loudest = self.loudest.max(level);
        let around = self.around.map_or(f32::MIN, |db| (db + BACK_DB).min(self.loudest - OWN_DB));
        let low = level < (floor + HOLD_DB).max(self.loudest - DROP_DB).max(around);
        self.quiet = if low { self.quiet + 1 } else { 0 };
        let soft = level < self.loudest - FALL_DB;
        self.soft = if soft { self.soft + 1 } else { 0 };
        let below = |db| low || level < self.loudest - db;
        self.faint = if below(FAINT_DB) { self.faint + 1 } else { 0 };
        self.softer = if below(SOFTER_DB) { self.softer + 1 } else { 0 };
        self.softened &= self.softer > 0;
        let in_noise = self.loudest - floor < LITTLE_DB || self.around.is_some();
        let hang = if in_noise { HANG_IN_NOISE } else { HANG };
        let fell = (self.busy || self.around.is_some()) && self.soft >= HANG_IN_NOISE;
        if self.quiet >= hang { Some(self.quiet) } else { fell.then_some(self.soft) }
    }

    /// The steps of softness after which it can be over, once until it is loud again.
    fn can_be_over(&mut self) -> Option<usize> {
        let soft = if self.faint >= FAINT { self.faint } else { self.softer };
        let is_new = !self.softened && (self.faint >= FAINT || self.softer >= SOFTER);
        self.softened |= is_new;
        is_new.then_some(soft)
    }
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
            last: None,
        }
    }

    /// Steps done so far.
    pub(super) fn steps(&self) -> usize {
        self.steps
    }

    /// First step of the segment that is open.
    pub(super) fn began(&self) -> Option<usize> {
        self.open.map(|open| open.began)
    }

    /// Steps of quiet since speech was last loud, while a segment is open.
    pub(super) fn quiet(&self) -> usize {
        self.open.map_or(0, |open| open.quiet)
    }

    /// Whether the segment that is open is still so soft that what comes is mostly its echo, or the room.
    pub(super) fn is_soft(&self) -> bool {
        let in_noise = self.height() < FAINT_DB + SOFTER_DB;
        self.open.is_some_and(|open| open.faint > 0 || (in_noise && open.softer > 0))
    }

    /// How far the loudest part of the segment that is open, or else of the last, stands over the noise, in dB.
    pub(super) fn height(&self) -> f32 {
        let floor = self.floor.unwrap_or(LOWEST_FLOOR_DB);
        let over = |open: Open| open.loudest - open.around.map_or(floor, |db| db.max(floor));
        self.open.or(self.last).map_or(0.0, over)
    }

    /// Whether the segment that is open, or else the last, rose out of other sound.
    pub(super) fn rose(&self) -> bool {
        self.open.or(self.last).is_some_and(|open| open.around.is_some())
    }

    /// The loudest part of the segment that is open, or else of the last, in dB below full scale.
    pub(super) fn loudest(&self) -> f32 {
        self.open.or(self.last).map_or(f32::MIN, |open| open.loudest)
    }

    /// What was said up to `step` is done with: the segment that is open goes on from there.
    pub(super) fn go_on_from(&mut self, step: usize) {
        if let Some(open) = &mut self.open {
            open.began = step;
        }
    }

    /// Takes a sample; returns what changed with it.
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

    /// Ends the segment that is open, if any.
    pub(super) fn finish(&mut self) -> Option<Change> {
        let open = self.open?;
        Some(self.close(open, open.quiet))
    }

    fn close(&mut self, open: Open, quiet: usize) -> Change {
        self.open = None;
        self.above = 0;
        self.last = Some(open);
        Change::Closed(open.began, self.steps - quiet)
    }

    /// Takes the level of the next 10 ms, in dB below full scale; returns what changed with it.
    pub(super) fn step(&mut self, level: f32) -> Option<Change> {
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
        if self.open.is_some_and(|open| this - open.began >= LONGEST)
            && self.is_louder_for_good(base)
        {
            self.floor = Some(low_fifth(self.recent.make_contiguous()));
        }
        let change = match self.open {
            Some(open) => self.go_on(open, this, level, base),
            None => self.may_open(this, level, base),
        };
        self.recent.push_back(level);
        if self.recent.len() > BUSY_OF {
            self.recent.pop_front();
        }
        change
    }

    fn may_open(&mut self, this: usize, level: f32, base: f32) -> Option<Change> {
        let opens = level > base + OPEN_DB;
        self.above = if opens { self.above + 1 } else { self.above.saturating_sub(1) };
        if self.above < OPEN_STEPS {
            return None;
        }
        let began = this - self.reach_back(base + HOLD_DB).min(this);
        let before = self.recent.iter().rev().skip(REACH_BACK);
        let busy = before.filter(|level| **level > base + OPEN_DB).count() >= BUSY;
        self.above = 0;
        self.open = Some(Open { busy, ..Open::new(began, level) });
        Some(Change::Opened)
    }

    fn go_on(&mut self, mut open: Open, this: usize, level: f32, base: f32) -> Option<Change> {
        let around = self.loudest_before().max(base);
        self.above = if level > around + RISE_DB { self.above + 1 } else { 0 };
        let began = this - self.reach_back(around + BACK_DB).min(this);
        if self.above >= OPEN_STEPS && began >= open.began + RISE_AFTER {
            self.above = 0;
            self.open = Some(Open { around: Some(around), ..Open::new(began, level) });
            return Some(Change::Rose);
        }
        let ended = open.step(level, base);
        let can_be_over = open.can_be_over();
        self.open = Some(open);
        match ended {
            Some(quiet) => Some(self.close(open, quiet)),
            None => can_be_over.map(Change::Softened),
        }
    }

    /// Whether it has not been as quiet as before for three seconds: talk has gaps, a fan that was switched on has none.
    fn is_louder_for_good(&self, base: f32) -> bool {
        let quiet = self.recent.iter().filter(|level| **level < base + HOLD_DB).count();
        self.recent.len() == BUSY_OF && quiet < GAPS
    }

    /// The loudest step of the second before what may just be beginning.
    fn loudest_before(&self) -> f32 {
        let before = self.recent.iter().rev().skip(REACH_BACK + OPEN_STEPS - 1).take(RISE_OVER);
        before.copied().fold(f32::MIN, f32::max)
    }

    /// Steps before this one that already belong to the speech.
    fn reach_back(&self, over: f32) -> usize {
        let sure = OPEN_STEPS - 1;
        let latest = self.recent.iter().rev().take(REACH_BACK);
        sure + latest.skip(sure).take_while(|level| **level > over).count()
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

    /// A room of soft hiss with tones in it: from, to in seconds, amplitude. What can be over is left out.
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
        seen.retain(|(_, change)| !matches!(change, Change::Softened(_)));
        seen
    }

    #[test]
    fn a_tone_is_one_segment_with_its_true_ends() {
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
    fn what_rises_out_of_other_sound_is_a_segment_of_its_own() {
        let seen = changes(4.0, &[(1.0, 4.0, 300.0), (2.0, 2.4, 3_000.0)]);
        let [(_, Change::Opened), (rose, Change::Rose), (closed, Change::Closed(from, to)), ..] =
            seen[..]
        else {
            panic!("{seen:?}")
        };
        assert!((2.0..2.05).contains(&rose), "{rose}");
        assert!((198..=201).contains(&from) && (239..=242).contains(&to), "{from} to {to}");
        // Speech little over what is around it may be silent for longer.
        assert!((2.66..2.72).contains(&closed), "{closed}");
    }

    #[test]
    fn a_soft_beginning_is_a_part_of_its_word_and_a_little_louder_is_the_same_sound() {
        let word = changes(3.0, &[(1.0, 1.2, 300.0), (1.2, 1.6, 3_000.0)]);
        assert_eq!(word.len(), 2, "{word:?}");
        let talk = changes(3.0, &[(1.0, 2.2, 3_000.0), (1.8, 2.0, 1_500.0)]);
        assert_eq!(talk.len(), 2, "{talk:?}");
    }

    #[test]
    fn where_it_is_never_quiet_a_segment_ends_when_it_has_fallen() {
        let around = [(0.5, 2.0, 100.0), (2.3, 4.0, 100.0)];
        let word = [&around[..], &[(2.1, 2.3, 3_000.0)]].concat();
        let seen = changes(4.0, &word);
        let ends = seen.iter().filter_map(|(_, change)| match change {
            Change::Closed(_, to) => Some(*to),
            _ => None,
        });
        assert!(ends.clone().any(|to| (229..=232).contains(&to)), "{seen:?}");
    }

    #[test]
    fn a_room_that_gets_louder_for_good_becomes_the_floor_soon() {
        for amplitude in [60.0, 3_000.0] {
            let seen = changes(8.0, &[(2.0, 8.0, amplitude)]);
            let [.., (closed, Change::Closed(..))] = seen[..] else { panic!("{seen:?}") };
            assert!(closed < 7.5, "{seen:?}");
        }
    }
}
