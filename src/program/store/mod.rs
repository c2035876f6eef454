//! The database: every session as an append-only log of events, on disk before a tag is acknowledged.
//! Never interprets a tag itself, reads no clock and makes no keys: times and keys are arguments, and
//! what follows from the events is found by feeding them through [`crate::session`] again.
//!
//! What is promised: when [`Store::append`] has returned `Ok`, the event is in the write-ahead log and
//! the disk was told to keep it (`synchronous = FULL`). It survives the end of the program at any
//! instant, and loss of power if the disk keeps what it said it kept. What was not acknowledged is
//! there whole or not at all. Corrections are new events ([`Edit`]); triggers in the schema refuse
//! to change or delete an event, but for the guarded way of forgetting for good.
//!
//! # The record
//!
//! One SQLite file and, while it is in use, its write-ahead log beside it. `src/program/store/migrations/` has the tables.
//! The log is `session`, `event`, `journal` and what a session was told (`told`, `told_of`, `past`), which triggers keep from being changed; `rep`, `mark` and
//! `session_summary` follow from it and can be rebuilt at any time (`Store::rebuild`). `stale` names the
//! sessions whose rows are behind; every view brings them up to date first, in memory if it may not write.
//!
//! - **A session is read back by going through it again**, by the plan text stored with it and by what it was told at its
//!   begin (`Outset`, from `src/program/run/outset.rs`; numbers only, no names or dates), in the same engine. Its step is that of
//!   `history::next::work_on`, which `plan next` says too. An earlier session's numbers stand once, for all that were told
//!   of it; who forgets a day takes them out of later sessions, and `verify` then remarks on other nudges.
//! - **One owner a session.** A program takes a session up before it reads anything of it that it goes on with: a lock on
//!   a small file beside the record tells whether somebody is in it, and a number in the record, counted on by whoever
//!   takes it up and looked at in the transaction of every event, refuses whoever was passed over. Nothing but corrections
//!   and notes can stand behind an end: a trigger refuses it. Who is refused tells the trainer, and goes on in a session
//!   of its own, where the tag is acknowledged (`Conductor::begin_anew`). Anybody may read, correct and note at any time.
//! - **A tag and what follows from it are one transaction**, and so are an edit and the look at what it rests on
//!   (`Store::amend`).
//! - **Loss is not difference.** `verify` tells what may be missing (damaged) from what differs although all that was said
//!   is there; for the latter it never sends anybody to a backup. Programs up to 602ce15 could leave tries behind an end:
//!   such sessions end at their last end, so that every view shows them.
//! - **Edits are laid over the result.** They change which reps count; what Hushtally did live stays as it was.
//! - **Acknowledged means**: the transaction is in the log and `fsync` has returned (`synchronous = FULL`). The
//!   disk must keep what it said it kept. Each frame of the log has a checksum over all before it: if the log is
//!   torn, every transaction wholly before the damage is kept, and nothing after it.
//! - **Keys make writing again harmless.** The same event with the same key is accepted once more; so what may
//!   have failed can be tried again.
//! - **A new format** is a new migration. Before it runs, a whole copy is put beside the file; it gets its name only
//!   when it is complete. A program that meets a newer format changes nothing and says so.
//! - **Forgetting** is the one way past the triggers: rows are overwritten (`secure_delete`), the file is
//!   rewritten (`VACUUM`), the log is emptied, and when the record is seen to be whole, the program's own copies beside the
//!   file are removed. Copies that the user made, and blocks that the disk keeps, are out of reach. A name is taken out of
//!   parsed texts one by one (`src/program/store/forget/`), never out of keys, numbers or fixed words, and every session that was
//!   touched is replayed before anything is kept. What an animal is called is not a person's name: that is
//!   refused, or stays with `--keep-animals`.

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
mod mark;
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
pub use fold::{Folded, FoldedRep};
pub use forget::{Forget, Forgotten, Name};
pub use ids::{AnimalId, EventId, SessionId};
pub use journal::{Entry, JournalFilter, JournalRow, NewEntry, ProbeCue};
pub use mark::{Mark, MarkKind};
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
