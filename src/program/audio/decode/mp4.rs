//! Where the sound of an MP4 file begins, by its edit list.
//!
//! AAC encoders put some 20 to 50 ms of their own before the sound, and the edit list says how much to
//! leave out (ISO/IEC 14496-12, "Edit List Box"). Symphonia 0.6 reads the list but does not follow it
//! ("edits are not currently supported" in its demuxer), which would shift every onset.

use std::io::{self, Read, Seek, SeekFrom};

/// Where one track's sound begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Start {
    /// The track's number in the file.
    pub(crate) track: u32,
    /// Seconds to leave out at the start of the track.
    pub(crate) skip_s: f64,
    /// Seconds of silence before it.
    pub(crate) silence_s: f64,
}

/// Boxes looked at before giving up on a file that has too many to be real.
const MOST_BOXES: u32 = 10_000;

/// The starts of all tracks that have an edit list; empty if it is not an MP4 file. Leaves `file` anywhere.
pub(crate) fn starts(file: &mut (impl Read + Seek), file_len: u64) -> io::Result<Vec<Start>> {
    let mut reader = Boxes { file, budget: MOST_BOXES };
    let mut starts = Vec::new();
    let Some(first) = reader.header(0, file_len)? else { return Ok(starts) };
    if &first.kind != b"ftyp" {
        return Ok(starts);
    }
    for film in reader.children(0, file_len)?.iter().filter(|b| &b.kind == b"moov") {
        let parts = reader.children(film.from, film.to)?;
        let film_ticks = match parts.iter().find(|b| &b.kind == b"mvhd") {
            Some(header) => reader.timescale(header)?,
            None => 0,
        };
        for track in parts.iter().filter(|b| &b.kind == b"trak") {
            starts.extend(reader.start_of(track, film_ticks)?);
        }
    }
    Ok(starts)
}

struct Box4 {
    kind: [u8; 4],
    /// First byte of the content.
    from: u64,
    /// First byte after it.
    to: u64,
}

struct Boxes<'f, F> {
    file: &'f mut F,
    budget: u32,
}

