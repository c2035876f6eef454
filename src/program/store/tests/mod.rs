//! Tests of the store.

mod copies;
mod exchange;
mod fold;
mod forget;
mod journal;
mod log;
mod open;
mod owner;
mod round_trip;
mod told;
mod verify;
