//! A file without line ends, or with a quote that never closes, must not fill the memory.

use std::cell::Cell;
use std::io::{self, Read};
use std::rc::Rc;

/// Bytes of one record, what was read ahead included.
pub(super) const LONGEST: usize = 4 << 20;

/// Lets through this many bytes between two records.
pub(super) struct Limited<'a> {
    file: &'a mut dyn Read,
    since: Rc<Cell<usize>>,
}

/// Told when a record begins.
pub(super) struct Limit(Rc<Cell<usize>>);

impl<'a> Limited<'a> {
    pub(super) fn new(file: &'a mut dyn Read) -> (Self, Limit) {
        let since = Rc::new(Cell::new(0));
        (Limited { file, since: since.clone() }, Limit(since))
    }
}

impl Limit {
    pub(super) fn next_record(&self) {
        self.0.set(0);
    }
}

impl Read for Limited<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.since.get() > LONGEST {
            return Err(io::Error::other("a line is longer than 4 MB; is a quote left open?"));
        }
        let read = self.file.read(into)?;
        self.since.set(self.since.get() + read);
        Ok(read)
    }
}
