//! Microphones that come and go, as one stream of frames on one session clock.
//!
//! The hearing thread owns this and asks it again and again with the time. When the device goes away,
//! session time goes on by the clock; the device is opened again, a little later after each try, for as
//! long as it takes; and when sound returns, its frames are numbered from where session time has got
//! to, so that nothing before or after the gap moves.

use std::collections::VecDeque;
use std::time::Duration;

use super::anchor::Anchor;
use super::capture::{Capture, CaptureEvent, Listen};
use super::choice::DeviceChoice;
use super::device::{DeviceError, Recovery};
use super::frames::Framer;
use super::{Frame, RATE};
use crate::at::At;

/// Without any sample for this long, a device is taken for dead (silence has samples too).
///
/// Counted in the time of polls, each no longer than 50 ms: when the whole program was held
/// up, the sound system may have kept everything for it.
pub const STALL: Duration = Duration::from_secs(1);
const LONGEST_POLL: Duration = Duration::from_millis(50);
/// A device just opened gets longer: some need seconds before the first sample.
const FIRST_SOUND: Duration = Duration::from_secs(4);
const FIRST_RETRY: Duration = Duration::from_millis(250);
const LONGEST_RETRY: Duration = Duration::from_secs(4);
/// Sound for this long makes up for earlier failures.
const STEADY: Duration = Duration::from_secs(5);

/// What comes next from the microphone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// Sound.
    Frame(Frame),
    /// Sound stopped coming; the device is being opened again until it does. Tell the trainer.
    Lost {
        /// Up to here there was sound.
        at: At,
        /// Why.
        why: GapReason,
    },
    /// Sound that was not heard; it goes on after it. The only event for short gaps, the second after
    /// [`Heard::Lost`].
    Gap(Gap),
}

/// A stretch of session time without sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// Where sound stopped.
    pub from: At,
    /// Where it goes on.
    pub to: At,
    /// Why.
    pub why: GapReason,
}

/// Why sound is missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GapReason {
    /// This program was too slow to take it.
    TooSlow,
    /// The sound system was too slow and said so.
    Xrun,
    /// The sound system lost some without saying so.
    Slipped,
    /// The device went away.
    DeviceGone,
    /// The device is there but gives no samples.
    Stalled,
    /// The system refuses the device until a person changes something.
    Refused,
}

/// What went wrong so far.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CaptureFaults {
    /// Times the sound system said that it lost sound.
    pub xruns: u32,
    /// Times that sound was lost because this program was too slow.
    pub too_slow: u32,
    /// Times that the device was lost and came back.
    pub reopened: u32,
    /// Session time without sound.
    pub missing: Duration,
}

/// Opens a microphone, again and again: the real one, or a script in a test.
pub trait Opener {
    /// One try.
    ///
    /// # Errors
    /// [`DeviceError`] if there is nothing to open now.
    fn open(&mut self) -> Result<Box<dyn Listen + Send>, DeviceError>;
}

impl Opener for DeviceChoice {
    fn open(&mut self) -> Result<Box<dyn Listen + Send>, DeviceError> {
        Ok(Box::new(Capture::open(self)?))
    }
}

/// A microphone that is kept open.
pub struct Microphone<O = DeviceChoice> {
    opener: O,
    state: State,
    framer: Framer,
    anchor: Anchor,
    buffer: Vec<f32>,
    ready: VecDeque<Heard>,
    polled_at: Option<Duration>,
    device: String,
    refusal: Option<DeviceError>,
    faults: CaptureFaults,
}

enum State {
    /// Open, and no sound yet, for a while in the time of polls.
    Opened {
        capture: Box<dyn Listen + Send>,
        silent_for: Duration,
        lost: Option<(u64, GapReason)>,
        tries: u32,
    },
    Hearing {
        capture: Box<dyn Listen + Send>,
        since: Duration,
        silent_for: Duration,
        tries: u32,
    },
    Away {
        retry_at: Duration,
        lost: (u64, GapReason),
        tries: u32,
    },
}

