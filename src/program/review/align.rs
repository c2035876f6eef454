//! Where a film lies in session time, found from what was said in both. Pure.
//!
//! Every tag that both the session's log and the film's sound hold gives one difference of times. The
//! right offset is the one at which many differences meet; around it a line is fitted, whose slope is
//! the drift of the film's clock.

mod candidates;

use minijinja::context;
use serde::Serialize;

use candidates::{Candidate, candidates};

use crate::interpret::Said;
use crate::stats::matching::match_events;
use crate::stats::{binomial_at_least, summary};
use crate::wording::filled;

/// What kind of word begins here; only equal kinds are matched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum OnsetKind {
    /// A marker.
    Marker,
    /// A miss.
    Miss,
    /// Any other tag.
    Other,
}

impl OnsetKind {
    const ALL: [OnsetKind; 3] = [OnsetKind::Marker, OnsetKind::Miss, OnsetKind::Other];

    /// The kind of a tag.
    pub fn of(said: &Said) -> Self {
        match said {
            Said::Rep(_) => OnsetKind::Marker,
            Said::Miss(_) => OnsetKind::Miss,
            _ => OnsetKind::Other,
        }
    }
}

/// The start of a tag, in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// When.
    pub at_s: f64,
    /// What.
    pub kind: OnsetKind,
}

/// Where a film lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Alignment {
    /// Film time of the session's first sample, in seconds; below zero when the film began later.
    pub offset_s: f64,
    /// How much faster the film's clock runs, in parts per million.
    pub drift_ppm: f64,
    /// Half-width of the 95 % interval of a film time, at the worst place of the session, in ms.
    pub error_ms: f64,
    /// Tags found in both.
    pub matched: usize,
    /// Tags of the session that lie within the film.
    pub expected: usize,
}

/// Why a film could not be placed.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{}", self.said())]
pub enum CannotAlign {
    /// Too little was said.
    TooFew {
        /// Tags in the session.
        session: usize,
        /// Tags in the film.
        film: usize,
    },
    /// No offset fits better than chance.
    NoFit {
        /// Tags that meet at the best offset.
        matched: usize,
        /// Tags that should.
        expected: usize,
    },
    /// Several offsets fit about as well.
    Ambiguous {
        /// Best offset.
        first_s: f64,
        /// Another.
        second_s: f64,
    },
    /// The words scatter too much.
    TooVague {
        /// Half-width of the interval.
        error_ms: f64,
    },
}

impl CannotAlign {
    /// In words: on the page, and by the command line.
    fn said(&self) -> String {
        match *self {
            CannotAlign::TooFew { session, film } => {
                filled("page.film_too_few", context! { session, film, least => LEAST })
            }
            CannotAlign::NoFit { matched, expected } => {
                filled("page.film_no_fit", context! { matched, expected })
            }
            CannotAlign::Ambiguous { first_s, second_s } => {
                filled("page.film_ambiguous", context! { first_s, second_s })
            }
            CannotAlign::TooVague { error_ms } => {
                filled("page.film_too_vague", context! { error_ms, within_ms => WITHIN_MS })
            }
        }
    }
}

/// Least tags in common.
pub const LEAST: usize = 4;
/// What is promised of a placed film, in milliseconds.
pub const WITHIN_MS: f64 = 20.0;
/// Two onsets of the same word lie this close in two recordings, in seconds: the recogniser's frames of
/// 30 ms and two microphones; from experience with our own recogniser, no source.
const NEAR_S: f64 = 0.12;
/// Usual spread of drift between two cheap clocks (crystals are sold as ±100 ppm), as the sd of a prior.
const DRIFT_SD: f64 = 120e-6;
/// Farthest drift looked for.
const MOST_DRIFT: f64 = 300e-6;
/// Chance of a fit by accident that is put up with, over all offsets tried.
const BY_ACCIDENT: f64 = 1e-3;

/// Finds where the film lies.
///
/// # Errors
/// [`CannotAlign`], with what to do.
pub fn align(session: &[Onset], film: &[Onset]) -> Result<Alignment, CannotAlign> {
    if session.len() < LEAST || film.len() < LEAST {
        return Err(CannotAlign::TooFew { session: session.len(), film: film.len() });
    }
    let mut fits: Vec<Fit> =
        candidates(session, film).into_iter().filter_map(|c| refine(session, film, c)).collect();
    fits.sort_by(|a, b| b.pairs.len().cmp(&a.pairs.len()).then(a.spread_s.total_cmp(&b.spread_s)));
    let Some(best) = fits.first() else {
        return Err(CannotAlign::NoFit { matched: 0, expected: session.len() });
    };
    let found = best.alignment(session, film);
    let no_fit = CannotAlign::NoFit { matched: found.matched, expected: found.expected };
    if found.matched < LEAST || by_accident(session, film, &found) > BY_ACCIDENT {
        return Err(no_fit);
    }
    let rival = fits.iter().find(|fit| (fit.offset - best.offset).abs() > 3.0 * NEAR_S);
    if let Some(rival) = rival
        && rival.pairs.len() * 10 > best.pairs.len() * 8
    {
        let (first_s, second_s) = (best.offset, rival.offset);
        return Err(CannotAlign::Ambiguous { first_s, second_s });
    }
    // Half of what should be there is missing: of another session by the same words, perhaps.
    if found.matched * 2 < found.expected {
        return Err(no_fit);
    }
    if found.error_ms > WITHIN_MS {
        return Err(CannotAlign::TooVague { error_ms: found.error_ms });
    }
    Ok(found)
}

