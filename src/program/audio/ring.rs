//! The way from the sound system's callback to the hearing thread: lock-free, and it knows exactly
//! where samples are missing.
//!
//! The callback's side ([`Writer`]) copies and counts and does nothing else: no lock, no allocation, no
//! log, no I/O. When the hearing thread is too slow and the ring is full, samples are dropped; a mark
//! of place and number goes through a second small ring, so that every sample after the loss keeps its
//! true time.

use rtrb::{Consumer, Producer, RingBuffer};

/// How many losses can wait to be read. Further samples are dropped until a mark can be set, so that
/// place and number are always right.
const LOSSES: usize = 64;

/// Samples dropped because the ring was full.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Loss {
    /// Samples that went through the ring before the loss.
    after: u64,
    /// Samples dropped.
    samples: u64,
}

/// The callback's side.
pub(crate) struct Writer {
    ring: Producer<f32>,
    losses: Producer<Loss>,
    channels: usize,
    written: u64,
    /// Dropped since the last mark.
    missing: u64,
}

/// The hearing thread's side.
pub(crate) struct Reader {
    ring: Consumer<f32>,
    losses: Consumer<Loss>,
    read: u64,
}

/// What comes next out of the ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Next {
    /// This many samples were added to the buffer; at least one.
    Samples(usize),
    /// This many samples are missing at this place.
    Missing(u64),
    /// Nothing has arrived.
    Nothing,
}

/// A ring for `capacity` mono samples, filled from interleaved sound of `channels` channels (at least
/// one).
pub(crate) fn ring(capacity: usize, channels: usize) -> (Writer, Reader) {
    let (ring_in, ring_out) = RingBuffer::new(capacity);
    let (losses_in, losses_out) = RingBuffer::new(LOSSES);
    let writer = Writer {
        ring: ring_in,
        losses: losses_in,
        channels: channels.max(1),
        written: 0,
        missing: 0,
    };
    (writer, Reader { ring: ring_out, losses: losses_out, read: 0 })
}

impl Writer {
    /// Mixes `interleaved` to mono and puts it in the ring; drops and counts what does not fit.
    pub(crate) fn write<T: Copy>(&mut self, interleaved: &[T], to_f32: impl Fn(T) -> f32) {
        let samples = interleaved.len() / self.channels;
        let mut fits = samples.min(self.ring.slots());
        if self.missing > 0 && fits > 0 {
            let loss = Loss { after: self.written, samples: self.missing };
            match self.losses.push(loss) {
                Ok(()) => self.missing = 0,
                Err(_) => fits = 0,
            }
        }
        let share = 1.0 / self.channels as f32;
        let mono = interleaved
            .chunks_exact(self.channels)
            .map(|frame| frame.iter().map(|s| to_f32(*s)).sum::<f32>() * share);
        let written = match self.ring.write_chunk_uninit(fits) {
            Ok(chunk) => chunk.fill_from_iter(mono),
            Err(_) => 0,
        };
        self.written += written as u64;
        let lost = (samples - written) as u64;
        if lost > 0 {
            self.missing += lost;
        }
    }
}

impl Reader {
    /// Adds what has arrived to `buffer`, up to the next loss.
    pub(crate) fn read(&mut self, buffer: &mut Vec<f32>) -> Next {
        // The order matters: a mark is set before the samples after it, so every mark that stands
        // before one of the samples counted here can be seen now.
        let arrived = self.ring.slots();
        let mut wanted = arrived;
        if let Ok(loss) = self.losses.peek().copied() {
            let before = loss.after - self.read;
            if before == 0 {
                let _read = self.losses.pop();
                return Next::Missing(loss.samples);
            }
            wanted = wanted.min(usize::try_from(before).unwrap_or(usize::MAX));
        }
        match self.ring.read_chunk(wanted) {
            Ok(chunk) if wanted > 0 => {
                let (first, second) = chunk.as_slices();
                buffer.extend_from_slice(first);
                buffer.extend_from_slice(second);
                chunk.commit_all();
                self.read += wanted as u64;
                Next::Samples(wanted)
            }
            _ => Next::Nothing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn channels_are_mixed_to_their_mean() {
        let (mut writer, mut reader) = ring(16, 2);
        writer.write(&[100i16, 300, -50, 50, 7, 9], f32::from);
        let mut heard = Vec::new();
        assert_eq!(reader.read(&mut heard), Next::Samples(3));
        assert_eq!(heard, [200.0, 0.0, 8.0]);
        assert_eq!(reader.read(&mut heard), Next::Nothing);
    }

    #[test]
    fn a_loss_is_told_at_its_place() {
        let (mut writer, mut reader) = ring(4, 1);
        writer.write(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0], |s| s);
        writer.write(&[7.0], |s| s);
        let mut heard = Vec::new();
        assert_eq!(reader.read(&mut heard), Next::Samples(4));
        writer.write(&[8.0, 9.0], |s| s);
        assert_eq!(reader.read(&mut heard), Next::Missing(3));
        assert_eq!(reader.read(&mut heard), Next::Samples(2));
        assert_eq!(heard, [1.0, 2.0, 3.0, 4.0, 8.0, 9.0]);
    }

    #[test]
    fn two_threads_lose_nothing_unseen() {
        let (mut writer, mut reader) = ring(512, 1);
        let total = 200_000u32;
        let filler = std::thread::spawn(move || {
            for block in (0..total).collect::<Vec<_>>().chunks(100) {
                writer.write(block, |s| s as f32);
                if block[0] % 1_000 == 0 {
                    std::thread::yield_now();
                }
            }
            // The mark of a loss is set with the next samples that fit.
            while writer.missing > 0 {
                writer.write(&[0], |s| s as f32);
                std::thread::yield_now();
            }
        });
        let (mut next, mut buffer) = (0u64, Vec::new());
        while next < u64::from(total) {
            buffer.clear();
            match reader.read(&mut buffer) {
                Next::Samples(_) => {
                    for sample in &buffer {
                        if next < u64::from(total) {
                            assert_eq!(*sample, next as f32, "the place of every sample is known");
                        }
                        next += 1;
                    }
                }
                Next::Missing(samples) => next += samples,
                Next::Nothing => std::thread::yield_now(),
            }
        }
        filler.join().unwrap();
    }

    proptest! {
        #[test]
        fn every_sample_is_read_or_counted_at_its_place(
            steps in proptest::collection::vec((0usize..40, any::<bool>()), 1..400),
        ) {
            let (mut writer, mut reader) = ring(32, 1);
            let (mut sent, mut seen) = (0u32, 0u64);
            let mut buffer = Vec::new();
            for (length, read) in steps {
                let block: Vec<u32> = (sent..sent + length as u32).collect();
                writer.write(&block, |s| s as f32);
                sent += length as u32;
                if read {
                    buffer.clear();
                    match reader.read(&mut buffer) {
                        Next::Samples(n) => {
                            prop_assert_eq!(n, buffer.len());
                            for sample in &buffer {
                                prop_assert_eq!(*sample, seen as f32);
                                seen += 1;
                            }
                        }
                        Next::Missing(samples) => seen += samples,
                        Next::Nothing => {}
                    }
                }
            }
            prop_assert!(seen <= u64::from(sent));
        }
    }
}
