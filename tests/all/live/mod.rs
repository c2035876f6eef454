//! The whole program, live in a virtual room.

mod crash;
mod ear;
mod listener;
mod session;
mod stalls;
mod two_programs;
