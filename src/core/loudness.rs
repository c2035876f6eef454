//! How loud nudges are: a level that was found soft and clear once, raised and lowered with the room's noise.

use std::collections::VecDeque;

/// Levels looked at: at ten a second, the last ten seconds.
const KEPT: usize = 100;
/// The noise is what is there when nobody speaks: this share of the levels lies below it.
const QUIET_SHARE: f32 = 0.2;
/// Never so much louder that it could startle, nor so quiet that it is lost at once when noise begins.
const RANGE_DB: std::ops::RangeInclusive<f32> = -6.0..=12.0;

/// The room's noise, from the levels of the microphone.
#[derive(Debug, Clone, Default)]
pub struct NoiseFloor(VecDeque<f32>);

impl NoiseFloor {
    /// Takes the level of the last tenth of a second, in dBFS.
    pub fn hear(&mut self, level_dbfs: f32) {
        if level_dbfs.is_finite() {
            if self.0.len() == KEPT {
                self.0.pop_front();
            }
            self.0.push_back(level_dbfs);
        }
    }

    /// The noise in dBFS; `None` before two seconds were heard.
    pub fn dbfs(&self) -> Option<f32> {
        if self.0.len() < KEPT / 5 {
            return None;
        }
        let mut levels: Vec<f32> = self.0.iter().copied().collect();
        levels.sort_by(f32::total_cmp);
        Some(levels[(levels.len() as f32 * QUIET_SHARE) as usize])
    }
}

/// By how many dB sounds are louder than at the sound check, now that the noise is `now_dbfs`.
///
/// Microphone and earphone have no common scale, so what is right in absolute terms is found by ear at the
/// sound check; from then on the nudge keeps its distance to the noise, dB for dB.
pub fn louder_db(now_dbfs: Option<f32>, at_check_dbfs: Option<f32>) -> f32 {
    match (now_dbfs, at_check_dbfs) {
        (Some(now), Some(then)) => (now - then).clamp(*RANGE_DB.start(), *RANGE_DB.end()),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speech_is_not_taken_for_noise_and_noise_is_followed_within_bounds() {
        let mut floor = NoiseFloor::default();
        for index in 0..100 {
            floor.hear(if index % 10 < 6 { -30.0 } else { -60.0 });
        }
        assert_eq!(floor.dbfs(), Some(-60.0));
        floor.hear(f32::NEG_INFINITY);
        (0..100).for_each(|_| floor.hear(-50.0));
        assert_eq!(louder_db(floor.dbfs(), Some(-60.0)), 10.0);
        (0..100).for_each(|_| floor.hear(-20.0));
        assert_eq!(louder_db(floor.dbfs(), Some(-60.0)), 12.0);
        assert_eq!(louder_db(None, Some(-60.0)), 0.0);
    }
}
