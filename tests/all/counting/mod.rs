//! One language for counting: tries, of them rewarded and missed, the same on every surface.

mod surfaces;
mod tries_not_reps;
