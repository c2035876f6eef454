//! The database: every session as an append-only log of events, on disk before a tag is acknowledged.
//! Never interprets a tag itself, reads no clock and makes no keys: times and keys are arguments, and
//! what follows from the events is found by feeding them through [`crate::session`] again.
//!
//! What is promised: when [`Store::append`] has returned `Ok`, the event is in the write-ahead log and
//! the disk was told to keep it (`synchronous = FULL`). It survives the end of the program at any
//! instant, and loss of power if the disk keeps what it said it kept. What was not acknowledged is
//! there whole or not at all. Corrections are new events ([`Edit`]); triggers in the schema refuse
//! to change or delete an event, but for the guarded way of forgetting for good.

mod animals;
mod append;
mod backup;
mod compare;
mod edit;
mod error;
pub mod export;
mod feed;
mod fold;
mod forget;
mod hold;
mod ids;
pub mod import;
mod journal;
mod open;
mod plan_version;
mod projection;
mod query;
mod row;
mod session;
mod told;
mod verify;

pub use animals::AnimalRow;
pub use append::{Content, Stored};
pub use backup::{Copied, Restored};
pub use edit::{Change, Edit, RepEdit, Target};
pub use error::StoreError;
pub use feed::replay;
pub use fold::{Folded, FoldedRep, Mark, MarkKind};
pub use forget::{Forget, Forgotten, Name};
pub use ids::{AnimalId, EventId, SessionId};
pub use journal::{Entry, JournalFilter, JournalRow, NewEntry, ProbeCue};
pub use open::Store;
pub use plan_version::PlanVersion;
pub use query::{Filter, SessionNote};
pub use row::{MarkRow, RepRow, SessionRow};
pub use session::{AnimalRef, NewSession, OpenSession, Source};
pub use told::Told;
pub use verify::Verdict;

#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
