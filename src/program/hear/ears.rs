//! Ears: sound goes in, tags come out. Four stages, each with a state of its own and a type for what goes in and what
//! comes out: the segmenter cuts the sound into segments, the readers read them, the judge says what each is, and the
//! follow-up waits for what may come after.
//!
//! Nothing is late: [`Ears::settled`] says up to where everything is known, so that no tag with an earlier onset can still
//! come. Session time is only advanced so far; a tag never arrives in the engine's past.

mod equipment;
mod follow_up;
mod judge;
mod moments;
mod readers;
mod trace;

use std::time::Duration;

use super::clicks::Clicks;
use super::dictation::Dictation;
use super::personal::Learnt;
use super::segmenter::{Cut, Progress, Segment, Segmenter};
use super::{HearError, Heard, SpeechModel};
use crate::at::At;
use crate::audio::{Frame, RATE};
use crate::plan::Words;
use equipment::Equipment;
use follow_up::FollowUp;
use judge::Judge;
use readers::Readers;
pub use trace::Trace;

/// After the attention word alone, or the word for a change, the rest may come this many steps of 10 ms later.
const FOLLOWS: usize = 300;

/// Listens to 16 kHz frames for the words of a plan.
pub struct Ears {
    /// What does not change while they listen.
    equipment: Equipment,
    stages: Stages,
}

/// All that changes while ears listen to one recording, or to one microphone.
struct Stages {
    segmenter: Segmenter,
    clicks: Clicks,
    readers: Readers,
    judge: Judge,
    follow_up: FollowUp,
    dictation: Dictation,
    /// Kept only for measurements that asked for them.
    traces: Option<Vec<Trace>>,
}

impl Stages {
    fn new(equipment: &Equipment) -> Self {
        Stages {
            segmenter: Segmenter::default(),
            clicks: Clicks::new(equipment.marker_sounds.clone()),
            readers: Readers::new(equipment.recognisers.clone()),
            judge: Judge::default(),
            follow_up: FollowUp::new(equipment.others_near),
            dictation: Dictation::default(),
            traces: None,
        }
    }
}

impl Ears {
    /// Ears for these words.
    ///
    /// # Errors
    /// [`HearError`] when a word is not in the model's lexicon, or the recogniser does not start.
    pub fn new(model: SpeechModel, words: &Words) -> Result<Self, HearError> {
        Self::taught(model, words, &Learnt::default())
    }

    /// Ears for these words, with what was learnt from the person who speaks. A word that the model does not
    /// know is not an error when every phrase with it was learnt.
    ///
    /// # Errors
    /// As for [`Ears::new`].
    pub fn taught(model: SpeechModel, words: &Words, learnt: &Learnt) -> Result<Self, HearError> {
        let equipment = Equipment::new(model, words, learnt)?;
        let stages = Stages::new(&equipment);
        Ok(Ears { equipment, stages })
    }

    /// Listens from scratch: what comes next is another recording, from its first sample on.
    pub fn restart(&mut self) {
        self.stages = Stages::new(&self.equipment);
    }

    /// Takes a frame; gives what was decided with it.
    pub fn hear(&mut self, frame: &Frame) -> Vec<Heard> {
        let mut heard = Vec::new();
        if frame.first_sample != self.stages.segmenter.next_sample() {
            heard.extend(self.finish());
            self.stages.segmenter.go_on_at(frame.first_sample);
            self.stages.clicks.start_at(frame.first_sample);
        }
        for sample in &frame.samples {
            let cut = self.stages.segmenter.hear(*sample);
            if let Some(click) = self.stages.clicks.hear(*sample) {
                let now = self.stages.segmenter.now();
                heard.push(self.stages.follow_up.clicked(click, now));
            }
            heard.extend(cut.into_iter().flat_map(|cut| self.cut(cut)));
        }
        if self.stages.dictation.is_on() {
            heard.extend(self.take_down(frame));
        } else {
            heard.extend(self.go_on());
        }
        heard.extend(self.lost());
        heard
    }

    /// The sound has ended: decides what is left.
    pub fn finish(&mut self) -> Vec<Heard> {
        let cut = self.stages.segmenter.finish();
        let mut heard: Vec<Heard> = cut.into_iter().flat_map(|cut| self.cut(cut)).collect();
        heard.extend(self.stages.follow_up.no_longer_waiting());
        heard.extend(self.end_dictation());
        heard.extend(self.lost());
        heard
    }

    /// Takes what is said from now on as it is, without looking for tags, until a silence; then it comes as
    /// [`Heard::Note`].
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when the free recogniser does not start.
    pub fn dictate(&mut self) -> Result<(), HearError> {
        self.stages.readers.give_up();
        self.take_note(self.stages.segmenter.now());
        if self.stages.dictation.is_on() { Ok(()) } else { Err(HearError::Recogniser) }
    }

    /// Takes no dictation any more: what is said from now on may be tags again. Gives what was said up to now, if
    /// anything was.
    pub fn leave_dictation(&mut self) -> Option<Heard> {
        let ended = self.end_dictation();
        if ended.is_some() {
            self.stages.judge.talk_ended();
        }
        ended.filter(|heard| !matches!(heard, Heard::Note { text, .. } if text.is_empty()))
    }

