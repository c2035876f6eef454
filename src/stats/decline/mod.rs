//! Whether a decline has begun, from response times, misses, unanswered cues and the wait that runs.
//!
//! The hypotheses are: it began at such a moment, in such a form (how fast, and in times, misses, both,
//! or silence). Each is compared with "nothing has changed" by its likelihood ratio; the ratios of all,
//! weighted by the seconds in which the onset may have lain, add up to the evidence `R`, which is
//! counted in seconds. As long as nothing has changed, `R - t` is a martingale, so that on average at
//! least `A` seconds pass before `R` reaches `A` (Shiryaev 1963, Theory Probab Appl 8:22; Roberts 1966,
//! Technometrics 8:411; Pollak 1985, Ann Stat 13:206): the bound on `R` is a bound on the rate of false
//! alarms, whatever the pace at which tries come. Onset moments that lie close together in the past are
//! merged (as in Fearnhead & Liu 2007, J R Stat Soc B 69:589), so that the work stays the same however
//! long a session lasts.

mod forms;
pub mod pace;
mod times;
mod usual;

pub use forms::Shows;
pub use times::{Compared, Times};
pub use usual::{Day, Kind, SORTS, STREAMS, Usual};

use forms::{ALL, FORMS, SILENCE, TIMES, longer};

/// Parts of the evidence: finished times, misses, cues without an answer.
pub const PARTS: usize = 3;
/// This many moments of onset are kept apart.
const ONSETS: usize = 24;
/// The newest are never merged.
const NEWEST: usize = 6;
/// A decline begins once in this many seconds of good work (an assumption).
const BEGINS_S: f64 = 900.0;
/// One observation changes the odds of a hypothesis at most this many times.
const MOST: f64 = 20.0;
/// A cue without an answer speaks for silence at most this much: misses come in clusters without it too.
const UNANSWERED: f64 = 3.0;
/// Evidence is never taken to be more than this.
const ENOUGH: f64 = 1e12;
/// A try, when it was thought that none came any more.
const NOT_SILENT: f64 = 1e-3;

/// One moment at which the decline may have begun.
#[derive(Debug, Clone, PartialEq)]
struct Onset {
    /// Active seconds.
    at: f64,
    /// Seconds that it stands for, times the likelihood ratio, by form.
    odds: [f64; FORMS],
    /// What was usual before it.
    means: [f64; STREAMS],
    miss: f64,
    /// Log likelihood ratio by part.
    parts: [f64; PARTS],
}

impl Onset {
    fn sum(&self) -> f64 {
        self.odds.iter().sum()
    }
}

/// What was seen of a try.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sight {
    /// A time of this kind was finished.
    Time {
        /// Which kind.
        kind: Kind,
        /// How long.
        seconds: f64,
    },
    /// A time of this kind ended by itself before anything came, so it would have been longer.
    Cut {
        /// Which kind.
        kind: Kind,
        /// How long.
        seconds: f64,
    },
    /// A try met the criterion or missed.
    Try {
        /// Whether it met it.
        met: bool,
        /// Whether it answered a cue: then a miss may be no try at all.
        cued: bool,
    },
    /// A cue was not answered: nothing came before the next.
    NoAnswer,
}

/// The wait that runs now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wait {
    /// Its kind.
    pub kind: Kind,
    /// How long so far.
    pub seconds: f64,
}

/// The evidence at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Evidence {
    /// All of it, in seconds.
    pub total: f64,
    /// By where it shows: times, misses, both, silence.
    pub shows: [f64; 4],
}

/// What speaks for a decline, for a watch on other work of the same animal. The evidence is one sum whatever work each
/// observation came from, as long as each is compared with what is usual for its work: so it stays the martingale that
/// the module speaks of, and the bound on false alarms holds over all of the work together.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Carried {
    /// How long ago it probably began, in seconds: the mean over the onsets, by their weight.
    pub age_s: f64,
    /// Seconds times likelihood ratio, by form.
    pub odds: Vec<f64>,
}

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Watching {
    /// What is usual.
    pub usual: Usual,
    onsets: Vec<Onset>,
    /// Up to where onsets have been placed.
    placed: f64,
}

impl Watching {
    /// Watching from `now`, in active seconds.
    pub fn new(usual: Usual, now: f64) -> Self {
        Watching { usual, onsets: Vec::new(), placed: now }
    }

