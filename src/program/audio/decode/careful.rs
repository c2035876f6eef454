//! Calls into the decoding library that survive its panics: a hostile file may not end a session.

use std::panic::{AssertUnwindSafe, catch_unwind};

use symphonia::core::errors::{Error, Result};

/// Runs `call`; a panic in it becomes an error. (The library checks most of what it reads, but a WAV
/// header with a rate of four thousand million makes its arithmetic overflow, for one.)
pub(crate) fn carefully<T>(call: impl FnOnce() -> Result<T>) -> Result<T> {
    // The callers drop or stop using whatever the panic left half done.
    catch_unwind(AssertUnwindSafe(call))
        .unwrap_or(Err(Error::Unsupported("values that no real recording has")))
}
