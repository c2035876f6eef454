//! A sound file to mono samples at its own rate, block by block, in bounded memory.
//!
//! Time is kept: a piece that cannot be decoded becomes silence of the same length, so that whatever
//! comes after it still has its true onset.

mod careful;
mod error;
mod gaps;
mod mp4;
mod riff;
mod source;

use std::io::{Cursor, ErrorKind, Read, Seek};
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as Symphonia;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

use crate::given;
use careful::carefully;
pub use error::{Damage, DecodeError};
use gaps::Gaps;
use riff::Mended;
use source::Counted;

const MAX_CHANNELS: usize = 64;
const MIN_RATE: u32 = 1_000;
const MAX_RATE: u32 = 768_000;
/// The longest silence put in place of one broken piece, in seconds. Real pieces last well under one.
const MAX_PATCH_S: f64 = 5.0;
/// The latest start of sound in a film that we follow, in seconds.
const MAX_LATE_S: f64 = 600.0;
/// The longest lead-in of an encoder that we leave out, in seconds. Usual are 0.02 to 0.05.
const MAX_SKIP_S: f64 = 1.0;
static SILENCE: [f32; 4_096] = [0.0; 4_096];

/// An open sound file.
pub struct SoundFile {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    rate: NonZeroU32,
    /// Frames that the header promises, if it does.
    promised: Option<u64>,
    given: u64,
    /// Samples still to leave out: an encoder's lead-in.
    skip: usize,
    /// Samples of silence still to give: the sound of a film that begins late, or has a hole.
    silence: usize,
    /// Holes in the sound; only films have them.
    gaps: Option<Gaps>,
    length: u64,
    read_to: Arc<AtomicU64>,
    interleaved: Vec<f32>,
    mono: Vec<f32>,
    /// The first block is decoded when the file is opened, and waits in `mono`.
    waiting: bool,
    damage: Damage,
    done: bool,
}

impl SoundFile {
    /// Opens the file and decodes its first block, so that a file that cannot be read says so now.
    ///
    /// # Errors
    /// Any [`DecodeError`] but [`DecodeError::Damaged`].
    pub fn open(path: &Path) -> Result<Self, DecodeError> {
        let unreadable = |source| DecodeError::Unreadable { path: path.to_owned(), source };
        let file = given::open(path).map_err(|error| match error.kind() {
            ErrorKind::IsADirectory | ErrorKind::InvalidInput => {
                DecodeError::NotAFile { path: path.to_owned() }
            }
            _ => unreadable(error),
        })?;
        let length = file.metadata().map_err(unreadable)?.len();
        if length == 0 {
            return Err(DecodeError::Empty { path: path.to_owned() });
        }
        Self::open_source(path, file, length)
    }

    /// The same for a whole file that is in memory already; `name` stands for its path in messages.
    ///
    /// # Errors
    /// As [`SoundFile::open`].
    pub fn from_bytes(name: &Path, bytes: Vec<u8>) -> Result<Self, DecodeError> {
        if bytes.is_empty() {
            return Err(DecodeError::Empty { path: name.to_owned() });
        }
        let length = bytes.len() as u64;
        Self::open_source(name, Cursor::new(bytes), length)
    }

    fn open_source<F>(path: &Path, mut file: F, length: u64) -> Result<Self, DecodeError>
    where
        F: Read + Seek + Send + Sync + 'static,
    {
        let unreadable = |source| DecodeError::Unreadable { path: path.to_owned(), source };
        let wav = riff::look_at(&mut file, length).map_err(unreadable)?;
        // A box that cannot be read has no start; the decoder will say what is wrong with it.
        let starts = mp4::starts(&mut file, length).unwrap_or_default();
        let mut opened = match wav {
            Some(wav) if wav.are_wrong() => {
                let mended = Mended::new(file, &wav).map_err(unreadable)?;
                let mut opened = Self::read_from(path, mended, length)?;
                opened.damage.seconds_missing = wav.seconds_missing();
                opened
            }
            _ => {
                file.rewind().map_err(unreadable)?;
                Self::read_from(path, file, length)?
            }
        };
        opened.decode_first(&starts)?;
        Ok(opened)
    }

