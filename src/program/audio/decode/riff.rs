//! WAV headers whose lengths are wrong, set right while reading.
//!
//! Programs that write a WAV file to a pipe cannot know its length and leave 0, a huge number or all
//! bits set; so does a recorder that was cut off. Symphonia reads WAV in blocks of up to 1152 samples
//! and gives up on the last, shorter block when the header promises more, so up to 72 ms at 16 kHz
//! would be lost: a short word. Here the header gets the length that the file really has.

use std::io::{self, Read, Seek, SeekFrom};

/// What the header says and what the file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WavLengths {
    /// Offset of the first byte of sound.
    pub(crate) data_at: u64,
    /// Bytes of sound by the header.
    pub(crate) promised: u32,
    /// Bytes from `data_at` to the end of the file.
    pub(crate) present: u64,
    /// Bytes a second by the header; 0 if it gives none.
    pub(crate) bytes_a_second: u32,
}

impl WavLengths {
    /// True if the header's lengths must be replaced.
    pub(crate) fn are_wrong(&self) -> bool {
        self.promised == 0 && self.present > 0 || u64::from(self.promised) > self.present
    }

    /// Seconds that the header promises beyond the end of the file. A length that only says "not
    /// known when this was written" promises nothing.
    pub(crate) fn seconds_missing(&self) -> f64 {
        // Writers to pipes use 0xFFFFFFFF, 0x7FFFFFFF or those less some header: no recording of one
        // of these sizes is meant.
        let unknown = self.promised >= 0x7FFF_0000;
        let missing = u64::from(self.promised).saturating_sub(self.present);
        if unknown || self.bytes_a_second == 0 {
            return 0.0;
        }
        missing as f64 / f64::from(self.bytes_a_second)
    }
}

/// Finds the `data` chunk of a WAV file of `file_len` bytes; `None` if it is not a WAV file or has none.
/// Leaves `file` anywhere.
pub(crate) fn look_at(
    file: &mut (impl Read + Seek),
    file_len: u64,
) -> io::Result<Option<WavLengths>> {
    file.seek(SeekFrom::Start(0))?;
    let mut head = [0; 12];
    if read_up_to(file, &mut head)? < 12 || &head[..4] != b"RIFF" || &head[8..] != b"WAVE" {
        return Ok(None);
    }
    let mut at = 12;
    let mut bytes_a_second = 0;
    // A real header has a handful of chunks; a hostile one may not keep us here.
    for _ in 0..1_000 {
        file.seek(SeekFrom::Start(at))?;
        let mut chunk = [0; 8];
        if read_up_to(file, &mut chunk)? < 8 {
            return Ok(None);
        }
        let length = u32::from_le_bytes([chunk[4], chunk[5], chunk[6], chunk[7]]);
        match &chunk[..4] {
            b"data" => {
                let data_at = at + 8;
                let present = file_len.saturating_sub(data_at);
                return Ok(Some(WavLengths { data_at, promised: length, present, bytes_a_second }));
            }
            b"fmt " => {
                let mut format = [0; 12];
                if read_up_to(file, &mut format)? == 12 {
                    bytes_a_second =
                        u32::from_le_bytes([format[8], format[9], format[10], format[11]]);
                }
            }
            _ => {}
        }
        // Chunks begin at even offsets.
        at += 8 + u64::from(length) + u64::from(length % 2);
    }
    Ok(None)
}

/// A WAV file seen with a header that tells the truth.
pub(crate) struct Mended<F> {
    file: F,
    position: u64,
    /// Offset and the bytes to show there.
    patches: [(u64, [u8; 4]); 2],
}

impl<F: Read + Seek> Mended<F> {
    /// Shows `file` with the lengths of `lengths` set right.
    pub(crate) fn new(mut file: F, lengths: &WavLengths) -> io::Result<Self> {
        file.seek(SeekFrom::Start(0))?;
        // All bits set: "as long as it is" to the reader, for files over 4 GB.
        let data = u32::try_from(lengths.present).unwrap_or(u32::MAX);
        let riff = u32::try_from(lengths.data_at - 8 + lengths.present).unwrap_or(u32::MAX);
        let patches = [(4, riff.to_le_bytes()), (lengths.data_at - 4, data.to_le_bytes())];
        Ok(Mended { file, position: 0, patches })
    }
}

impl<F: Read> Read for Mended<F> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        for (offset, bytes) in self.patches {
            for (place, byte) in (offset..).zip(bytes) {
                let within = place.checked_sub(self.position).map(|i| i as usize);
                if let Some(target) = within.and_then(|i| buffer[..read].get_mut(i)) {
                    *target = byte;
                }
            }
        }
        self.position += read as u64;
        Ok(read)
    }
}

impl<F: Seek> Seek for Mended<F> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.position = self.file.seek(to)?;
        Ok(self.position)
    }
}

fn read_up_to(file: &mut impl Read, buffer: &mut [u8]) -> io::Result<usize> {
    let mut have = 0;
    while have < buffer.len() {
        match file.read(&mut buffer[have..])? {
            0 => break,
            n => have += n,
        }
    }
    Ok(have)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn wav(promised: u32, present: usize) -> Vec<u8> {
        let mut bytes =
            b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x80\x3e\0\0\0\x7d\0\0\x02\0\x10\0"
                .to_vec();
        bytes.extend(b"LIST\x03\0\0\0abc\0data");
        bytes.extend(promised.to_le_bytes());
        bytes.extend((0..present).map(|i| i as u8));
        bytes
    }

    fn look(bytes: &[u8]) -> WavLengths {
        look_at(&mut Cursor::new(bytes), bytes.len() as u64).unwrap().expect("a WAV file")
    }

    #[test]
    fn a_true_header_stays() {
        let lengths = look(&wav(100, 100));
        assert_eq!((lengths.promised, lengths.present, lengths.bytes_a_second), (100, 100, 32_000));
        assert!(!lengths.are_wrong());
    }

    #[test]
    fn a_cut_file_misses_what_it_promised() {
        let lengths = look(&wav(64_000, 32_000));
        assert!(lengths.are_wrong());
        assert_eq!(lengths.seconds_missing(), 1.0);
    }

    #[test]
    fn lengths_of_pipe_writers_promise_nothing() {
        for promised in [0, u32::MAX, 0x7FFF_FFFF, 0x7FFF_F000, u32::MAX - 36] {
            let lengths = look(&wav(promised, 10));
            assert!(lengths.are_wrong());
            assert_eq!(lengths.seconds_missing(), 0.0);
        }
    }

    #[test]
    fn the_mended_file_shows_true_lengths_however_it_is_read() {
        let bytes = wav(0, 50);
        let lengths = look(&bytes);
        for step in [1, 3, 7, 64, 4096] {
            let mut mended = Mended::new(Cursor::new(bytes.clone()), &lengths).unwrap();
            let mut shown = Vec::new();
            let mut buffer = vec![0; step];
            loop {
                let n = mended.read(&mut buffer).unwrap();
                if n == 0 {
                    break;
                }
                shown.extend_from_slice(&buffer[..n]);
            }
            let again = look(&shown);
            assert_eq!((again.promised, again.present), (50, 50));
            assert_eq!(shown.len(), bytes.len());
            assert_eq!(
                u32::from_le_bytes(shown[4..8].try_into().unwrap()) as usize,
                bytes.len() - 8
            );
        }
    }
}
