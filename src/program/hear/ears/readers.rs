//! The second stage of the ears: segments go in, readings come out. Where speech stands little over the room's noise,
//! one reading is often wrong, and several seldom in the same way: so it is read again with less noise, and where there is a
//! model that knows noise, by that one.

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
    pub(super) of_tags: TagRecognisers,
    /// The same by a model that knows noise, where there is one.
    pub(super) in_noise: Option<TagRecognisers>,
    /// Which command is it, among ordinary words?
    pub(super) commands: Arc<dyn Recognise>,
}

/// One for each question about tags.
#[derive(Clone)]
pub(super) struct TagRecognisers {
    /// Which of the tags is it?
    pub(super) tags: Arc<dyn Recognise>,
    /// Is it a tag, among ordinary words?
    pub(super) open: Arc<dyn Recognise>,
}

/// Reads segments with tags alone, and among ordinary words.
struct TagReaders {
    tags: Reader,
    open: Reader,
}

impl TagReaders {
    fn new(recognisers: TagRecognisers) -> Self {
        TagReaders { tags: Reader::new(recognisers.tags), open: Reader::new(recognisers.open) }
    }

    /// What a segment is by what it was `read` as so far and by readings of its variants.
    fn again(&mut self, read: Readings, variants: &[Vec<i16>]) -> Readings {
        Readings {
            open: with_variants(read.open, &mut self.open, variants),
            tags: with_variants(read.tags, &mut self.tags, variants),
        }
    }
}

/// Reads segments.
pub(super) struct Readers {
    of_tags: TagReaders,
    in_noise: Option<TagReaders>,
    commands: Reader,
    /// The room's noise before the latest segment that had enough of it before it.
    room: Vec<i16>,
    wiener: Wiener,
}

impl Readers {
    pub(super) fn new(recognisers: Recognisers) -> Self {
        Readers {
            of_tags: TagReaders::new(recognisers.of_tags),
            in_noise: recognisers.in_noise.map(TagReaders::new),
            commands: Reader::new(recognisers.commands),
            room: Vec::new(),
            wiener: Wiener::new(),
        }
    }

    /// Reads ahead in a segment that may be over.
    pub(super) fn ahead(&mut self, sound: &RecentSound, from: u64, to: u64) {
        self.of_tags.open.ahead(sound, from, to);
        self.of_tags.tags.ahead(sound, from, to);
    }

    /// Gives up the segment that is being read.
    pub(super) fn give_up(&mut self) {
        self.of_tags.tags.give_up();
        self.of_tags.open.give_up();
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
        vec![self.filtered(&speech), denoised(&whole)[self.room.len()..].to_vec()]
    }

    fn filtered(&self, speech: &[i16]) -> Vec<i16> {
        self.wiener.filter(&self.room, speech)
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

impl Asked<'_> {
    /// Once more by the model that knows noise: the segment as it is, and with less of its noise where the room is known.
    fn by_both(&mut self, read: Readings) -> Readings {
        let (_, speech) = self.sound.between(self.segment.read_from, self.segment.read_to);
        let filtered = (!self.readers.room.is_empty()).then(|| self.readers.filtered(&speech));
        let looks: Vec<Vec<i16>> = std::iter::once(speech).chain(filtered).collect();
        match &mut self.readers.in_noise {
            Some(in_noise) => in_noise.again(read, &looks),
            None => read,
        }
    }
}

impl Evidence for Asked<'_> {
    fn open(&mut self) -> Option<Vec<Alternative>> {
        self.readers.of_tags.open.finish(self.sound, self.segment.read_from, self.segment.read_to)
    }

    fn tags(&mut self) -> Option<Vec<Alternative>> {
        self.readers.of_tags.tags.finish(self.sound, self.segment.read_from, self.segment.read_to)
    }

    fn denoised(&mut self, read: Readings) -> Readings {
        if !is_in_noise(self.segment) {
            return read;
        }
        if self.readers.in_noise.is_some() {
            return self.by_both(read);
        }
        let make = || self.readers.variants(self.sound, self.segment);
        let variants = self.variants.get_or_init(make);
        self.readers.of_tags.again(read, variants)
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
