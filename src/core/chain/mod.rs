//! Chains: what was said of a try becomes how each of its links went, and what is known of the links becomes which of them
//! to work on. Pure: values in, values out.
//!
//! A try is scored with few words. The marker alone says that every link that is trained was done by itself; a number after
//! it says that this link needed help; after a miss it says where the chain broke ([`LinkScores::of`]). The usual figure of
//! a data sheet, the percent of links done by themselves, follows ([`LinkScores::independent`]). When the next link joins is
//! decided where everything of a step is decided ([`crate::decide`]), since a step of a chain is so many links trained.
//!
//! ```
//! use hushtally_core::chain::LinkScores;
//! use hushtally_core::interpret::LinkMarks;
//! use hushtally_core::plan::Plan;
//! let plan = Plan::parse("p.toml", r#"
//!     animal = "Pepino"
//!     species = "cockatiel"
//!     behaviour = "brings the ring"
//!     training = "whole"
//!     links = [{ name = "picks up" }, { name = "carries" }, { name = "drops" }]
//! "#).unwrap();
//! let chain = plan.chain.as_ref().unwrap();
//! let scores = LinkScores::of(chain, 1, LinkMarks::link(2, None), false);
//! assert_eq!(scores.to_string(), "independent prompted independent");
//! assert_eq!(scores.independent(), (2, 3));
//! ```

mod scores;
#[cfg(test)]
mod tests;

pub use scores::{LinkLine, LinkScore, LinkScores, NoScore};