    /// Places an onset for the time since the last one; `per_second` is how much likelier than usual an
    /// onset is now (on average one).
    pub fn passed(&mut self, now: f64, per_second: f64) {
        let seconds = now - self.placed;
        if !(seconds > 0.0 && per_second > 0.0) {
            return;
        }
        self.placed = now;
        self.onsets.push(Onset {
            at: now,
            odds: ALL.map(|form| form.share * seconds * per_second),
            means: self.usual.times.map(|times| times.mean()),
            miss: self.usual.miss(),
            parts: [0.0; PARTS],
        });
        if self.onsets.len() > ONSETS {
            self.merge(now);
        }
    }

    /// Merges the two neighbours that lie closest for their age.
    fn merge(&mut self, now: f64) {
        let old = self.onsets.len() - NEWEST;
        let apart = |i: &usize| {
            let (a, b) = (&self.onsets[*i], &self.onsets[*i + 1]);
            (b.at - a.at) / (now - a.at + 1.0)
        };
        let Some(i) = (0..old).min_by(|a, b| apart(a).total_cmp(&apart(b))) else { return };
        let next = self.onsets.remove(i + 1);
        let into = &mut self.onsets[i];
        let (a, b) = (into.sum(), next.sum());
        let mix = |x: f64, y: f64| if a + b > 0.0 { (x * a + y * b) / (a + b) } else { y };
        into.at = mix(into.at, next.at);
        for (x, y) in into.means.iter_mut().zip(next.means) {
            *x = mix(*x, y);
        }
        into.miss = mix(into.miss, next.miss);
        for (x, y) in into.parts.iter_mut().zip(next.parts) {
            *x = mix(*x, y);
        }
        into.odds.iter_mut().zip(next.odds).for_each(|(x, y)| *x += y);
    }

    /// Takes in what was seen, at `now`.
    pub fn see(&mut self, sight: Sight, now: f64) {
        let part = 1.0 - self.chance();
        match sight {
            Sight::Time { kind, seconds } if seconds > 0.0 => {
                let plain = self.usual.plain(kind, seconds);
                let compared = self.usual.times[kind.stream].finished(plain);
                self.compare_times(kind.stream, &compared, now);
                self.usual.learn(kind, seconds, part);
            }
            Sight::Cut { kind, seconds } if seconds > 0.0 => {
                let plain = self.usual.plain(kind, seconds);
                let compared = self.usual.times[kind.stream].running(plain);
                self.compare_times(kind.stream, &compared, now);
            }
            Sight::Try { met, cued } => {
                let silent = match (met, cued) {
                    (true, _) => NOT_SILENT,
                    (false, true) => (1.0 / self.usual.miss()).min(UNANSWERED),
                    (false, false) => 1.0,
                };
                self.compare_misses(!met, 1, silent, now, part);
            }
            Sight::NoAnswer => {
                let silent = (1.0 / self.usual.miss()).min(UNANSWERED);
                self.compare_misses(true, 2, silent, now, part);
            }
            _ => {}
        }
    }

    fn compare_times(&mut self, stream: usize, compared: &Compared, now: f64) {
        let times = &self.usual.times[stream];
        let usual = compared.at(times.mean());
        let known = times.known();
        let silent = if compared.is_running() { 1.0 / usual } else { NOT_SILENT };
        for onset in &mut self.onsets {
            let mut by_way = [1.0; TIMES];
            if known {
                let mean = onset.means[stream];
                for (ratio, longer) in by_way.iter_mut().zip(longer(now - onset.at)) {
                    *ratio = bounded(compared.at(mean + longer) / usual);
                }
                by_way[0] = 1.0;
            }
            let before = onset.sum();
            for (odds, form) in onset.odds.iter_mut().zip(ALL) {
                *odds *= by_way[form.times];
            }
            let silent = if known { silent.min(MOST) } else { silent.min(1.0) };
            onset.odds[SILENCE] *= silent;
            settle(onset, before, 0);
        }
    }

    fn compare_misses(&mut self, missed: bool, part: usize, silent: f64, now: f64, counts: f64) {
        let usual = self.usual.miss();
        for onset in &mut self.onsets {
            let odds = onset.miss / (1.0 - onset.miss);
            let by_way = forms::misses(now - onset.at).map(|grown| {
                let odds = odds * grown.exp();
                let miss = odds / (1.0 + odds);
                let ratio = if missed { miss / usual } else { (1.0 - miss) / (1.0 - usual) };
                bounded(ratio)
            });
            let before = onset.sum();
            for (odds, form) in onset.odds.iter_mut().zip(ALL) {
                if form.misses > 0 {
                    *odds *= by_way[form.misses];
                }
            }
            onset.odds[SILENCE] *= silent;
            settle(onset, before, part);
        }
        self.usual.tried(!missed, counts);
    }

