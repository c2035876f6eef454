//! Whether the recogniser still hears, and how hard it works.

use std::time::Duration;

use super::Ears;
use crate::hear::{HearError, Heard};

impl Ears {
    /// Sound that the recogniser ended over.
    pub(super) fn lost(&mut self) -> Option<Heard> {
        let (from, to) = (self.at_step(self.read_from), self.now());
        self.model.process().take_lost().then_some(Heard::Lost { from, to })
    }

    /// Processor time that the recogniser's process has used; what this thread has used is not in it.
    pub fn worked(&self) -> Duration {
        self.model.process().worked()
    }

    /// Whether anything is heard still.
    ///
    /// # Errors
    /// [`HearError::GaveUp`] when the recogniser ended over one stretch after the other.
    pub fn still_hear(&self) -> Result<(), HearError> {
        if self.model.process().has_given_up() { Err(HearError::GaveUp) } else { Ok(()) }
    }
}