/// A line through the differences.
struct Fit {
    offset: f64,
    drift: f64,
    /// Session and film time of the matched tags.
    pairs: Vec<(f64, f64)>,
    spread_s: f64,
    /// Weighted number of pairs, their mean session time, and precision of the slope.
    weight: f64,
    centre: f64,
    slope_precision: f64,
}

fn refine(session: &[Onset], film: &[Onset], (offset, drift): Candidate) -> Option<Fit> {
    let mut fit = line(matched(session, film, offset, drift, 2.0 * NEAR_S))?;
    for _ in 0..4 {
        fit = line(matched(session, film, fit.offset, fit.drift, NEAR_S))?;
    }
    Some(fit)
}

fn matched(
    session: &[Onset],
    film: &[Onset],
    offset: f64,
    drift: f64,
    near: f64,
) -> Vec<(f64, f64)> {
    let mut pairs = Vec::new();
    for kind in OnsetKind::ALL {
        let times = |onsets: &[Onset]| {
            let mut times: Vec<f64> =
                onsets.iter().filter(|o| o.kind == kind).map(|o| o.at_s).collect();
            times.sort_by(f64::total_cmp);
            times
        };
        let (ours, theirs) = (times(session), times(film));
        let moved: Vec<f64> = ours.iter().map(|s| offset + s * (1.0 + drift)).collect();
        if let Ok(matching) = match_events(&moved, &theirs, near) {
            pairs.extend(matching.pairs.iter().map(|&(i, j)| (ours[i], theirs[j])));
        }
    }
    pairs
}

/// Tukey's biweight around the median, a few rounds; the slope is drawn towards none by the prior.
fn line(pairs: Vec<(f64, f64)>) -> Option<Fit> {
    let differences: Vec<f64> = pairs.iter().map(|(s, f)| f - s).collect();
    let mut offset = summary::median(&differences).ok()?;
    let (mut slope, mut spread) = (0.0, NEAR_S / 2.0);
    let (mut weight, mut centre, mut precision) = (0.0, 0.0, 0.0);
    for _ in 0..12 {
        let rest: Vec<f64> = pairs.iter().map(|(s, f)| f - s - offset - slope * s).collect();
        // Not below 4 ms, so that three equal values do not drive out all others.
        spread = (1.4826
            * summary::median(&rest.iter().map(|r| r.abs()).collect::<Vec<_>>()).ok()?)
        .max(0.004);
        let weights: Vec<f64> =
            rest.iter().map(|r| (1.0 - (r / (4.685 * spread)).powi(2)).max(0.0).powi(2)).collect();
        weight = weights.iter().sum();
        if weight <= 0.0 {
            return None;
        }
        let mean = |values: &dyn Fn(usize) -> f64| {
            weights.iter().enumerate().map(|(i, w)| w * values(i)).sum::<f64>() / weight
        };
        centre = mean(&|i| pairs[i].0);
        let level = mean(&|i| differences[i]);
        let across = weight * mean(&|i| (pairs[i].0 - centre).powi(2));
        let along = weight * mean(&|i| (pairs[i].0 - centre) * (differences[i] - level));
        precision = across / (spread * spread) + 1.0 / (DRIFT_SD * DRIFT_SD);
        slope = (along / (spread * spread) / precision).clamp(-MOST_DRIFT, MOST_DRIFT);
        offset = level - slope * centre;
    }
    Some(Fit {
        offset,
        drift: slope,
        pairs,
        spread_s: spread,
        weight,
        centre,
        slope_precision: precision,
    })
}

impl Fit {
    fn alignment(&self, session: &[Onset], film: &[Onset]) -> Alignment {
        let ends = |onsets: &[Onset]| {
            onsets
                .iter()
                .fold((f64::MAX, f64::MIN), |(low, high), o| (low.min(o.at_s), high.max(o.at_s)))
        };
        let (film_from, film_to) = ends(film);
        let place = |s: f64| self.offset + s * (1.0 + self.drift);
        let within = |s: f64| place(s) > film_from - 1.0 && place(s) < film_to + 1.0;
        let (from, to) = ends(session);
        let away = (to - self.centre).max(self.centre - from);
        let variance = self.spread_s.powi(2) / self.weight + away * away / self.slope_precision;
        Alignment {
            offset_s: self.offset,
            drift_ppm: self.drift * 1e6,
            error_ms: 1.96 * variance.sqrt() * 1e3,
            matched: self.pairs.len(),
            expected: session.iter().filter(|o| within(o.at_s)).count(),
        }
    }
}

