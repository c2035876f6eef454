//! Silence before and after a sentence: none before, so that an answer comes soon; a pause after it, so that two
//! sentences are told apart. Pure.

use super::engine::Spoken;

/// Softer than this part of the peak (-40 dB) is silence.
const SILENCE: f32 = 0.01;
/// Kept before the first and after the last sound, for soft consonants.
const EDGE_S: f32 = 0.01;
/// After each sentence.
const PAUSE_S: f32 = 0.3;

/// The same sentence with a short start and the usual pause behind it.
pub(super) fn paced(mut spoken: Spoken) -> Spoken {
    let peak = spoken.samples.iter().fold(0f32, |peak, s| peak.max(s.abs()));
    let sounds = |sample: &f32| sample.abs() > SILENCE * peak;
    let (Some(first), Some(last)) =
        (spoken.samples.iter().position(sounds), spoken.samples.iter().rposition(sounds))
    else {
        return spoken;
    };
    let samples = |seconds: f32| (seconds * spoken.rate.get() as f32) as usize;
    let (edge, pause) = (samples(EDGE_S), samples(PAUSE_S));
    spoken.samples.truncate(last + 1 + edge);
    spoken.samples.drain(..first.saturating_sub(edge));
    spoken.samples.resize(spoken.samples.len() + pause, 0.0);
    spoken
}

#[cfg(test)]
mod tests {
    use std::num::NonZeroU32;

    use super::*;

    fn spoken(samples: Vec<f32>) -> Spoken {
        Spoken { samples, rate: NonZeroU32::new(1_000).unwrap() }
    }

    #[test]
    fn it_begins_soon_and_a_pause_follows() {
        let samples = [vec![0.001; 250], vec![0.4; 500], vec![0.0; 170]].concat();
        let paced = paced(spoken(samples)).samples;
        assert_eq!(paced.iter().position(|s| *s == 0.4), Some(10));
        assert_eq!(paced.iter().rposition(|s| *s == 0.4), Some(509));
        assert_eq!(paced.len(), 10 + 500 + 10 + 300);
    }

    #[test]
    fn what_has_no_silence_around_it_loses_nothing_and_silence_stays() {
        assert_eq!(paced(spoken(vec![0.4; 10])).samples[..10], [0.4; 10]);
        assert_eq!(paced(spoken(vec![0.0; 10])).samples.len(), 10);
        assert!(paced(spoken(Vec::new())).samples.is_empty());
    }
}
