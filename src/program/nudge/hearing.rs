//! Where a species hears best, from `prompts/hearing.toml`, and nudges that stay below it.

use serde::{Deserialize, Serialize};

use super::signals::Signals;

const BUILT_IN: &str = include_str!("../../../prompts/hearing.toml");
/// For a species that is not in the table: the lowest of the best bands in it.
const UNKNOWN_HZ: [f32; 2] = [1_000.0, 16_000.0];
/// Nudges stay this far under the best band: an octave.
const BELOW: f32 = 2.0;

#[derive(Deserialize)]
struct File {
    unknown: String,
    hearing: Vec<Row>,
}

#[derive(Deserialize)]
struct Row {
    names: Vec<String>,
    best_hz: [f32; 2],
    source: String,
}

/// What is known about a species' hearing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hearing {
    /// The name by which it was found; `None` for a species that is not in the table.
    pub found_as: Option<String>,
    /// The band heard best, in Hz.
    pub best_hz: [f32; 2],
    /// Where this is from.
    pub source: String,
}

impl Hearing {
    /// The hearing of a species, as a plan names it ("small donkey").
    pub fn of(species: &str) -> Self {
        let table: File = toml::from_str(BUILT_IN).expect("a test reads the built-in table");
        let species = species.to_lowercase();
        let words: Vec<&str> = species.split(|c: char| !c.is_alphanumeric()).collect();
        for row in table.hearing {
            if let Some(name) = row.names.iter().find(|name| words.contains(&name.as_str())) {
                let found_as = Some(name.clone());
                return Hearing { found_as, best_hz: row.best_hz, source: row.source };
            }
        }
        Hearing { found_as: None, best_hz: UNKNOWN_HZ, source: table.unknown }
    }

    /// The highest pitch that a nudge may have.
    pub fn highest_hz(&self) -> f32 {
        self.best_hz[0] / BELOW
    }
}

impl Signals {
    /// The same sounds, all lowered by one factor if the highest is too near to what the species
    /// hears best.
    pub fn below(mut self, hearing: &Hearing) -> Self {
        let highest = self.all().map(|nudge| nudge.pitch_hz).fold(0.0, f32::max);
        let factor = (hearing.highest_hz() / highest).min(1.0);
        self.each_mut().for_each(|nudge| nudge.pitch_hz *= factor);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_nudge_lies_an_octave_under_what_each_species_hears_best() {
        let table: File = toml::from_str(BUILT_IN).unwrap();
        for row in &table.hearing {
            assert!(row.best_hz[0] < row.best_hz[1] && !row.source.is_empty());
            for name in &row.names {
                let hearing = Hearing::of(name);
                assert_eq!(hearing.best_hz, row.best_hz, "{name} is found in another row");
                assert_eq!(Signals::built_in().below(&hearing), Signals::built_in());
            }
        }
    }

    #[test]
    fn species_are_found_by_whole_words() {
        assert_eq!(Hearing::of("Small donkey").found_as.as_deref(), Some("donkey"));
        assert_eq!(Hearing::of("caterpillar").found_as, None);
    }

    #[test]
    fn pitches_too_high_come_down_together() {
        let low = Hearing { found_as: None, best_hz: [400.0, 2000.0], source: String::new() };
        let (before, after) = (Signals::built_in(), Signals::built_in().below(&low));
        let ratios: Vec<f32> =
            after.all().zip(before.all()).map(|(a, b)| a.pitch_hz / b.pitch_hz).collect();
        assert!(after.all().all(|nudge| nudge.pitch_hz <= 200.01));
        assert!(ratios.iter().all(|ratio| (ratio - ratios[0]).abs() < 1e-6));
    }
}
