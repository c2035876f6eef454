//! What is typed or pressed while the program runs, as it comes.

use std::time::Duration;

use crate::audio::choice::DeviceChoice;
use crate::interpret::switch::SwitchSettings;
use tokio::sync::mpsc::UnboundedReceiver;

/// What is typed in place of words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// A line: the same words, a number, or nothing for a marker.
    Line(String),
    /// The switch went down, or repeats, at this time of the steady clock.
    Key(Duration),
    /// A pedal went down or came up, at this time of the steady clock.
    Pedal {
        /// Whether it went down.
        down: bool,
        /// When.
        at: Duration,
    },
    /// A pedal cannot be read: what to tell the trainer.
    Trouble(String),
    /// A line that is not finished.
    Draft(String),
}

/// How whoever is spoken with answers.
pub struct Answering {
    /// The microphone.
    pub microphone: DeviceChoice,
    /// What is typed in place of words.
    pub typed: Typing,
    /// The switch.
    pub switch: Switching,
}

/// Keeps the pace at which choices are read, for the next time.
pub(super) type KeepPace = Box<dyn FnMut(Duration) -> anyhow::Result<()>>;

/// One switch.
pub struct Switching {
    /// How it is read.
    pub settings: SwitchSettings,
    /// Told when whoever presses has asked for more or less time.
    pub keep_pace: KeepPace,
}

/// What is typed or pressed, as it comes.
pub struct Typing(Option<UnboundedReceiver<Typed>>);

impl Typing {
    /// What comes through `told`.
    pub fn new(told: UnboundedReceiver<Typed>) -> Self {
        Typing(Some(told))
    }

    /// Nothing is typed or pressed.
    pub fn nothing() -> Self {
        Typing(None)
    }

    /// Whether nothing more can come.
    pub(super) fn is_over(&self) -> bool {
        self.0.as_ref().is_none_or(|told| told.is_closed() && told.is_empty())
    }

    /// The next; `None` once, when no more can come. Asked again after that, it waits for ever.
    pub(super) async fn next(&mut self) -> Option<Typed> {
        let Some(told) = &mut self.0 else { return std::future::pending().await };
        let next = told.recv().await;
        if next.is_none() {
            self.0 = None;
        }
        next
    }
}
