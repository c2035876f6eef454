//! Tests of the store.

mod fold;
mod log;
mod open;
