//! The second stage of the ears: segments go in, readings come out. Where speech stands little over the room's noise,
//! one reading is often wrong, and several seldom in the same way: so it is read again with less noise.

use std::cell::OnceCell;
use std::sync::Arc;

use super::judge::{Evidence, Readings};
use crate::hear::denoise::denoised;
use crate::hear::level::STEP;
use crate::hear::personal::{Features, Match, Matcher, of_segment};
use crate::hear::reader::Reader;
use crate::hear::recent::RecentSound;
use crate::hear::recogniser::{Alternative, Recognise};
use crate::hear::segmenter::{LEAD, Segment};
use crate::hear::verdict::together;
use crate::hear::wiener::Wiener;

/// Of speech whose loudest part is less than this over the noise, in dB, denoised variants are read too. What they gain
/// stands in tests/bench.d/RESULTS.md.
const NOISY_DB: f32 = 32.0;
/// The room's noise before a segment, from which a filter learns: a second, and at least a quarter.
const LONGEST_ROOM: usize = 100;
const SHORTEST_ROOM: usize = 25;

/// Whether a segment stands so little over the noise that one reading is not enough.
pub(super) fn is_in_noise(segment: &Segment) -> bool {
    segment.height_db < NOISY_DB
}

/// One recogniser for each question that is asked about a segment.
#[derive(Clone)]
pub(super) struct Recognisers {
    /// Which of the tags is it?
    pub(super) tags: Arc<dyn Recognise>,
    /// Is it a tag, among ordinary words?
    pub(super) open: Arc<dyn Recognise>,
    /// Which command is it, among ordinary words?
    pub(super) commands: Arc<dyn Recognise>,
}

/// Reads segments.
pub(super) struct Readers {
    tags: Reader,
    open: Reader,
    commands: Reader,
    /// The room's noise before the latest segment that had enough of it before it.
    room: Vec<i16>,
    wiener: Wiener,
}

impl Readers {
    pub(super) fn new(recognisers: Recognisers) -> Self {
        Readers {
            tags: Reader::new(recognisers.tags),
            open: Reader::new(recognisers.open),
            commands: Reader::new(recognisers.commands),
            room: Vec::new(),
            wiener: Wiener::new(),
        }
    }

    /// Reads ahead in a segment that may be over.
    pub(super) fn ahead(&mut self, sound: &RecentSound, from: u64, to: u64) {
        self.open.ahead(sound, from, to);
        self.tags.ahead(sound, from, to);
    }

    /// Gives up the segment that is being read.
    pub(super) fn give_up(&mut self) {
        self.tags.give_up();
        self.open.give_up();
    }

    /// Keeps the room's noise before a segment, if there is enough of it: quiet, or what the segment rose from.
    pub(super) fn learn_room(&mut self, sound: &RecentSound, segment: &Segment) {
        // The segment is read from a little before it.
        let quiet = segment.quiet_before.saturating_sub(LEAD).min(LONGEST_ROOM);
        let room = if segment.rose { LONGEST_ROOM } else { quiet };
        let to = segment.read_from;
        let (_, before) = sound.between(to.saturating_sub((room * STEP) as u64), to);
        if before.len() >= SHORTEST_ROOM * STEP {
            self.room = before;
        }
    }

    /// Answers about a segment.
    pub(super) fn about<'a>(
        &'a mut self,
        sound: &'a RecentSound,
        segment: &'a Segment,
    ) -> Asked<'a> {
        Asked { readers: self, sound, segment, variants: OnceCell::new() }
    }

    /// The denoised variants of the segment, two of them; none where it stands well over the noise.
    fn variants(&self, sound: &RecentSound, segment: &Segment) -> Vec<Vec<i16>> {
        if !is_in_noise(segment) || self.room.is_empty() {
            return Vec::new();
        }
        let (_, speech) = sound.between(segment.read_from, segment.read_to);
        let whole: Vec<i16> = self.room.iter().chain(&speech).copied().collect();
        vec![self.wiener.filter(&self.room, &speech), denoised(&whole)[self.room.len()..].to_vec()]
    }
}

/// The readers, asked about one segment.
pub(super) struct Asked<'a> {
    readers: &'a mut Readers,
    sound: &'a RecentSound,
    segment: &'a Segment,
    /// The segment with less of its noise, made when it is needed.
    variants: OnceCell<Vec<Vec<i16>>>,
}

impl Evidence for Asked<'_> {
    fn open(&mut self) -> Option<Vec<Alternative>> {
        self.readers.open.finish(self.sound, self.segment.read_from, self.segment.read_to)
    }

    fn tags(&mut self) -> Option<Vec<Alternative>> {
        self.readers.tags.finish(self.sound, self.segment.read_from, self.segment.read_to)
    }

    fn denoised(&mut self, read: Readings) -> Readings {
        let make = || self.readers.variants(self.sound, self.segment);
        let variants = self.variants.get_or_init(make);
        Readings {
            open: with_variants(read.open, &mut self.readers.open, variants),
            tags: with_variants(read.tags, &mut self.readers.tags, variants),
        }
    }

    fn commands(&mut self) -> Vec<Alternative> {
        let (from, to) = (self.segment.read_from, self.segment.read_to);
        let read = self.readers.commands.finish(self.sound, from, to).unwrap_or_default();
        let make = || self.readers.variants(self.sound, self.segment);
        let variants = self.variants.get_or_init(make);
        with_variants(read, &mut self.readers.commands, variants)
    }

    fn learnt(&mut self, learnt: &Matcher) -> Option<Match> {
        if learnt.is_empty() {
            return None;
        }
        let (samples, room) = of_segment(self.sound, self.segment);
        learnt.read(&Features::of(&samples, &room))
    }
}

/// What a segment is by the first reading and by those of its variants.
fn with_variants(
    once: Vec<Alternative>,
    reader: &mut Reader,
    variants: &[Vec<i16>],
) -> Vec<Alternative> {
    let again = variants.iter().filter_map(|samples| reader.whole(samples));
    together(std::iter::once(once).chain(again).collect())
}

#[cfg(test)]
mod tests;
