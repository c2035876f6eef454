//! Going on with a session that was cut off.

use std::time::Duration;

use jiff::Timestamp;

use super::{Desk, Happening, Shell};
use crate::at::At;
use crate::interpret::Said;
use crate::plan::{Command, Plan, Role};
use crate::session::{Derived, Event, Input, Logged, Output, Session, WhyEnded};
use crate::store::{EventId, OpenSession, Store, StoreError, replay};

/// A session older than this is left to the review.
const NOT_OLDER: jiff::SignedDuration = jiff::SignedDuration::from_hours(12);

/// A session of the same animal and behaviour that was never finished.
#[derive(Debug, Clone)]
pub struct Resumable {
    open: OpenSession,
    session: Session,
    since: Duration,
}

/// A session that goes on.
pub(super) struct Resumed {
    pub(super) session: Session,
    /// What is added to the time of the new sound to make it the session's.
    pub(super) offset: Duration,
}

impl Resumable {
    /// The latest session by this plan that was cut off not long ago, gone through once more.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn find(store: &Store, plan: &Plan, now: Timestamp) -> Result<Option<Self>, StoreError> {
        let fits = |open: &OpenSession| {
            open.animal == plan.animal
                && open.behaviour == plan.behaviour
                && now.duration_since(open.latest) < NOT_OLDER
        };
        let Some(open) = store.open_sessions()?.into_iter().find(fits) else { return Ok(None) };
        let session = replay(plan.clone(), &store.events(open.id)?);
        let since = Duration::try_from(now.duration_since(open.latest)).unwrap_or_default();
        Ok(Some(Resumable { open, session, since }))
    }

    /// What to say about it.
    pub(super) fn offer(&self) -> String {
        let words = [Role::Attention, Role::Command(Command::GoOn)]
            .map(|role| self.session.plan().words.of(&role).first().cloned().unwrap_or_default());
        let minutes = self.since.as_secs().div_ceil(60);
        format!(
            "A session with {} was cut off {minutes} minute{} ago, after {} rewarded. Say {} to go on with it. Anything else begins a new one.",
            self.open.animal,
            if minutes == 1 { "" } else { "s" },
            self.session.rewarded(),
            words.join(" "),
        )
    }

    /// Goes on with it at `at` of the new sound. The time in between counts as a pause.
    pub(super) fn go_on(mut self, at: At, desk: &mut Desk) -> Resumed {
        let between = self.open.latest_at.elapsed() + self.since;
        let offset = between.saturating_sub(at.elapsed());
        if let Some(recorder) = &mut desk.recorder {
            recorder.go_on_with(self.open.id);
        }
        let pause = Input::said(Said::Command { command: Command::Pause }, "");
        for output in self.session.handle(self.open.latest_at, pause) {
            if let Output::Append(logged) = output {
                desk.append(Happening { logged: &logged, heard: None, rep: None });
            }
        }
        Resumed { session: self.session, offset }
    }

    /// Ends it where it was cut off, since another one begins.
    pub(super) fn leave(self, desk: &mut Desk, id: EventId, now: Timestamp) {
        let Some(recorder) = &desk.recorder else { return };
        let event = Event::Derived(Derived::Finished { why: WhyEnded::SoundEnded });
        let ended = Logged { at: self.open.latest_at, event };
        let store = recorder.store();
        let done =
            store.append(self.open.id, &ended, id, now).and_then(|()| store.finish(self.open.id));
        if let Err(error) = done {
            desk.printer.remark(&format!("the session before stays open: {error}"));
        }
    }
}
