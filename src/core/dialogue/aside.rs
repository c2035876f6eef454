//! What has a machine of its own and takes the stage for a while, outside a session: it is begun by a command, and
//! afterwards the dialogue goes on where it was.

use std::time::Duration;

use super::{Dialogue, DialogueEffect, DialogueLine, Place, Then};
use crate::plan::Command;

/// What takes the stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aside {
    /// Settling what was not heard surely in the latest session.
    Settle,
    /// The quiz of the nudges' sounds.
    Quiz,
    /// Teaching one's own sounds.
    Lesson,
    /// The whole sound check: microphone, output, words, voice.
    SetUp,
}

impl Aside {
    /// What this command begins.
    pub(super) fn of(command: Command) -> Option<Aside> {
        match command {
            Command::Settle => Some(Aside::Settle),
            Command::Quiz => Some(Aside::Quiz),
            Command::Learn => Some(Aside::Lesson),
            Command::SetUp => Some(Aside::SetUp),
            _ => None,
        }
    }
}

impl Dialogue {
    /// Its command: in a session it has to wait, and words are taught of a plan.
    pub(super) fn begin_aside(
        &mut self,
        now: Duration,
        aside: Aside,
        out: &mut Vec<DialogueEffect>,
    ) {
        match (self.place, aside) {
            (Place::Training(_), _) => out.push(DialogueEffect::Say(DialogueLine::AfterSession)),
            (Place::Lobby, Aside::Lesson) => self.ask_which(now, 0, Then::Aside(aside), out),
            _ => out.push(DialogueEffect::Aside(aside)),
        }
    }

    /// It is over, or could not be begun: says where we are.
    pub(super) fn back(
        &mut self,
        now: Duration,
        trouble: Option<String>,
        out: &mut Vec<DialogueEffect>,
    ) {
        if let Some(why) = trouble {
            out.push(DialogueEffect::Say(DialogueLine::AsideFailed { why }));
        }
        match self.place {
            Place::Ready(index) => out.push(DialogueEffect::Say(DialogueLine::Back {
                choice: self.choices[index].clone(),
                attention: self.attention.clone(),
            })),
            Place::Lobby => self.ask_which(now, 0, Then::Wait, out),
            Place::Training(_) | Place::Over => {}
        }
    }
}
