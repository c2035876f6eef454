//! The session engine. Pure: time-stamped tags and the passing of time in; reps, nudges and answers out.
//! No device, clock, file, thread or random source; the same tags give the same output, live, from a
//! recording or from the stored log, however often time is reported in between.
//!
//! ```
//! use hushtally_core::at::At;
//! use hushtally_core::interpret::{Details, Said};
//! use hushtally_core::plan::Plan;
//! use hushtally_core::session::{Input, Session};
//! let mut session = Session::new(Plan::of_default_words());
//! session.handle(At::from_secs_f64(2.0), Input::said(Said::Rep(Details::default()), "yes"));
//! session.handle(At::from_secs_f64(7.5), Input::said(Said::Miss(Details::default()), "miss"));
//! assert_eq!((session.reps().len(), session.rewarded()), (2, 1));
//! session.handle(At::from_secs_f64(9.0), Input::said(Said::TakeBack, "cancel"));
//! assert_eq!(session.reps().len(), 1);
//! ```

mod answer;
mod at_step;
mod deadlines;
#[cfg(test)]
mod details;
pub mod detect;
mod elsewhere;
mod engine;
mod event;
mod family;
mod hands;
mod nudging;
#[cfg(test)]
mod play_break;
mod prior;
#[cfg(test)]
mod properties;
mod recent;
mod rep;
mod suggest;
mod tags;
mod tally;
mod tries;
mod undo;
mod watch;

pub use crate::reason::{Quantity, Reason};
pub use answer::{Answer, Named, Summary, Took, TookTry};
pub use elsewhere::{Elsewhere, Hands};
pub use engine::Session;
pub use event::{Derived, Event, Input, Logged, NudgeKind, Output, WhyEnded};
pub use family::NudgeFamily;
pub use hands::{Hand, TookOver, hands};
pub use nudging::HeldBack;
pub use prior::{Allowed, PastSession, PastStep, Prior};
pub use rep::{MissedBecause, Outcome, Rep};
pub use suggest::{Suggestion, Suggests};

pub use tally::Tally;
pub use tries::Tries;
