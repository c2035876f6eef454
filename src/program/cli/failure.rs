//! How a verb fails: a class, which is the exit code, and words that say what to do.

use std::process::ExitCode;

use crate::audio::device::DeviceError;
use crate::audio::recording::RecordingError;
use crate::hear::HearError;
use crate::hear::personal::LearntError;
use crate::new_file::NewFileError;
use crate::plan::PlanErrors;
use crate::store::StoreError;
use crate::terminal::tell;

/// What kind of failure; its number is the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Class {
    /// Something failed.
    Failed = 1,
    /// A usage error, or a wrong plan.
    Usage = 2,
    /// No speech model, or not a whole one.
    Model = 3,
    /// No sound device, or it is busy.
    Device = 4,
    /// The record could not be saved or read.
    Record = 5,
}

/// A failure for a person.
#[derive(Debug)]
pub struct Failure {
    /// Kind.
    pub class: Class,
    /// The error, with what to do.
    pub error: anyhow::Error,
}

impl Failure {
    /// A failure of this class.
    pub fn new(class: Class, error: impl Into<anyhow::Error>) -> Self {
        Failure { class, error: error.into() }
    }

    /// Prints the failure; its exit code.
    pub fn report(&self) -> ExitCode {
        tell!("hushtally: {}", told(&self.error));
        ExitCode::from(self.class as u8)
    }
}

/// The error and its causes, each once: many an error names its cause in its own words already.
fn told(error: &anyhow::Error) -> String {
    let mut text = String::new();
    for cause in error.chain().map(ToString::to_string) {
        if text.contains(&cause) {
            continue;
        }
        let join = if text.is_empty() { "" } else { ": " };
        text = format!("{text}{join}{cause}");
    }
    text
}

impl From<anyhow::Error> for Failure {
    fn from(error: anyhow::Error) -> Self {
        let class = if error.is::<DeviceError>() {
            Class::Device
        } else if let Some(error) = error.downcast_ref::<HearError>() {
            class_of_hearing(error)
        } else if error.is::<PlanErrors>() {
            Class::Usage
        } else if error.is::<StoreError>() || error.is::<LearntError>() {
            Class::Record
        } else {
            Class::Failed
        };
        Failure::new(class, error)
    }
}

impl From<PlanErrors> for Failure {
    fn from(error: PlanErrors) -> Self {
        Failure::new(Class::Usage, error)
    }
}

impl From<NewFileError> for Failure {
    fn from(error: NewFileError) -> Self {
        let class = match error {
            NewFileError::Disk { .. } => Class::Failed,
            _ => Class::Usage,
        };
        Failure::new(class, error)
    }
}

impl From<HearError> for Failure {
    fn from(error: HearError) -> Self {
        Failure::new(class_of_hearing(&error), error)
    }
}

fn class_of_hearing(error: &HearError) -> Class {
    match error {
        HearError::UnknownWords(_) => Class::Usage,
        HearError::Model(_) | HearError::Recogniser | HearError::GaveUp => Class::Model,
    }
}

impl From<RecordingError> for Failure {
    fn from(error: RecordingError) -> Self {
        Failure::new(Class::Failed, error)
    }
}

impl From<LearntError> for Failure {
    fn from(error: LearntError) -> Self {
        Failure::new(Class::Record, error)
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        Failure::new(Class::Record, error)
    }
}
