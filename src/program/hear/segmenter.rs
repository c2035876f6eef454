//! The first stage of the ears: sound goes in, segments of speech come out. Pure.

use std::time::Duration;

use super::gate::{Change, Gate, LITTLE_DB, LONGEST, SHORTEST};
use super::level::STEP;
use super::onset::onset;
use super::recent::RecentSound;
use crate::at::At;
use crate::audio::RATE;

/// Steps of 10 ms that are read before a segment.
pub(super) const LEAD: usize = 20;
/// Steps of quiet after which a segment may be over, so that reading ahead pays.
const MAYBE_OVER: usize = 4;
/// Most tags are no longer than so many steps; what is longer is read when it has ended.
const MOST_TAGS: usize = 80;
/// A segment that opens now may reach so far back, so nothing later than this is settled yet.
const LOOK_BACK: Duration = Duration::from_millis(450);
/// Sound that is kept: as long as a tag may be, and a second.
const KEPT: usize = (LONGEST + 100) * STEP;
/// Samples before and after what was noticed, among which an onset is looked for: half a second.
const AROUND_ONSET: u64 = 8_000;
/// Word starts by the recogniser come this much early (measured).
pub(super) const EARLY_S: f32 = 0.025;
const STEPS_A_SECOND: f32 = 100.0;

/// A piece of sound that stands out of the room's noise.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Segment {
    /// Its first step and the step after its last, 10 ms each, counted from where listening began.
    pub(super) began: usize,
    pub(super) end: usize,
    /// The same as numbers of samples.
    pub(super) from: u64,
    pub(super) to: u64,
    /// What is read of it: from a little before it up to the latest sample.
    pub(super) read_from: u64,
    pub(super) read_to: u64,
    /// When its first word began, by the waveform.
    pub(super) onset: At,
    /// Steps of quiet between the segment before and this one.
    pub(super) quiet_before: usize,
    /// Its loudest part, in dB below full scale, and how far that stands over the room's noise, in dB.
    pub(super) loudest_db: f32,
    pub(super) height_db: f32,
    /// It rose out of other sound.
    pub(super) rose: bool,
}

impl Segment {
    /// Whether a tag could be as short or as long.
    pub(super) fn is_as_long_as_a_tag(&self) -> bool {
        (SHORTEST..=LONGEST).contains(&(self.end - self.began))
    }

    /// Whether it stands little over the room's noise.
    pub(super) fn stands_little_over_noise(&self) -> bool {
        self.height_db < LITTLE_DB
    }

    /// The moment of something that was read `seconds` after its first sample.
    pub(super) fn moment(&self, seconds: f32) -> At {
        moment(self.read_from, seconds)
    }

    /// When it was cut: what is decided over it is decided then.
    pub(super) fn decided(&self) -> At {
        At::of_sample(self.read_to, RATE)
    }
}

fn moment(sample: u64, seconds: f32) -> At {
    At::of_sample(sample, RATE) + Duration::from_secs_f32(seconds.max(0.0))
}

/// What the segmenter notices with a sample.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cut {
    /// The segment that is open can be over: so far it is this.
    CanBeOver(Segment),
    /// A segment ended.
    Ended(Segment),
    /// A segment ended that was told before, and nothing more of it came: the step after its last.
    ToldEnded(usize),
    /// Talk ended, as it was said to be while it went on.
    TalkEnded {
        /// When it began and ended.
        from: At,
        /// See `from`.
        to: At,
    },
    /// Something louder began: what was read of the segment so far was only the sound around.
    Rose,
}

/// A segment that has not ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ongoing {
    /// Steps since it began.
    pub(super) steps: usize,
    /// Its loudest part so far, in dB below full scale.
    pub(super) loudest_db: f32,
}

/// What becomes of a segment that has not ended.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Progress {
    /// It may be over; what there is of it can be read, from the first sample up to the second.
    MaybeOver(u64, u64),
    /// It is longer than any tag; so far it is this.
    TooLong(Segment),
}

/// Cuts sound into segments.
pub(super) struct Segmenter {
    gate: Gate,
    sound: RecentSound,
    /// Sample number of the gate's step 0.
    origin: u64,
    /// Step after the last segment.
    last_end: Option<usize>,
    /// Step at which the latest segment began that has ended.
    latest: usize,
    /// The segment that begins here goes on from one that was divided, without quiet between.
    divided_at: Option<usize>,
    /// The segment that is open is talk.
    is_talk: bool,
    told: Told,
}

/// How far the segment that is open was told before it ended.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Told {
    #[default]
    Nothing,
    /// Up to this step, and nothing more of it has come since.
    All(usize),
    /// Up to this step, and more has come since.
    Part(usize),
}

impl Default for Segmenter {
    fn default() -> Self {
        Segmenter {
            gate: Gate::new(),
            sound: RecentSound::new(KEPT),
            origin: 0,
            last_end: None,
            latest: 0,
            divided_at: None,
            is_talk: false,
            told: Told::Nothing,
        }
    }
}

impl Segmenter {
    /// Takes a sample; returns what was cut with it.
    pub(super) fn hear(&mut self, sample: i16) -> Option<Cut> {
        self.sound.push(sample);
        let change = self.gate.hear(sample);
        self.took(change)
    }

    /// After a sample or a step: what was cut with it, and whether more came of what was told.
    fn took(&mut self, change: Option<Change>) -> Option<Cut> {
        let cut = change.and_then(|change| self.changed(change));
        if let Told::All(end) = self.told
            && !self.gate.is_soft()
        {
            self.told = Told::Part(end);
        }
        cut
    }

    /// Sound is missing: the next sample is number `first`.
    pub(super) fn go_on_at(&mut self, first: u64) {
        self.origin += first - self.sound.end().min(first);
        self.sound.start_at(first);
    }

