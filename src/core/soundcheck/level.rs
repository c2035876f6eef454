//! Microphones one after the other, the room's noise, and the level of one word.

use std::time::Duration;

use super::{
    ANSWER_FOR, Advice, Check, Loudest, Report, SoundcheckEffect, SoundcheckLine, Step, Wait,
};
use crate::dialogue::{Audibility, AudibilityVerdict};
use crate::loudness::NoiseFloor;

/// The room's noise is listened to for this long; two seconds are the least for a figure.
const NOISE_FOR: Duration = Duration::from_millis(2_800);
/// From the first sound of a word on, its level is taken for this long.
const LEVEL_FOR: Duration = Duration::from_millis(1_500);
/// This much above the noise is speech, or as good as.
const SPEECH_DB: f32 = 6.0;
/// How often the level is taken again when it was not right, and a word asked for.
const TRIES: u8 = 3;

impl Check {
    pub(super) fn level(
        &mut self,
        now: Duration,
        rms_dbfs: f32,
        clipped: bool,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        // Before that, what the microphone hears may be our own voice.
        if self.wait.is_none_or(|wait| wait.until.is_none()) {
            return;
        }
        let noise = self.report.noise_dbfs;
        let speech = noise.is_some_and(|noise| rms_dbfs > noise + SPEECH_DB);
        self.spoke |= speech;
        match &mut self.step {
            Step::Noise(floor) => floor.hear(rms_dbfs),
            Step::Level { heard, .. } if speech || heard.is_some() => {
                let loudest = heard.get_or_insert(Loudest {
                    dbfs: rms_dbfs,
                    clipped,
                    decide_at: now + LEVEL_FOR,
                });
                loudest.dbfs = loudest.dbfs.max(rms_dbfs);
                loudest.clipped |= clipped;
                let loudest = *loudest;
                if now >= loudest.decide_at {
                    self.level_taken(now, loudest, out);
                }
            }
            _ => {}
        }
    }

    pub(super) fn mic_open(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let line = match self.mic {
            0 => SoundcheckLine::BeQuiet,
            mic => SoundcheckLine::NextMic { name: self.setup.mics[mic].clone() },
        };
        self.step = Step::Noise(NoiseFloor::default());
        self.report.noise_dbfs = None;
        self.ask(now, line, NOISE_FOR, out);
    }

    pub(super) fn next_mic(&mut self, _: Duration, out: &mut Vec<SoundcheckEffect>) {
        self.mic += 1;
        self.wait = None;
        self.report = Report::default();
        if self.mic < self.setup.mics.len() {
            self.step = Step::Opening;
            out.push(SoundcheckEffect::OpenMic(self.mic));
        } else {
            self.end(SoundcheckLine::NoMic, out);
        }
    }

    pub(super) fn ask_level(&mut self, now: Duration, tries: u8, out: &mut Vec<SoundcheckEffect>) {
        self.step = Step::Level { tries, heard: None };
        self.ask(now, SoundcheckLine::SayWord { yes: self.setup.yes.clone() }, ANSWER_FOR, out);
    }

    /// The word was heard, but its level was not taken: it came while our own voice still sounded, or hardly stood
    /// above the noise. The microphone works, so it is asked for again and not given up.
    pub(super) fn heard_without_level(&mut self, onset: Duration, out: &mut Vec<SoundcheckEffect>) {
        let Step::Level { tries, .. } = self.step else { return };
        if tries + 1 < TRIES {
            self.step = Step::Level { tries: tries + 1, heard: None };
            let line = SoundcheckLine::SayAgain { yes: self.setup.yes.clone() };
            return self.ask(onset, line, ANSWER_FOR, out);
        }
        let began = |wait: Wait| Some(wait.until?.saturating_sub(wait.length));
        let in_time = self.wait.and_then(began).is_some_and(|began| onset >= began);
        self.report.advice.extend(in_time.then_some(Advice::Nearer));
        self.begin_ears(onset, out);
    }

    pub(super) fn level_taken(
        &mut self,
        now: Duration,
        loudest: Loudest,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        let Step::Level { tries, .. } = self.step else { return };
        let noise = self.report.noise_dbfs;
        let audibility = Audibility::of(Some(loudest.dbfs), noise);
        let verdict = if loudest.clipped { AudibilityVerdict::Loud } else { audibility.verdict };
        let above_db = audibility.above_db.unwrap_or_default();
        self.report.mic = Some(self.setup.mics[self.mic].clone());
        self.report.speech_dbfs = Some(loudest.dbfs);
        self.report.above_db = audibility.above_db;
        self.report.clipped = loudest.clipped;
        let well = verdict == AudibilityVerdict::Well;
        let again = !well && tries + 1 < TRIES;
        let line = SoundcheckLine::Level {
            verdict,
            speech_dbfs: loudest.dbfs,
            above_db,
            again,
            yes: self.setup.yes.clone(),
        };
        if again {
            self.step = Step::Level { tries: tries + 1, heard: None };
            return self.ask(now, line, ANSWER_FOR, out);
        }
        out.push(if well { SoundcheckEffect::Show(line) } else { SoundcheckEffect::Say(line) });
        let advice = match verdict {
            AudibilityVerdict::Noisy => Some(Advice::Nearer),
            AudibilityVerdict::Loud => Some(Advice::LowerGain),
            AudibilityVerdict::Well | AudibilityVerdict::Unknown => None,
        };
        self.report.advice.extend(advice);
        self.begin_ears(now, out);
    }
}