impl<O: Opener> Microphone<O> {
    /// Opens the microphone for the first time. Session time begins with its first sample.
    ///
    /// # Errors
    /// [`DeviceError`] if it cannot be opened now; only later losses are bridged.
    pub fn open(mut opener: O) -> Result<Self, DeviceError> {
        let capture = opener.open()?;
        let framer = framer_for(capture.as_ref(), 0)?;
        Ok(Microphone {
            opener,
            framer,
            device: capture.device().to_owned(),
            state: State::Opened { capture, silent_for: Duration::ZERO, lost: None, tries: 0 },
            anchor: Anchor::default(),
            polled_at: None,
            buffer: Vec::new(),
            ready: VecDeque::new(),
            refusal: None,
            faults: CaptureFaults::default(),
        })
    }

    /// What comes next, if something has; `now` is the steady clock's time. Ask again after some 5 ms
    /// when there is nothing. Waits for nothing but the opening of a device that went away.
    pub fn poll(&mut self, now: Duration) -> Option<Heard> {
        if self.ready.is_empty() {
            self.step(now);
        }
        self.ready.pop_front()
    }

    /// Session time at `now`, whether or not sound comes.
    pub fn session_time(&self, now: Duration) -> At {
        self.anchor.session_time(now)
    }

    /// Id of the device in use, or last in use.
    pub fn device(&self) -> &str {
        &self.device
    }

    /// Why the last try to open the device again failed, for the status line.
    pub fn refusal(&self) -> Option<&DeviceError> {
        self.refusal.as_ref()
    }

    /// What went wrong so far.
    pub fn faults(&self) -> CaptureFaults {
        self.faults
    }

    fn step(&mut self, now: Duration) {
        let passed = now.saturating_sub(self.polled_at.unwrap_or(now)).min(LONGEST_POLL);
        self.polled_at = Some(now);
        match &mut self.state {
            State::Hearing { capture, silent_for, .. } => {
                self.buffer.clear();
                let event = capture.read(&mut self.buffer);
                if event == CaptureEvent::Samples {
                    *silent_for = Duration::ZERO;
                } else {
                    *silent_for += passed;
                }
                let stalled = *silent_for >= STALL;
                let rate = u64::from(capture.rate().get());
                match event {
                    CaptureEvent::Samples => self.take_sound(now),
                    CaptureEvent::Missing(samples) => {
                        self.faults.too_slow += 1;
                        self.skip(samples * u64::from(RATE.get()) / rate, GapReason::TooSlow);
                    }
                    // Some systems answer a device that is gone with troubles without end.
                    CaptureEvent::Nothing
                    | CaptureEvent::Trouble(Recovery::CarryOn | Recovery::LogGap)
                        if stalled =>
                    {
                        self.lose(now, GapReason::Stalled);
                    }
                    CaptureEvent::Nothing | CaptureEvent::Trouble(Recovery::CarryOn) => {}
                    CaptureEvent::Trouble(Recovery::LogGap) => {
                        self.faults.xruns += 1;
                        self.anchor.lost_some();
                    }
                    CaptureEvent::Trouble(Recovery::Reopen) => {
                        self.lose(now, GapReason::DeviceGone)
                    }
                    CaptureEvent::Trouble(Recovery::Stop) => self.lose(now, GapReason::Refused),
                }
            }
            State::Opened { .. } => self.await_first_sound(now, passed),
            State::Away { retry_at, .. } if now >= *retry_at => self.try_again(now),
            State::Away { .. } => {}
        }
    }

    fn take_sound(&mut self, now: Duration) {
        self.framer.push(&self.buffer);
        let xruns_looked_at = self.anchor.is_looking_closely();
        if let Some(slip) = self.anchor.heard(now, self.framer.taken_to()) {
            let why = if xruns_looked_at { GapReason::Xrun } else { GapReason::Slipped };
            self.skip(slip.samples, why);
        }
        self.hand_out_frames();
    }

    fn hand_out_frames(&mut self) {
        self.ready.extend(std::iter::from_fn(|| self.framer.pop()).map(Heard::Frame));
    }

    /// Leaves out `samples` at [`RATE`] of session time.
    fn skip(&mut self, samples: u64, why: GapReason) {
        let from = self.framer.taken_to();
        self.framer.jump_to(from + samples);
        self.hand_out_frames();
        self.tell_gap(from, from + samples, why);
        self.anchor.look_again();
    }

