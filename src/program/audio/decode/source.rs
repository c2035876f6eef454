//! A file as symphonia wants it, counting how far it has been read.

use std::io::{self, Read, Seek, SeekFrom};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use symphonia::core::io::MediaSource;

/// A readable, seekable source that notes the furthest byte read.
pub(crate) struct Counted<F> {
    inner: F,
    length: u64,
    position: u64,
    read_to: Arc<AtomicU64>,
}

impl<F> Counted<F> {
    /// Wraps `inner` of `length` bytes, at its start. The second value follows the reading.
    pub(crate) fn new(inner: F, length: u64) -> (Self, Arc<AtomicU64>) {
        let read_to = Arc::new(AtomicU64::new(0));
        (Counted { inner, length, position: 0, read_to: Arc::clone(&read_to) }, read_to)
    }
}

impl<F: Read> Read for Counted<F> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        self.position += read as u64;
        self.read_to.store(self.position, Ordering::Relaxed);
        Ok(read)
    }
}

impl<F: Seek> Seek for Counted<F> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.position = self.inner.seek(to)?;
        Ok(self.position)
    }
}

impl<F: Read + Seek + Send + Sync> MediaSource for Counted<F> {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}