    fn read_from<F>(path: &Path, file: F, length: u64) -> Result<Self, DecodeError>
    where
        F: Read + Seek + Send + Sync + 'static,
    {
        let (counted, read_to) = Counted::new(file, length);
        let stream = MediaSourceStream::new(Box::new(counted), Default::default());
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(extension);
        }
        let probe = symphonia::default::get_probe();
        let (format_options, tag_options) = (FormatOptions::default(), MetadataOptions::default());
        let format = carefully(|| probe.probe(&hint, stream, format_options, tag_options))
            .map_err(|e| DecodeError::NotSound { path: path.to_owned(), reason: e.to_string() })?;
        let no_track = || DecodeError::NoSoundTrack { path: path.to_owned() };
        let track = format.default_track(TrackType::Audio).ok_or_else(no_track)?;
        let promised = track.num_frames.filter(|&frames| frames > 0);
        let (id, decoder) = (track.id, decoder_for(path, track)?);
        let gaps = (format.format_info().short_name == "isomp4").then(Gaps::default);
        Ok(SoundFile {
            path: path.to_owned(),
            format,
            decoder,
            track: id,
            rate: NonZeroU32::MIN,
            promised,
            given: 0,
            skip: 0,
            silence: 0,
            gaps,
            length,
            read_to,
            interleaved: Vec::new(),
            mono: Vec::new(),
            waiting: false,
            damage: Damage::default(),
            done: false,
        })
    }

    /// Samples a second.
    pub fn rate(&self) -> NonZeroU32 {
        self.rate
    }

    /// Share of the file that has been read, 0 to 1. Counted in bytes, since those cannot be wrong.
    pub fn progress(&self) -> f64 {
        if self.done {
            return 1.0;
        }
        (self.read_to.load(Ordering::Relaxed) as f64 / self.length as f64).min(1.0)
    }

    /// The next samples, each within [-1, 1]; `None` after the last.
    ///
    /// # Errors
    /// [`DecodeError::Damaged`], once, after the last sample of a file that was not whole.
    pub fn next_block(&mut self) -> Result<Option<&[f32]>, DecodeError> {
        if self.silence == 0 && !self.waiting {
            if self.done || !self.decode_block()? {
                self.done = true;
                return self.close();
            }
            self.leave_out_lead_in();
            self.waiting = true;
        }
        if self.silence > 0 {
            let block = self.silence.min(SILENCE.len());
            self.silence -= block;
            return Ok(Some(&SILENCE[..block]));
        }
        self.waiting = false;
        self.given += self.mono.len() as u64;
        Ok(Some(&self.mono))
    }

    fn leave_out_lead_in(&mut self) {
        let skipped = self.skip.min(self.mono.len());
        self.mono.drain(..skipped);
        self.skip -= skipped;
    }

    fn close(&mut self) -> Result<Option<&[f32]>, DecodeError> {
        if let Some(promised) = self.promised.take() {
            let missing = promised.saturating_sub(self.given) as f64 / f64::from(self.rate.get());
            // Encoders' own padding is not counted alike everywhere; a tenth of a second is not damage.
            if missing > 0.1 && self.damage.seconds_missing == 0.0 {
                self.damage.seconds_missing = missing;
            }
        }
        let damage = std::mem::take(&mut self.damage);
        if damage.is_none() {
            return Ok(None);
        }
        Err(DecodeError::Damaged { path: self.path.clone(), damage })
    }

    /// Decodes until there is sound, which also shows the true rate (a header may give another).
    fn decode_first(&mut self, starts: &[mp4::Start]) -> Result<(), DecodeError> {
        if let Some(parameters) =
            self.format.tracks().iter().find(|t| t.id == self.track).and_then(audio_parameters)
        {
            let rate = parameters.sample_rate.unwrap_or(MIN_RATE);
            let channels = parameters.channels.as_ref().map_or(1, |c| c.count());
            self.check_shape(rate, channels)?;
        }
        let found = self.decode_block()?;
        if !found {
            let reason = match &self.damage.stopped {
                Some(why) => why.clone(),
                None if self.damage.packets_skipped > 0 => {
                    format!("{} pieces, none can be decoded", self.damage.packets_skipped)
                }
                None => "the file ends there".to_owned(),
            };
            return Err(DecodeError::NoSamples { path: self.path.clone(), reason });
        }
        if let Some(start) = starts.iter().find(|s| s.track == self.track) {
            let hz = f64::from(self.rate.get());
            self.skip = (start.skip_s.min(MAX_SKIP_S) * hz).round() as usize;
            self.silence = (start.silence_s.min(MAX_LATE_S) * hz).round() as usize;
            self.leave_out_lead_in();
        }
        self.waiting = true;
        Ok(())
    }

    /// Fills `mono`; false at the end.
    fn decode_block(&mut self) -> Result<bool, DecodeError> {
        loop {
            let packet = match carefully(|| self.format.next_packet()) {
                Ok(Some(packet)) => packet,
                Ok(None) => return Ok(false),
                Err(Symphonia::ResetRequired) => {
                    if !self.start_next_part()? {
                        return Ok(false);
                    }
                    continue;
                }
                // The reader met the end of the file inside a piece; `close` reports what is missing.
                Err(Symphonia::IoError(e)) if e.kind() == std::io::ErrorKind::UnexpectedEof => {
                    return Ok(false);
                }
                Err(e) => {
                    self.damage.stopped = Some(e.to_string());
                    return Ok(false);
                }
            };
            if packet.track_id != self.track {
                continue;
            }
            match carefully(|| self.decoder.decode(&packet)) {
                Ok(sound) => {
                    let (rate, channels) = (sound.spec().rate(), sound.spec().channels().count());
                    sound.copy_to_vec_interleaved(&mut self.interleaved);
                    self.check_shape(rate, channels)?;
                    self.mix(channels);
                    self.fill_gap(packet.pts.get());
                    if !self.mono.is_empty() {
                        return Ok(true);
                    }
                }
                Err(Symphonia::DecodeError(_) | Symphonia::IoError(_)) => {
                    self.damage.packets_skipped += 1;
                    self.silence_for(packet.dur.get());
                    self.fill_gap(packet.pts.get());
                    // Before the first sound the rate is not known, and there is nothing to shift.
                    if !self.mono.is_empty() && self.given > 0 {
                        return Ok(true);
                    }
                }
                Err(e) => {
                    self.damage.stopped = Some(e.to_string());
                    return Ok(false);
                }
            }
        }
    }

    /// A chained stream starts again (Ogg); takes its decoder. False if it has no sound.
    fn start_next_part(&mut self) -> Result<bool, DecodeError> {
        let Some(track) = self.format.default_track(TrackType::Audio) else {
            return Ok(false);
        };
        self.track = track.id;
        self.decoder = decoder_for(&self.path, track)?;
        Ok(true)
    }

    fn check_shape(&mut self, rate: u32, channels: usize) -> Result<(), DecodeError> {
        let usable =
            (MIN_RATE..=MAX_RATE).contains(&rate) && (1..=MAX_CHANNELS).contains(&channels);
        let same = self.given == 0 || rate == self.rate.get();
        match NonZeroU32::new(rate) {
            Some(rate) if usable && same => {
                self.rate = rate;
                Ok(())
            }
            _ => Err(DecodeError::OddShape {
                path: self.path.clone(),
                rate,
                channels,
                max_channels: MAX_CHANNELS,
                min_rate: MIN_RATE,
                max_rate: MAX_RATE,
            }),
        }
    }

    fn mix(&mut self, channels: usize) {
        self.mono.clear();
        let share = 1.0 / channels as f32;
        for frame in self.interleaved.chunks_exact(channels) {
            let mean = frame.iter().sum::<f32>() * share;
            if mean.is_finite() {
                self.mono.push(mean.clamp(-1.0, 1.0));
            } else {
                self.damage.not_numbers += 1;
                self.mono.push(0.0);
            }
        }
    }

    /// Puts silence before the block just decoded where the film's times jump; `ticks` is when it begins.
    fn fill_gap(&mut self, ticks: i64) {
        let (begins_s, rate) = (ticks as f64 * self.tick_s(), f64::from(self.rate.get()));
        let Some(gaps) = &mut self.gaps else { return };
        let silence = (gaps.before(begins_s, self.mono.len() as f64 / rate) * rate).round();
        self.silence += silence as usize;
        // The header counts holes in.
        self.given += silence as u64;
    }

    /// Seconds a tick of the track lasts; zero when the file does not say.
    fn tick_s(&self) -> f64 {
        let track = self.format.tracks().iter().find(|t| t.id == self.track);
        let base = track.and_then(|t| t.time_base);
        base.map_or(0.0, |b| f64::from(b.numer.get()) / f64::from(b.denom.get()))
    }

    fn silence_for(&mut self, ticks: u64) {
        self.mono.clear();
        let seconds = (ticks as f64 * self.tick_s()).min(MAX_PATCH_S);
        let samples = (seconds * f64::from(self.rate.get())).round() as usize;
        self.mono.resize(samples, 0.0);
    }
}

fn audio_parameters(
    track: &Track,
) -> Option<&symphonia::core::codecs::audio::AudioCodecParameters> {
    track.codec_params.as_ref().and_then(|p| p.audio())
}

fn decoder_for(path: &Path, track: &Track) -> Result<Box<dyn AudioDecoder>, DecodeError> {
    let unknown = |reason: String| DecodeError::UnknownCoding { path: path.to_owned(), reason };
    let parameters =
        audio_parameters(track).ok_or_else(|| unknown("the file does not name it".to_owned()))?;
    let codecs = symphonia::default::get_codecs();
    carefully(|| codecs.make_audio_decoder(parameters, &AudioDecoderOptions::default()))
        .map_err(|e| unknown(e.to_string()))
}
