//! Sessions from timed tags instead of sound: the lines that [`JsonLines`](super::JsonLines) prints, read
//! back. What was said or pressed is taken in, and the step at which the session began; what followed from it (`nudge`,
//! `said`, a hold that ran out) follows again, so a file that was printed gives the same session once more.

mod before;
mod line;
mod read;
#[cfg(test)]
mod tests;

use std::io::BufRead;

use super::{Conductor, Desk, Shell};
use crate::plan::Plan;
use crate::session::{PastSession, Prior, Session};

pub use before::{BeforeError, before};
pub use line::LineError;
pub use read::TagsError;
use read::{Reader, Step};

/// What a file of tags held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TagsReplayed {
    /// Sessions.
    pub sessions: u64,
    /// Tags, notes and doubts in them.
    pub tags: u64,
}

/// Goes through sessions of timed tags, by the first plan; with others, through sittings that may turn to those. Each is taken for the next one after `prior`, whatever else the
/// file holds. A session ends with its line `finished`, where the number of the session changes, and at
/// the end of the file.
///
/// # Errors
/// A line that is none of ours, or a time that goes back, with its line number; what stood before it has
/// been carried out.
pub fn replay_tags(
    lines: impl BufRead,
    plan: &Plan,
    others: &[Plan],
    prior: &Prior,
    desk: &mut Desk,
) -> Result<TagsReplayed, TagsError> {
    let mut reader = Reader::new(lines);
    if !others.is_empty() {
        reader = reader.of_several();
    }
    let fresh = Session::with_prior(plan.clone(), prior.clone());
    let begin = || Conductor::of(fresh.clone()).and(others.iter().cloned());
    let mut conductor = begin();
    let mut replayed = TagsReplayed::default();
    while let Some(step) = reader.next()? {
        match step {
            Step::Begin { session } => {
                conductor = begin();
                desk.turn_to(0);
                desk.printer.session(session);
                replayed.sessions += 1;
            }
            Step::StartAt(step) => conductor.begin_at(step, desk),
            Step::Take(at, input, heard) => {
                conductor.take(at, input, heard, desk);
                replayed.tags += 1;
            }
            Step::End(at) => {
                conductor.close(at, desk);
            }
        }
    }
    Ok(replayed)
}

/// The sessions of a file of tags as the history of the next one, each knowing those before it.
///
/// # Errors
/// As for [`replay_tags`].
pub fn past_sessions(lines: impl BufRead, plan: &Plan) -> Result<Vec<PastSession>, TagsError> {
    let mut reader = Reader::new(lines);
    let mut prior = Prior::default();
    let mut session = Session::new(plan.clone());
    while let Some(step) = reader.next()? {
        match step {
            Step::Begin { .. } => session = Session::with_prior(plan.clone(), prior.clone()),
            Step::StartAt(step) => session.start_at(step),
            Step::Take(at, input, _) => {
                let _told_then = session.handle(at, input);
            }
            Step::End(at) => {
                let _told_then = session.close(at);
                if !session.reps().is_empty() {
                    prior.sessions.push(PastSession::of(&session));
                }
            }
        }
    }
    Ok(prior.sessions)
}
