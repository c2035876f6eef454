//! One test binary; a folder a subject.

mod architecture;
