//! Free dictation: every word that the model knows, until a silence.

use super::gate::Gate;
use super::{HearError, SpeechModel};
use crate::audio::RATE;

/// Quiet that ends it, in steps of 10 ms: longer than people stop to think within a sentence.
const SILENCE: usize = 180;
/// Quiet at the start after which nothing will come.
const NOTHING: usize = 800;
/// It ends by itself after so long.
const LONGEST: usize = 9_000;

/// A dictation under way.
pub(super) struct Dictation {
    inner: vosk::Recognizer,
    text: Vec<String>,
    began: usize,
    /// Step at which speech was last heard.
    spoke: Option<usize>,
}

impl Dictation {
    /// Begins at the gate's step `now`.
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when it does not start.
    pub(super) fn begin(model: &SpeechModel, now: usize) -> Result<Self, HearError> {
        let inner =
            vosk::Recognizer::new(model.inner(), RATE.get() as f32).ok_or(HearError::Recogniser)?;
        Ok(Dictation { inner, text: Vec::new(), began: now, spoke: None })
    }

    /// Takes sound that the gate has taken already; true when it is over.
    pub(super) fn hear(&mut self, samples: &[i16], gate: &Gate) -> bool {
        // The recogniser cuts long speech by itself; each piece has to be fetched then.
        if let Ok(vosk::DecodingState::Finalized) = self.inner.accept_waveform(samples) {
            let piece = self.inner.result().single().map(|piece| piece.text.to_owned());
            self.text.extend(piece);
        }
        let now = gate.steps();
        if gate.began().is_some_and(|began| began >= self.began) {
            self.spoke = Some(now.saturating_sub(gate.quiet()));
        }
        let quiet = now.saturating_sub(self.spoke.unwrap_or(self.began));
        let enough = if self.spoke.is_some() { SILENCE } else { NOTHING };
        quiet >= enough || now >= self.began + LONGEST
    }

    /// What was said.
    pub(super) fn finish(mut self) -> String {
        let last = self.inner.final_result().single().map(|piece| piece.text.to_owned());
        self.text.extend(last);
        self.text.retain(|piece| !piece.is_empty());
        self.text.join(" ")
    }
}
