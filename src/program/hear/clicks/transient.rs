//! Clicks: one or two short bursts with quiet around them. Pure.

use std::collections::{BTreeSet, VecDeque};

use super::Click;
use super::envelope::{Envelope, TICK, loudest, mean};
use super::spectrum::Spectrum;
use crate::plan::MarkerSound;

// All in ticks of 1 ms and dB; chosen on the tuning sounds named in tests/bench.d/RESULTS.md.

/// A burst is over what was before it by this much.
const RISE_DB: f32 = 13.0;
/// It is the loudest this long before and after.
const ALONE: (usize, usize) = (8, 12);
/// A burst is looked at when this much after it is at hand.
const LATE: usize = 70;
/// How far a burst has fallen in the first of these spans, or in the second, since a room answers: what rings
/// longer is a bowl or a bell.
const FALLEN: [(usize, usize, f32); 2] = [(24, 40, 12.0), (44, 70, 13.0)];
/// From press to release of a clicker.
const GAP: (usize, usize) = (30, 280);
/// The release is at most this much softer or louder than the press.
const UNLIKE_DB: f32 = 14.0;
/// Quiet before the first burst and after the last.
const BEFORE: usize = 300;
const AFTER: usize = 180;
/// How far that quiet is below the bursts: above 1.2 kHz, and as a whole.
const QUIET_DB: f32 = 15.0;
const QUIET_ALL_DB: f32 = 10.0;
/// How far the sound falls between press and release.
const BETWEEN_DB: f32 = 6.5;
/// Share of a clicker's power above this frequency in Hz.
const METAL: (f32, f32) = (1_700.0, 0.7);
/// It rings, if shortly: its power is less evenly spread than that of hands and keys.
const RINGS: f32 = 0.4;
/// Where a mouth rings in Hz, how much of the power lies near its peak, and how little below 700 Hz.
const MOUTH_HZ: (f32, f32) = (850.0, 2_700.0);
const MOUTH_SHARE: f32 = 0.6;
const MOUTH_LOW: f32 = 0.2;

#[derive(Debug, Clone, Copy)]
struct Burst {
    /// Its loudest tick.
    tick: usize,
    peak: f32,
    /// Short, and with quiet before: may be a click.
    good: bool,
}

/// Finds bursts and what they make together.
pub(super) struct Transients {
    clicker: bool,
    tongue: bool,
    bursts: VecDeque<Burst>,
    /// Bursts up to this tick belong to something that was decided.
    done: usize,
    spectrum: Spectrum,
}

impl Transients {
    pub(super) fn new(sounds: &BTreeSet<MarkerSound>) -> Self {
        Transients {
            clicker: sounds.contains(&MarkerSound::Clicker),
            tongue: sounds.contains(&MarkerSound::TongueClick),
            bursts: VecDeque::new(),
            done: 0,
            spectrum: Spectrum::new(),
        }
    }

    /// Looks at a new tick.
    pub(super) fn look(&mut self, sound: &Envelope) -> Option<Click> {
        if !self.clicker && !self.tongue {
            return None;
        }
        let now = sound.ticks();
        if let Some(burst) = burst_at(sound, now.checked_sub(1 + LATE)?) {
            self.bursts.push_back(burst);
        }
        while self.bursts.front().is_some_and(|burst| burst.tick + 2 * (BEFORE + GAP.1) < now) {
            self.bursts.pop_front();
        }
        let first = *self.first()?;
        let rest: Vec<Burst> = self.after(first).copied().collect();
        match rest.as_slice() {
            _ if !first.good || !self.starts_alone(sound, first) => self.settle(first.tick),
            [] if now >= first.tick + LATE + 2 + self.patience() => {
                let click = self.tongue.then(|| self.tongue_click(sound, first)).flatten();
                self.settle(first.tick);
                return click;
            }
            [second] if now >= second.tick + AFTER.max(LATE) + 2 => {
                let click = self.clicker.then(|| self.click_clack(sound, first, *second)).flatten();
                self.settle(second.tick);
                return click;
            }
            [_, third, ..] => self.settle(third.tick),
            _ => {}
        }
        None
    }

    /// Tick before which nothing lies that may still turn out to be a click.
    pub(super) fn pending(&self) -> Option<usize> {
        self.first().map(|burst| burst.tick.saturating_sub(10))
    }

    fn first(&self) -> Option<&Burst> {
        self.bursts.iter().find(|burst| burst.tick > self.done)
    }