    /// The sound has ended, and with it the segment that is open.
    pub(super) fn finish(&mut self) -> Option<Cut> {
        let change = self.gate.finish()?;
        self.changed(change)
    }

    fn changed(&mut self, change: Change) -> Option<Cut> {
        match change {
            Change::Opened => None,
            Change::Rose => {
                self.is_talk = false;
                if let Told::All(end) | Told::Part(end) = std::mem::take(&mut self.told) {
                    self.last_end = Some(end);
                }
                Some(Cut::Rose)
            }
            Change::Softened(steps) => {
                let began = self.gate.began().filter(|_| !self.is_talk)?;
                let end = self.gate.steps() - steps;
                let is_as_long = (SHORTEST..=MOST_TAGS).contains(&end.saturating_sub(began));
                let is_new = self.told == Told::Nothing && is_as_long;
                is_new.then(|| Cut::CanBeOver(self.segment(began, end)))
            }
            Change::Closed(began, end) => {
                let told = std::mem::take(&mut self.told);
                let cut = if matches!(told, Told::All(_)) {
                    Cut::ToldEnded(end)
                } else if std::mem::take(&mut self.is_talk) {
                    Cut::TalkEnded { from: self.at_step(began), to: self.at_step(end) }
                } else {
                    Cut::Ended(self.segment(began, end))
                };
                self.last_end = Some(end);
                self.latest = began;
                Some(cut)
            }
        }
    }

    /// What the segment that is open has come to, unless it is talk.
    pub(super) fn progress(&self) -> Option<Progress> {
        let is_told = matches!(self.told, Told::All(_));
        let began = self.gate.began().filter(|_| !self.is_talk && !is_told)?;
        if self.gate.steps() - began > LONGEST {
            return Some(Progress::TooLong(self.segment(began, self.gate.steps())));
        }
        (self.gate.quiet() >= MAYBE_OVER)
            .then(|| Progress::MaybeOver(self.read_from(began), self.sound.end()))
    }

    /// The segment that is open is talk.
    pub(super) fn is_talk(&mut self) {
        self.is_talk = true;
    }

    /// The segment that is open was told as it was so far.
    pub(super) fn told(&mut self, segment: &Segment) {
        self.told = Told::All(segment.end);
    }

    /// Divides the segment that is open, `seconds` after the first sample that was read of it: gives what is before, and
    /// goes on with what is after.
    pub(super) fn divide(&mut self, segment: &Segment, seconds: f32) -> Segment {
        let read_from = segment.read_from.saturating_sub(self.origin) as usize / STEP;
        let end = read_from + (seconds * STEPS_A_SECOND) as usize;
        self.gate.go_on_from(end);
        self.told = Told::Nothing;
        self.divided_at = Some(end);
        self.last_end = Some(end);
        Segment { end, to: self.sample_of(end), ..segment.clone() }
    }

    /// Up to here no segment can still open that reaches further back.
    pub(super) fn settled(&self) -> At {
        let open = self.gate.began().filter(|_| !self.is_talk).map(|step| self.at_step(step));
        open.unwrap_or(self.now()).back(LOOK_BACK)
    }

    /// The segment that is open, talk or not.
    pub(super) fn ongoing(&self) -> Option<Ongoing> {
        let steps = self.gate.steps() - self.gate.began()?;
        Some(Ongoing { steps, loudest_db: self.gate.loudest() })
    }

    /// Step after the last segment; none while one is open.
    pub(super) fn quiet_since(&self) -> Option<usize> {
        self.gate.began().is_none().then(|| self.last_end.unwrap_or(0))
    }

    /// When the latest segment began that has ended.
    pub(super) fn latest(&self) -> At {
        self.at_step(self.latest)
    }

    /// Steps so far.
    pub(super) fn steps(&self) -> usize {
        self.gate.steps()
    }

    /// The sound that is at hand.
    pub(super) fn sound(&self) -> &RecentSound {
        &self.sound
    }

    /// Number of the sample that comes next.
    pub(super) fn next_sample(&self) -> u64 {
        self.sound.end()
    }

    /// The moment of the sample that comes next.
    pub(super) fn now(&self) -> At {
        At::of_sample(self.sound.end(), RATE)
    }

    fn segment(&self, began: usize, end: usize) -> Segment {
        Segment {
            began,
            end,
            from: self.sample_of(began),
            to: self.sample_of(end),
            read_from: self.read_from(began),
            read_to: self.sound.end(),
            onset: self.onset(began),
            quiet_before: self.last_end.map_or(began, |last| began.saturating_sub(last)),
            loudest_db: self.gate.loudest(),
            height_db: self.gate.height(),
            rose: self.gate.rose(),
        }
    }

    fn read_from(&self, began: usize) -> u64 {
        // What was said before is not read again.
        let free = self.last_end.map_or(0, |end| self.sample_of(end));
        self.sample_of(began).saturating_sub((LEAD * STEP) as u64).max(free)
    }

    fn onset(&self, began: usize) -> At {
        let noticed = self.sample_of(began);
        if self.divided_at == Some(began) {
            // No quiet before it to measure against.
            return moment(noticed, EARLY_S);
        }
        let from = noticed.saturating_sub(AROUND_ONSET);
        let (first, samples) = self.sound.between(from, noticed + AROUND_ONSET);
        let place = onset(&samples, noticed.saturating_sub(first) as usize);
        At::of_sample(first + place as u64, RATE)
    }

    fn at_step(&self, step: usize) -> At {
        At::of_sample(self.sample_of(step), RATE)
    }

    fn sample_of(&self, step: usize) -> u64 {
        self.origin + (step * STEP) as u64
    }
}

#[cfg(test)]
mod tests;