impl<F: Read + Seek> Boxes<'_, F> {
    fn header(&mut self, at: u64, end: u64) -> io::Result<Option<Box4>> {
        if at.saturating_add(8) > end || self.budget == 0 {
            return Ok(None);
        }
        self.budget -= 1;
        let size = u64::from(self.u32_at(at)?);
        let kind = self.u32_at(at + 4)?.to_be_bytes();
        let (head, size) = match size {
            0 => (8, end - at),
            1 => (16, self.u64_at(at + 8)?),
            size => (8, size),
        };
        let to = at.saturating_add(size);
        Ok((size >= head && to <= end).then_some(Box4 { kind, from: at + head, to }))
    }

    fn children(&mut self, from: u64, to: u64) -> io::Result<Vec<Box4>> {
        let mut found = Vec::new();
        let mut at = from;
        while let Some(child) = self.header(at, to)? {
            at = child.to;
            found.push(child);
        }
        Ok(found)
    }

    fn child(&mut self, of: &Box4, kind: &[u8; 4]) -> io::Result<Option<Box4>> {
        Ok(self.children(of.from, of.to)?.into_iter().find(|b| &b.kind == kind))
    }

    fn start_of(&mut self, track: &Box4, film_ticks: u32) -> io::Result<Option<Start>> {
        let Some(header) = self.child(track, b"tkhd")? else { return Ok(None) };
        // Creation and change times come first, of 4 bytes each in version 0 and 8 in version 1.
        let number_at = if self.version(&header)? == 1 { 20 } else { 12 };
        let number = self.u32_at(header.from + number_at)?;
        let Some(media) = self.child(track, b"mdia")? else { return Ok(None) };
        let Some(media_header) = self.child(&media, b"mdhd")? else { return Ok(None) };
        let media_ticks = self.timescale(&media_header)?;
        let Some(edits) = self.child(track, b"edts")? else { return Ok(None) };
        let Some(list) = self.child(&edits, b"elst")? else { return Ok(None) };
        if film_ticks == 0 || media_ticks == 0 {
            return Ok(None);
        }
        let wide = self.version(&list)? == 1;
        let entries = self.u32_at(list.from + 4)?;
        let mut silence_s = 0.0;
        // Empty edits come first, and then one that says where the track begins.
        for entry in 0..u64::from(entries).min(16) {
            let (length, begin) = if wide {
                let at = list.from + 8 + entry * 20;
                (self.u64_at(at)?, self.u64_at(at + 8)? as i64)
            } else {
                let at = list.from + 8 + entry * 12;
                (u64::from(self.u32_at(at)?), i64::from(self.u32_at(at + 4)? as i32))
            };
            if begin >= 0 {
                let skip_s = begin as f64 / f64::from(media_ticks);
                return Ok(Some(Start { track: number, skip_s, silence_s }));
            }
            silence_s += length as f64 / f64::from(film_ticks);
        }
        Ok(None)
    }

    fn timescale(&mut self, header: &Box4) -> io::Result<u32> {
        let at = if self.version(header)? == 1 { 20 } else { 12 };
        self.u32_at(header.from + at)
    }

    fn version(&mut self, of: &Box4) -> io::Result<u8> {
        Ok(self.u32_at(of.from)?.to_be_bytes()[0])
    }

    fn u32_at(&mut self, at: u64) -> io::Result<u32> {
        self.file.seek(SeekFrom::Start(at))?;
        let mut bytes = [0; 4];
        self.file.read_exact(&mut bytes)?;
        Ok(u32::from_be_bytes(bytes))
    }

    fn u64_at(&mut self, at: u64) -> io::Result<u64> {
        Ok(u64::from(self.u32_at(at)?) << 32 | u64::from(self.u32_at(at + 4)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::io::Cursor;

    fn boxed(kind: &[u8; 4], content: &[u8]) -> Vec<u8> {
        let mut bytes = (content.len() as u32 + 8).to_be_bytes().to_vec();
        bytes.extend(kind);
        bytes.extend(content);
        bytes
    }

    fn words(words: &[u32]) -> Vec<u8> {
        words.iter().flat_map(|w| w.to_be_bytes()).collect()
    }

    /// A file with one track, number 7, at 44.1 kHz, in a film of 1000 ticks a second.
    fn film(edits: &[u8]) -> Vec<u8> {
        let header = boxed(b"mdhd", &words(&[0, 0, 0, 44_100, 0, 0]));
        let track = [
            boxed(b"tkhd", &words(&[0, 0, 0, 7, 0, 0])),
            boxed(b"edts", &boxed(b"elst", edits)),
            boxed(b"mdia", &header),
        ]
        .concat();
        let inside =
            [boxed(b"mvhd", &words(&[0, 0, 0, 1_000, 0])), boxed(b"trak", &track)].concat();
        [boxed(b"ftyp", b"M4A "), boxed(b"free", b""), boxed(b"moov", &inside)].concat()
    }

    fn starts_of(bytes: &[u8]) -> io::Result<Vec<Start>> {
        starts(&mut Cursor::new(bytes), bytes.len() as u64)
    }

    #[test]
    fn an_encoders_lead_in_is_skipped_and_a_late_start_kept() {
        let plain = film(&words(&[0, 1, 3_000, 2_205, 0x0001_0000]));
        let start = Start { track: 7, skip_s: 0.05, silence_s: 0.0 };
        assert_eq!(starts_of(&plain).unwrap(), [start]);
        let late = film(&words(&[0, 2, 250, u32::MAX, 0x0001_0000, 3_000, 2_205, 0x0001_0000]));
        assert_eq!(starts_of(&late).unwrap(), [Start { silence_s: 0.25, ..start }]);
        let wide = film(&words(&[0x0100_0000, 1, 0, 3_000, 0, 2_205, 0x0001_0000]));
        assert_eq!(starts_of(&wide).unwrap(), [start]);
    }

    #[test]
    fn other_files_have_no_starts() {
        assert_eq!(starts_of(b"RIFF\0\0\0\0WAVE").unwrap(), []);
        assert_eq!(starts_of(b"").unwrap(), []);
    }

    proptest! {
        #[test]
        fn corrupted_boxes_end_the_search(
            changes in proptest::collection::vec((0usize..180, any::<u8>()), 0..8),
            keep in 0usize..200,
        ) {
            let mut bytes = film(&words(&[0, 1, 3_000, 2_205, 0x0001_0000]));
            for (place, value) in changes {
                if let Some(byte) = bytes.get_mut(place) {
                    *byte = value;
                }
            }
            bytes.truncate(keep);
            // No panic and an end; an error of reading is fine.
            let _ = starts_of(&bytes);
        }
    }
}