    fn after(&self, first: Burst) -> impl Iterator<Item = &Burst> {
        let within = move |burst: &&Burst| {
            burst.tick > first.tick
                && burst.tick <= first.tick + GAP.1 + AFTER
                && burst.peak > first.peak - 2.0 * UNLIKE_DB
        };
        self.bursts.iter().filter(within)
    }

    /// How long after one burst another may still belong to it.
    fn patience(&self) -> usize {
        if self.clicker { GAP.1.max(AFTER) } else { AFTER }
    }

    fn settle(&mut self, tick: usize) {
        self.done = self.done.max(tick);
    }

    /// Quiet before, and no other burst in it.
    fn starts_alone(&self, sound: &Envelope, first: Burst) -> bool {
        let from = first.tick.saturating_sub(BEFORE);
        let (high, all) = (
            loudest(sound.high(from, first.tick.saturating_sub(6))),
            loudest(sound.all(from, first.tick.saturating_sub(6))),
        );
        high <= first.peak - QUIET_DB && all <= first.peak - QUIET_ALL_DB
    }

    fn ends_alone(&self, sound: &Envelope, last: Burst) -> bool {
        let (from, to) = (last.tick + LATE, last.tick + AFTER);
        mean(sound.high(from, to)) <= last.peak - QUIET_DB
            && loudest(sound.all(from, to)) <= last.peak - QUIET_ALL_DB
    }

    fn click_clack(&mut self, sound: &Envelope, first: Burst, second: Burst) -> Option<Click> {
        let gap = second.tick - first.tick;
        let fits = second.good
            && (GAP.0..=GAP.1).contains(&gap)
            && (first.peak - second.peak).abs() <= UNLIKE_DB
            && mean(sound.high(first.tick + 20, second.tick.saturating_sub(4)))
                <= first.peak.min(second.peak) - BETWEEN_DB
            && self.ends_alone(sound, second)
            && self.is_metal(sound, first)
            && self.is_metal(sound, second);
        fits.then(|| click(MarkerSound::Clicker, sound, first, second))
    }

    fn tongue_click(&mut self, sound: &Envelope, only: Burst) -> Option<Click> {
        let samples = sound.sound(only.tick.saturating_sub(2), only.tick + 22);
        let power = self.spectrum.of(&samples);
        let peak_hz = power.peak_hz();
        let fits = self.ends_alone(sound, only)
            && (MOUTH_HZ.0..=MOUTH_HZ.1).contains(&peak_hz)
            && power.share(peak_hz * 0.75, peak_hz * 1.25) >= MOUTH_SHARE
            && power.share(0.0, 700.0) <= MOUTH_LOW;
        fits.then(|| click(MarkerSound::TongueClick, sound, only, only))
    }

    fn is_metal(&mut self, sound: &Envelope, burst: Burst) -> bool {
        let samples = sound.sound(burst.tick.saturating_sub(2), burst.tick + 14);
        let power = self.spectrum.of(&samples);
        power.share(METAL.0, 8_000.0) >= METAL.1 && power.flatness(METAL.0, 7_500.0) <= RINGS
    }
}

fn click(kind: MarkerSound, sound: &Envelope, first: Burst, last: Burst) -> Click {
    Click { sound: kind, onset: onset(sound, first), end: sound.sample_of(last.tick + 10) }
}

/// The burst whose loudest tick is `tick`, if there is one.
fn burst_at(sound: &Envelope, tick: usize) -> Option<Burst> {
    let from = tick.checked_sub(20)?;
    let peak = sound.high(tick, tick + 1).next()?;
    let before = mean(sound.high(from, tick - 4));
    let louder = sound.high(tick - ALONE.0, tick).any(|level| level >= peak)
        || sound.high(tick + 1, tick + ALONE.1).any(|level| level > peak);
    if louder || peak < before + RISE_DB {
        return None;
    }
    let good =
        FALLEN.iter().any(|(from, to, by)| mean(sound.high(tick + from, tick + to)) <= peak - by);
    Some(Burst { tick, peak, good })
}

/// The sample at which a burst begins: the first that stands out of what was just before it.
fn onset(sound: &Envelope, burst: Burst) -> u64 {
    let from = burst.tick.saturating_sub(10);
    let samples = sound.sound(from, burst.tick + 2);
    let quiet = samples.iter().take(4 * TICK).fold(0.0f32, |most, s| most.max(s.abs()));
    let most = samples.iter().fold(0.0f32, |most, s| most.max(s.abs()));
    let least = (2.0 * quiet).max(most * 0.1).min(most * 0.5);
    let place = samples.iter().position(|s| s.abs() >= least).unwrap_or(10 * TICK);
    sound.sample_of(from) + place as u64
}
