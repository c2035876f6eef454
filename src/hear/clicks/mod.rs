//! Clicks and whistles as markers, for those who say nothing: found by their shape, with their onset. Pure.
//!
//! Only listened for when the plan asks. Measured figures, and what they were measured on, in DEVELOPERS.md.

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
