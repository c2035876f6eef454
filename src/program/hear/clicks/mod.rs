//! Clicks and whistles as markers, for those who say nothing: found by their shape, with their onset. Pure.
//!
//! Only listened for when the plan asks. Measured figures, and what they were measured on, in tests/bench.d/RESULTS.md.

mod envelope;
mod spectrum;
mod transient;
mod whistle;

use std::collections::BTreeSet;

use envelope::Envelope;
use transient::Transients;
use whistle::Whistles;

use crate::plan::MarkerSound;

/// A sound that marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Click {
    /// Which.
    pub(super) sound: MarkerSound,
    /// Sample of its onset, counted like the sound that was heard.
    pub(super) onset: u64,
    /// Sample after which it was over.
    pub(super) end: u64,
}

/// Listens for the sounds that a plan names.
pub(super) struct Clicks {
    sounds: BTreeSet<MarkerSound>,
    envelope: Envelope,
    transients: Transients,
    whistles: Whistles,
}

impl Clicks {
    /// For these sounds; hears nothing when there are none.
    pub(super) fn new(sounds: BTreeSet<MarkerSound>) -> Self {
        Clicks {
            transients: Transients::new(&sounds),
            sounds,
            envelope: Envelope::new(),
            whistles: Whistles::new(),
        }
    }

    /// Forgets what was heard; the next sample is number `first`.
    pub(super) fn start_at(&mut self, first: u64) {
        self.envelope = Envelope::starting_at(first);
        self.transients = Transients::new(&self.sounds);
        self.whistles = Whistles::new();
    }

    /// Takes a sample; gives what is sure with it.
    pub(super) fn hear(&mut self, sample: i16) -> Option<Click> {
        if self.sounds.is_empty() || !self.envelope.hear(sample) {
            return None;
        }
        let click = self.transients.look(&self.envelope);
        let whistle = if self.sounds.contains(&MarkerSound::Whistle) {
            self.whistles.look(&self.envelope)
        } else {
            None
        };
        click.or(whistle)
    }

    /// Sample before which nothing lies that may still turn out to mark.
    pub(super) fn pending(&self) -> Option<u64> {
        let ticks = [self.transients.pending(), self.whistles.pending()];
        ticks.into_iter().flatten().min().map(|tick| self.envelope.sample_of(tick))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hear::hiss::hiss;
    use MarkerSound::{Clicker, TongueClick, Whistle};

    /// Damped tones in soft noise: onset in ms, Hz, decay in ms, level.
    fn bursts(list: &[(f64, f64, f64, f64)]) -> Vec<i16> {
        (0..32_000)
            .zip(hiss(1))
            .map(|(sample, noise)| {
                let mut value = 8.0 * noise;
                for (onset, hz, decay, level) in list {
                    let late = f64::from(sample) / 16.0 - onset;
                    if late >= 0.0 {
                        let turn = late / 1_000.0 * hz * std::f64::consts::TAU;
                        value += level * (-late / decay).exp() * turn.sin();
                    }
                }
                value as i16
            })
            .collect()
    }

    /// A tone from 800 to 1,300 ms that rises within 5 ms.
    fn tone(hz: f64, falls: f64) -> Vec<i16> {
        let quiet = bursts(&[]);
        let add = |(i, noise): (usize, &i16)| {
            let ms = i as f64 / 16.0 - 800.0;
            let level = if (0.0..500.0).contains(&ms) { (ms / 5.0).min(1.0) } else { 0.0 };
            let turn = ms / 1_000.0 * hz * std::f64::consts::TAU;
            noise + (8_000.0 * level * (-ms * falls / 1_000.0).exp() * turn.sin()) as i16
        };
        quiet.iter().enumerate().map(add).collect()
    }

    fn heard(sounds: &[MarkerSound], samples: &[i16]) -> Vec<(MarkerSound, f64)> {
        let mut clicks = Clicks::new(sounds.iter().copied().collect());
        let mut found = Vec::new();
        let mut samples = samples.to_vec();
        samples.extend(bursts(&[]));
        for (place, sample) in samples.iter().enumerate() {
            let pending = clicks.pending();
            if let Some(click) = clicks.hear(*sample) {
                assert!(click.onset <= click.end && click.end <= place as u64 + 1);
                assert!(
                    pending.is_some_and(|from| from <= click.onset),
                    "was not said to be pending: {pending:?} {click:?}"
                );
                found.push((click.sound, click.onset as f64 / 16.0));
            }
        }
        found
    }

    #[test]
    fn press_and_release_are_one_marker_at_the_press() {
        let box_ = bursts(&[(900.0, 3_500.0, 2.0, 9_000.0), (1_020.0, 3_300.0, 2.0, 6_000.0)]);
        let [(Clicker, at)] = heard(&[Clicker], &box_)[..] else {
            panic!("{:?}", heard(&[Clicker], &box_))
        };
        assert!((at - 900.0).abs() < 1.0, "{at}");
        assert_eq!(heard(&[], &box_), []);
        assert_eq!(heard(&[TongueClick, Whistle], &box_), []);
    }

    #[test]
    fn a_tongue_click_is_alone_and_rings_like_a_mouth() {
        let click = bursts(&[(900.0, 1_400.0, 4.0, 9_000.0)]);
        for asked in [&[TongueClick][..], &[TongueClick, Clicker, Whistle]] {
            let [(TongueClick, at)] = heard(asked, &click)[..] else {
                panic!("{:?}", heard(asked, &click))
            };
            assert!((at - 900.0).abs() < 1.0, "{at}");
        }
        assert_eq!(heard(&[Clicker], &click), []);
    }

    #[test]
    fn a_whistle_holds_its_level_and_a_bell_does_not() {
        let [(Whistle, at)] = heard(&[Whistle], &tone(2_000.0, 0.0))[..] else {
            panic!("{:?}", heard(&[Whistle], &tone(2_000.0, 0.0)))
        };
        assert!((at - 800.0).abs() < 3.0, "{at}");
        assert_eq!(heard(&[Whistle], &tone(2_000.0, 12.0)), []);
        assert_eq!(heard(&[Whistle], &tone(500.0, 0.0)), []);
    }

    #[test]
    fn bowls_knocks_and_many_clicks_are_not_markers() {
        let all = [Clicker, TongueClick, Whistle];
        let bowl = [(900.0, 2_400.0, 150.0, 9_000.0), (1_100.0, 2_400.0, 150.0, 7_000.0)];
        let knock = [(900.0, 200.0, 15.0, 12_000.0)];
        let keys: Vec<_> =
            (0..8).map(|i| (900.0 + 90.0 * f64::from(i), 3_000.0, 2.0, 6_000.0)).collect();
        assert_eq!(heard(&all, &bursts(&bowl)), []);
        assert_eq!(heard(&all, &bursts(&knock)), []);
        assert_eq!(heard(&all, &bursts(&keys)), []);
    }
}