    fn tell_gap(&mut self, from: u64, to: u64, why: GapReason) {
        let gap = Gap { from: At::of_sample(from, RATE), to: At::of_sample(to, RATE), why };
        self.faults.missing += gap.to.since(gap.from);
        self.ready.push_back(Heard::Gap(gap));
    }

    fn lose(&mut self, now: Duration, why: GapReason) {
        self.framer.finish();
        self.hand_out_frames();
        let at = self.framer.next_sample();
        self.ready.push_back(Heard::Lost { at: At::of_sample(at, RATE), why });
        // A device that works is opened again at once; one that fails again and again is left longer.
        match self.state {
            State::Hearing { since, tries, .. }
                if tries > 0 && now.saturating_sub(since) < STEADY =>
            {
                self.wait_longer(now, (at, why), tries);
            }
            _ => self.state = State::Away { retry_at: now, lost: (at, why), tries: 1 },
        }
    }

    fn await_first_sound(&mut self, now: Duration, passed: Duration) {
        let State::Opened { capture, silent_for, lost, tries } = &mut self.state else { return };
        let (lost, tries) = (*lost, *tries);
        *silent_for += passed;
        let stalled = *silent_for >= FIRST_SOUND;
        self.buffer.clear();
        let failed = match capture.read(&mut self.buffer) {
            CaptureEvent::Samples => return self.resume(now),
            CaptureEvent::Trouble(Recovery::Reopen) => Some(GapReason::DeviceGone),
            CaptureEvent::Trouble(Recovery::Stop) => Some(GapReason::Refused),
            CaptureEvent::Nothing if stalled => Some(GapReason::Stalled),
            _ => None,
        };
        let Some(why) = failed else { return };
        match lost {
            // Not back after all: the loss that was reported goes on.
            Some(lost) => self.wait_longer(now, lost, tries),
            None => self.lose(now, why),
        }
    }

    /// The first samples after opening are in the buffer.
    fn resume(&mut self, now: Duration) {
        let State::Opened { capture, lost, tries, .. } = std::mem::replace(
            &mut self.state,
            State::Away { retry_at: now, lost: (0, GapReason::Stalled), tries: 0 },
        ) else {
            return;
        };
        if let Some((from, why)) = lost {
            let rate = u64::from(capture.rate().get());
            let in_hand = self.buffer.len() as u64 * u64::from(RATE.get()) / rate;
            let session = samples_at(self.anchor.session_time(now));
            let to = session.saturating_sub(in_hand).max(from);
            match framer_for(capture.as_ref(), to) {
                Ok(framer) => self.framer = framer,
                Err(refusal) => {
                    self.refusal = Some(refusal);
                    return self.wait_longer(now, (from, why), u32::MAX);
                }
            }
            self.faults.reopened += 1;
            self.tell_gap(from, to, why);
            self.anchor.look_again();
        }
        self.refusal = None;
        self.state = State::Hearing { capture, since: now, silent_for: Duration::ZERO, tries };
        self.take_sound(now);
    }

    fn try_again(&mut self, now: Duration) {
        let State::Away { lost, tries, .. } = self.state else { return };
        match self.opener.open() {
            Ok(capture) => {
                self.device = capture.device().to_owned();
                self.state =
                    State::Opened { capture, silent_for: Duration::ZERO, lost: Some(lost), tries };
            }
            Err(refusal) => {
                self.refusal = Some(refusal);
                self.wait_longer(now, lost, tries);
            }
        }
    }

    fn wait_longer(&mut self, now: Duration, lost: (u64, GapReason), tries: u32) {
        let wait =
            FIRST_RETRY.saturating_mul(1 << tries.saturating_sub(1).min(8)).min(LONGEST_RETRY);
        self.state = State::Away { retry_at: now + wait, lost, tries: tries.saturating_add(1) };
    }
}

fn framer_for(capture: &dyn Listen, first_sample: u64) -> Result<Framer, DeviceError> {
    Framer::new(capture.rate(), first_sample).map_err(|e| DeviceError::Unusable {
        device: capture.device().to_owned(),
        reason: e.to_string(),
    })
}

fn samples_at(at: At) -> u64 {
    (u128::from(at.as_nanos()) * u128::from(RATE.get()) / 1_000_000_000) as u64
}

#[cfg(test)]
mod tests;
