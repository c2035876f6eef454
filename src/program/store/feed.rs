//! Stored events back into the engine. Pure.

use super::append::{Content, Stored};
use crate::interpret::Said;
use crate::plan::Command;
use crate::session::{Derived, Event, Input, Output, Session, WhyEnded};

/// The engine, `session` before its start, in the state in which the last of these events left it, ready to go on.
pub fn replay(mut session: Session, events: &[Stored]) -> Session {
    let feed = Feed::of(events.iter());
    for stored in events {
        // What follows from it was carried out when it happened.
        let _done = feed.give(&mut session, stored);
    }
    session
}

/// How stored events are given to the engine.
pub(super) struct Feed {
    /// Ends before this place end nothing.
    ends_from: i64,
}

impl Feed {
    /// Looks for ends that something said still follows. Only records from before a session had one owner have such:
    /// one program ended what another went on with, and only the last end is one.
    pub(super) fn of<'a>(events: impl Iterator<Item = &'a Stored>) -> Feed {
        let (mut first_end, mut ends_from) = (None, 0);
        for stored in events {
            if first_end.is_some() && is_said(stored) {
                ends_from = stored.ordinal;
            } else if is_end(stored) {
                first_end = first_end.or(Some(stored.ordinal));
            }
        }
        Feed { ends_from }
    }

    /// Whether an end, or the command for it, ends nothing.
    pub(super) fn passes_over(&self, stored: &Stored) -> bool {
        stored.ordinal < self.ends_from
    }

    /// Gives one stored event to the engine, and what the engine makes of it.
    pub(super) fn give(&self, session: &mut Session, stored: &Stored) -> Vec<Output> {
        match &stored.content {
            Content::Event(Event::Input(input)) if is_finish(input) && self.passes_over(stored) => {
                session.advance(stored.at)
            }
            Content::Event(Event::Input(input)) => session.handle(stored.at, input.clone()),
            Content::Event(Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded }))
                if !self.passes_over(stored) =>
            {
                session.close(stored.at)
            }
            Content::Event(Event::Derived(_)) => session.advance(stored.at),
            Content::Edit(_) => Vec::new(),
        }
    }
}

/// Whether the session ends with this event.
pub(super) fn is_end(stored: &Stored) -> bool {
    matches!(&stored.content, Content::Event(Event::Derived(Derived::Finished { .. })))
}

/// Whether it came in while the session went on; a note may also be made afterwards.
pub(super) fn is_said(stored: &Stored) -> bool {
    matches!(&stored.content, Content::Event(Event::Input(input)) if !matches!(input, Input::Noted { .. }))
}

/// Whether it is a try, as far as it was said.
pub(super) fn is_try(stored: &Stored) -> bool {
    let Content::Event(Event::Input(Input::Tagged { said, .. })) = &stored.content else {
        return false;
    };
    matches!(said, Said::Rep(_) | Said::Miss(_))
}

fn is_finish(input: &Input) -> bool {
    matches!(input, Input::Tagged { said: Said::Command { command: Command::Finish }, .. })
}
