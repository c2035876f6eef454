//! When a word really began, to a few milliseconds, on the waveform.

use super::level::{HighPass, db};

/// Samples between two looks: 2 ms.
const HOP: usize = 32;
/// Samples of one look: 8 ms.
const WINDOW: usize = 128;
/// The word is above the room's noise by more than this.
const OVER_DB: f32 = 4.0;
/// Its first strong look is within this of its loudest.
const STRONG_DB: f32 = 20.0;
/// Looks below the noise that may lie inside a beginning: 70 ms, a voiced stop before its vowel.
const HOLE: usize = 35;
/// The energy of a beginning first shows in the last quarter of a look.
const LATE: usize = 96;

/// Where in `samples` the word begins. It was noticed at `noticed`; before that there is mostly quiet.
///
/// The floor is the mean level of the quiet; from the first strong look after, walk back while the level
/// is over it. Measured error in tests/bench.d/RESULTS.md.
pub(super) fn onset(samples: &[i16], noticed: usize) -> usize {
    let looks = looks(samples);
    let place = (noticed / HOP).min(looks.len());
    let quiet_to = place.saturating_sub(15);
    let quiet_from = place.saturating_sub(150);
    let furthest = place.saturating_sub(100);
    let last = (place + 225).min(looks.len());
    let quiet = &looks[quiet_from..quiet_to.max(quiet_from)];
    let heard = &looks[furthest..last];
    if quiet.len() < 10 || heard.is_empty() {
        return noticed;
    }
    let floor = quiet.iter().sum::<f32>() / quiet.len() as f32 + OVER_DB;
    let peak = heard.iter().copied().fold(f32::MIN, f32::max);
    // In loud noise, that far below the loudest would still be noise.
    let least = floor.max(peak - STRONG_DB);
    let Some(strong) = heard.iter().position(|look| *look > least) else { return noticed };
    let strong = furthest + strong;
    let mut begins = strong;
    let mut hole = 0;
    for place in (furthest..strong).rev() {
        if looks[place] > floor {
            begins = place;
            hole = 0;
        } else {
            hole += 1;
            if hole > HOLE {
                break;
            }
        }
    }
    begins * HOP + LATE
}

fn looks(samples: &[i16]) -> Vec<f32> {
    let mut filter = HighPass::above(100.0);
    let mut sum = 0.0;
    let sums: Vec<f64> = std::iter::once(0.0)
        .chain(samples.iter().map(|sample| {
            sum += filter.pass(*sample).powi(2);
            sum
        }))
        .collect();
    (0..samples.len().saturating_sub(WINDOW) / HOP)
        .map(|look| look * HOP)
        .map(|from| db((sums[from + WINDOW] - sums[from]) / WINDOW as f64))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;

    #[test]
    fn finds_a_beginning_that_was_noticed_late() {
        let mut noise = hiss(7);
        for truth in [8_000usize, 8_017, 8_123] {
            let samples: Vec<i16> = (0..14_000)
                .zip(&mut noise)
                .map(|(i, noise)| {
                    let tone = if i >= truth { 2_000.0 } else { 0.0 };
                    (20.0 * noise + tone * (i as f64 * 0.3).sin()) as i16
                })
                .collect();
            for late in [0, 300, 900] {
                let found = onset(&samples, truth + late);
                assert!(found.abs_diff(truth) <= 48, "{found} for {truth}, noticed {late} later");
            }
        }
    }

    #[test]
    fn loud_noise_is_not_a_beginning() {
        let truth = 8_000;
        let samples: Vec<i16> = (0..14_000)
            .zip(hiss(7))
            .map(|(i, noise)| {
                // 12 dB below the tone, so less than STRONG_DB.
                let tone = if i >= truth { 2_000.0 } else { 0.0 };
                (615.0 * noise + tone * (i as f64 * 0.3).sin()) as i16
            })
            .collect();
        for late in [0, 300, 900] {
            let found = onset(&samples, truth + late);
            assert!(found.abs_diff(truth) <= 64, "{found} for {truth}, noticed {late} later");
        }
    }

    #[test]
    fn without_quiet_before_it_keeps_what_was_noticed() {
        assert_eq!(onset(&[0; 100], 50), 50);
        assert_eq!(onset(&[], 0), 0);
    }
}
