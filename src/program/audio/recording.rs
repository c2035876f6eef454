//! A sound file as 16 kHz frames.

use std::path::Path;

use super::Frame;
use super::decode::{DecodeError, SoundFile};
use super::frames::Framer;
use super::resample::ResampleError;

/// Why a recording could not be read, or not to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordingError {
    /// See [`DecodeError`].
    #[error(transparent)]
    Decode(#[from] DecodeError),
    /// See [`ResampleError`].
    #[error(transparent)]
    Resample(#[from] ResampleError),
}

impl RecordingError {
    /// True if all sound that could be had has been given before this error: warn, and go on.
    pub fn is_only_a_warning(&self) -> bool {
        matches!(self, RecordingError::Decode(e) if e.is_only_a_warning())
    }
}

/// An open recording.
pub struct Recording {
    file: SoundFile,
    framer: Framer,
    ended: bool,
    /// What was wrong with the file; reported after its last frame.
    damage: Option<DecodeError>,
}

impl Recording {
    /// Opens a sound file of any kind in [`decode`](super::decode).
    ///
    /// # Errors
    /// [`RecordingError`] if it is missing, broken, empty or not sound.
    pub fn open(path: &Path) -> Result<Self, RecordingError> {
        let file = SoundFile::open(path)?;
        let framer = Framer::new(file.rate(), 0)?;
        Ok(Recording { file, framer, ended: false, damage: None })
    }

    /// The next frame; `None` after the last.
    ///
    /// # Errors
    /// A damaged file gives its frames first and then, once, an error for which
    /// [`RecordingError::is_only_a_warning`] is true.
    pub fn next_frame(&mut self) -> Result<Option<Frame>, RecordingError> {
        loop {
            if let Some(frame) = self.framer.pop() {
                return Ok(Some(frame));
            }
            if self.ended {
                return self.damage.take().map_or(Ok(None), |damage| Err(damage.into()));
            }
            match self.file.next_block() {
                Ok(Some(block)) => self.framer.push(block),
                Ok(None) => {
                    self.ended = true;
                    self.framer.finish();
                }
                Err(damage) => {
                    self.ended = true;
                    self.framer.finish();
                    self.damage = Some(damage);
                }
            }
        }
    }

    /// Share of the file that has been read, 0 to 1.
    pub fn progress(&self) -> f64 {
        self.file.progress()
    }
}