    /// Chance that a decline has begun, by what is finished.
    pub fn chance(&self) -> f64 {
        chance(self.onsets.iter().map(Onset::sum).sum())
    }

    /// The evidence now, with the wait that runs.
    pub fn evidence(&self, now: f64, wait: Option<Wait>) -> Evidence {
        let mut shows = [0.0; 4];
        let wait =
            wait.filter(|wait| wait.seconds > 0.0 && self.usual.times[wait.kind.stream].known());
        let compared = wait.map(|wait| {
            let times = &self.usual.times[wait.kind.stream];
            let compared = times.running(self.usual.plain(wait.kind, wait.seconds));
            (wait.kind.stream, compared, compared.at(times.mean()))
        });
        for onset in &self.onsets {
            let by_way = match compared {
                Some((kind, compared, usual)) => longer(now - onset.at)
                    .map(|longer| compared.at(onset.means[kind] + longer) / usual),
                None => [1.0; TIMES],
            };
            for (odds, form) in onset.odds.iter().zip(ALL) {
                let ratio = if form.times > 0 { by_way[form.times] } else { 1.0 };
                shows[form.shows as usize] += odds * ratio.min(MOST);
            }
            if let Some((_, _, usual)) = compared {
                shows[3] += onset.odds[SILENCE] * (1.0 / usual - 1.0).min(ENOUGH);
            }
        }
        let since = (now - self.placed).max(0.0);
        for form in ALL {
            shows[form.shows as usize] += since * form.share;
        }
        Evidence { total: shows.iter().sum(), shows }
    }

    /// What speaks for a decline at `now`, to be carried over; `None` when nothing was watched.
    pub fn carried(&self, now: f64) -> Option<Carried> {
        let since = (now - self.placed).max(0.0);
        let mut odds = ALL.map(|form| form.share * since);
        let mut aged = since * since / 2.0;
        for onset in &self.onsets {
            odds.iter_mut().zip(onset.odds).for_each(|(sum, odds)| *sum += odds);
            aged += onset.sum() * (now - onset.at).max(0.0);
        }
        let total: f64 = odds.iter().sum();
        (total > 0.0).then(|| Carried { age_s: aged / total, odds: odds.to_vec() })
    }

    /// Goes on at `now` with what was found in other work, in place of what was found in this.
    pub fn carry(&mut self, carried: &Carried, now: f64) {
        self.forget(now);
        let mut odds = [0.0; FORMS];
        odds.iter_mut().zip(&carried.odds).for_each(|(to, from)| *to = from.clamp(1e-30, ENOUGH));
        self.onsets.push(Onset {
            at: now - carried.age_s,
            odds,
            means: self.usual.times.map(|times| times.mean()),
            miss: self.usual.miss(),
            parts: [0.0; PARTS],
        });
    }

    /// The part of the evidence in each source for the likeliest onsets, in nats.
    pub fn parts(&self) -> [f64; PARTS] {
        let total: f64 = self.onsets.iter().map(Onset::sum).sum();
        let mut parts = [0.0; PARTS];
        if total > 0.0 {
            for onset in &self.onsets {
                let weight = onset.sum() / total;
                parts.iter_mut().zip(onset.parts).for_each(|(sum, part)| *sum += weight * part);
            }
        }
        parts
    }

    /// Up to where onsets have been placed, in active seconds.
    pub fn placed(&self) -> f64 {
        self.placed
    }

    /// When it probably began: the middle of the evidence over the onsets.
    pub fn since(&self) -> Option<f64> {
        let total: f64 = self.onsets.iter().map(Onset::sum).sum();
        let mut sum = 0.0;
        let middle = self.onsets.iter().find(|onset| {
            sum += onset.sum();
            sum >= total / 2.0
        });
        middle.map(|onset| onset.at)
    }

    /// Forgets the hypotheses: what was found has been told, or was wrong.
    pub fn forget(&mut self, now: f64) {
        self.onsets.clear();
        self.placed = now;
    }
}

/// Chance that a decline has begun with this much evidence, if one begins once in a quarter of an hour.
pub fn chance(evidence: f64) -> f64 {
    evidence / (evidence + BEGINS_S)
}

fn bounded(ratio: f64) -> f64 {
    if ratio.is_nan() { 1.0 } else { ratio.clamp(1.0 / MOST, MOST) }
}

fn settle(onset: &mut Onset, before: f64, part: usize) {
    for odds in &mut onset.odds {
        *odds = odds.clamp(1e-30, ENOUGH);
    }
    let after = onset.sum();
    if before > 0.0 && after > 0.0 {
        onset.parts[part] += (after / before).ln();
    }
}