    /// Up to here everything is decided: no tag with an earlier onset can still come.
    pub fn settled(&self) -> At {
        let Stages { segmenter, clicks, follow_up, .. } = &self.stages;
        let click = clicks.pending().map(|sample| At::of_sample(sample, RATE));
        let pending = [Some(segmenter.settled()), follow_up.waits_since(), click];
        pending.into_iter().flatten().fold(segmenter.now(), At::min)
    }

    /// What was made of each segment since this was last asked, for measurements; the first time after the beginning or a
    /// restart, nothing yet.
    pub fn traces(&mut self) -> Vec<Trace> {
        self.stages.traces.replace(Vec::new()).unwrap_or_default()
    }

    /// Processor time that the recogniser's process has used; what this thread has used is not in it.
    pub fn worked(&self) -> Duration {
        self.equipment.model.worked()
    }

    /// Whether anything is heard still.
    ///
    /// # Errors
    /// [`HearError::GaveUp`] when the recogniser ended over one segment after the other.
    pub fn still_hear(&self) -> Result<(), HearError> {
        let gave_up = self.equipment.model.process().has_given_up();
        if gave_up { Err(HearError::GaveUp) } else { Ok(()) }
    }

    fn cut(&mut self, cut: Cut) -> Vec<Heard> {
        let Stages { segmenter, readers, judge, follow_up, dictation, traces, .. } =
            &mut self.stages;
        match cut {
            Cut::Rose => {
                readers.give_up();
                Vec::new()
            }
            _ if dictation.is_on() => Vec::new(),
            Cut::TalkEnded { from, to } => {
                judge.talk_ended();
                vec![follow_up.talk_ended(from, to)]
            }
            Cut::CanBeOver(segment) => self.can_be_over(&segment),
            Cut::ToldEnded(end) => {
                follow_up.told_ended(end);
                Vec::new()
            }
            Cut::Ended(segment) => {
                let echo = follow_up.is_echo(&segment);
                readers.learn_room(segmenter.sound(), &segment);
                let mut evidence = readers.about(segmenter.sound(), &segment);
                let rules = &self.equipment.rules;
                let Some(judgement) = judge.judge(&segment, echo, rules, &mut evidence) else {
                    return Vec::new();
                };
                if let Some(traces) = traces {
                    traces.push(Trace::of(&segment, &judgement));
                }
                let outcome = follow_up.take(&segment, judgement.judged);
                if let Some(at) = outcome.note {
                    self.take_note(at);
                }
                outcome.heard
            }
        }
    }

    /// Tells what a segment surely is that can be over.
    fn can_be_over(&mut self, segment: &Segment) -> Vec<Heard> {
        let Stages { segmenter, readers, judge, follow_up, traces, .. } = &mut self.stages;
        if follow_up.waits_for_end(segment) {
            return Vec::new();
        }
        readers.learn_room(segmenter.sound(), segment);
        let mut evidence = readers.about(segmenter.sound(), segment);
        let Some(judgement) = judge.surely(segment, &self.equipment.rules, &mut evidence) else {
            return Vec::new();
        };
        segmenter.told(segment);
        if let Some(traces) = traces {
            traces.push(Trace::of(segment, &judgement));
        }
        follow_up.take_early(segment, judgement.judged)
    }

    /// After each frame: reads ahead in a segment that may be over, lets a command go that waited enough.
    fn go_on(&mut self) -> Vec<Heard> {
        let Stages { segmenter, readers, follow_up, .. } = &mut self.stages;
        match segmenter.progress() {
            Some(Progress::TooLong(segment)) => return self.too_long(&segment),
            Some(Progress::MaybeOver(from, to)) => readers.ahead(segmenter.sound(), from, to),
            None => {}
        }
        follow_up.pass(segmenter.steps(), segmenter.ongoing())
    }

    /// Decides over a segment that is too long for a tag and still goes on.
    fn too_long(&mut self, segment: &Segment) -> Vec<Heard> {
        let Stages { segmenter, readers, judge, follow_up, .. } = &mut self.stages;
        let mut evidence = readers.about(segmenter.sound(), segment);
        if let Some(row) = judge.row(segment, &self.equipment.rules, &mut evidence) {
            let said = segmenter.divide(segment, row.last_s);
            return follow_up.take_row(&said, &row.tags);
        }
        segmenter.is_talk();
        readers.give_up();
        follow_up.talk_goes_on(segment, String::new())
    }

    fn take_note(&mut self, at: At) {
        let step = self.stages.segmenter.steps();
        self.stages.dictation = match self.equipment.free() {
            Some(recogniser) => Dictation::begin(recogniser, at, step),
            None => Dictation::default(),
        };
    }

    fn end_dictation(&mut self) -> Option<Heard> {
        let (at, text) = self.stages.dictation.end()?;
        Some(Heard::Note { at, to: self.stages.segmenter.now(), text })
    }

    fn take_down(&mut self, frame: &Frame) -> Option<Heard> {
        let Stages { segmenter, judge, dictation, .. } = &mut self.stages;
        let (at, text) = dictation.hear(frame, segmenter.steps(), segmenter.quiet_since())?;
        judge.talk_ended();
        Some(Heard::Note { at, to: segmenter.now(), text })
    }

    /// Sound that the recogniser ended over.
    fn lost(&mut self) -> Option<Heard> {
        let (from, to) = (self.stages.segmenter.latest(), self.stages.segmenter.now());
        self.equipment.model.process().take_lost().then_some(Heard::Lost { from, to })
    }
}