/// Chance that this many tags meet at some offset when film and session have nothing to do with each other.
fn by_accident(session: &[Onset], film: &[Onset], found: &Alignment) -> f64 {
    let span = |onsets: &[Onset]| {
        let times = || onsets.iter().map(|o| o.at_s);
        times().fold(f64::MIN, f64::max) - times().fold(f64::MAX, f64::min)
    };
    let (ours, theirs) = (span(session).max(1.0), span(film).max(1.0));
    let meets = (2.0 * NEAR_S * film.len() as f64 / theirs).min(1.0);
    let tries = (ours + theirs) / (2.0 * NEAR_S);
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let one =
        binomial_at_least(count(found.matched), count(found.expected.max(found.matched)), meets);
    (one * tries).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Numbers by chance, the same in every run.
    fn jitter(seed: u64) -> impl FnMut() -> f64 {
        let mut random = fastrand::Rng::with_seed(seed);
        move || random.f64()
    }

    fn session(seed: u64, n: usize) -> Vec<Onset> {
        let mut next = jitter(seed);
        let mut at_s = 2.0;
        (0..n)
            .map(|_| {
                at_s += 2.0 + 8.0 * next();
                let kind = if next() < 0.8 { OnsetKind::Marker } else { OnsetKind::Miss };
                Onset { at_s, kind }
            })
            .collect()
    }

    fn filmed(session: &[Onset], offset: f64, ppm: f64, seed: u64) -> Vec<Onset> {
        let mut next = jitter(seed + 99);
        let mut film: Vec<Onset> = Vec::new();
        for onset in session {
            let at_s = offset + onset.at_s * (1.0 + ppm * 1e-6) + 0.04 * (next() - 0.5);
            if at_s > 0.0 && next() < 0.9 {
                film.push(Onset { at_s, ..*onset });
            }
            if next() < 0.1 {
                film.push(Onset { at_s: at_s + 1.3, kind: OnsetKind::Marker });
            }
        }
        film
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 60, ..ProptestConfig::default() })]
        #[test]
        fn a_film_is_placed_within_20_ms(seed in 0u64..5000, offset in -20.0..600.0f64, ppm in -200.0..200.0f64) {
            let session = session(seed, 40);
            let film = filmed(&session, offset, ppm, seed);
            let found = align(&session, &film);
            prop_assert!(found.is_ok(), "{found:?}");
            let found = found.unwrap();
            for onset in &session {
                let truth = offset + onset.at_s * (1.0 + ppm * 1e-6);
                let placed = found.offset_s + onset.at_s * (1.0 + found.drift_ppm * 1e-6);
                let error = (placed - truth).abs();
                prop_assert!(error < 0.020, "{error} of {found:?}");
            }
        }

        #[test]
        fn a_film_of_another_session_is_refused(seed in 0u64..5000) {
            let film = filmed(&session(seed + 10_000, 40), 12.0, 50.0, seed);
            prop_assert!(align(&session(seed, 40), &film).is_err());
        }
    }

    #[test]
    fn it_is_told_why_and_what_to_do() {
        let told = [
            (
                CannotAlign::TooFew { session: 3, film: 0 },
                "too few words to go by: 3 in the session, 0 in the film, and 4 in each are needed; set the film's place by hand",
            ),
            (
                CannotAlign::NoFit { matched: 5, expected: 30 },
                "the film does not seem to be of this session: at best 5 of 30 words meet, as chance would have it; choose another film, or set its place by hand",
            ),
            (
                CannotAlign::Ambiguous { first_s: 5.0, second_s: -10.046 },
                "the film fits at 5.00 s and at -10.05 s about as well, since the words come too evenly; set its place by hand",
            ),
            (
                CannotAlign::TooVague { error_ms: 31.4 },
                "the film's place is only known to within 31 ms, and 20 ms are needed; set it by hand",
            ),
        ];
        for (error, said) in told {
            assert_eq!(error.to_string(), said);
        }
    }

    #[test]
    fn an_even_beat_is_ambiguous_and_silence_too_little() {
        let beat: Vec<Onset> =
            (0..30).map(|i| Onset { at_s: 5.0 * f64::from(i), kind: OnsetKind::Marker }).collect();
        assert!(matches!(align(&beat, &beat), Err(CannotAlign::Ambiguous { .. })));
        assert!(matches!(align(&beat, &[]), Err(CannotAlign::TooFew { film: 0, .. })));
    }

    #[test]
    fn an_hour_of_drift_is_followed() {
        let session = session(7, 600);
        let film = filmed(&session, 300.0, 190.0, 7);
        let found = align(&session, &film).unwrap();
        assert!((found.drift_ppm - 190.0).abs() < 5.0, "{found:?}");
    }
}
