//! Reference libraries over random inputs.
