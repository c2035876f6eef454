//! Gate, recognisers and verdict together.

mod after;
mod breath;
mod commands;
mod give;
mod health;
mod look;
mod marks;
mod noise;
mod others;
mod taught;

use std::time::Duration;

use super::clicks::Clicks;
use super::dictation::Dictation;
use super::gate::{Change, Gate, LONGEST, SHORTEST};
use super::judge::{self, Candidate, Gaps, TagBounds, Verdict};
use super::level::STEP;
use super::past::Past;
use super::personal::{Learnt, Matcher};
use super::recogniser::{Alternative, Placed, Recogniser, spoken};
use super::stretch::Reader;
use super::wiener::Wiener;
use super::{Frequent, HearError, Heard, HeardTag, SpeechModel, lines};
use crate::at::At;
use crate::audio::{Frame, RATE};
use crate::interpret::Grammar;
use crate::plan::Words;
use after::Saying;
pub use look::Look;
use noise::{is_unclear, with_ways};
use others::Levels;

/// Steps of 10 ms read before a stretch.
const LEAD: usize = 20;
/// Quiet that a tag has between it and talk before it.
const QUIET_BEFORE: usize = 20;
/// Steps of quiet after which it may be over, so that reading ahead pays.
const MAYBE_OVER: usize = 4;
/// After the attention word alone, or the word for a change, the rest may come this late.
const FOLLOWS: usize = 300;
/// A stretch that opens now may reach so far back, so nothing later than this is settled yet.
const LOOK_BACK: Duration = Duration::from_millis(450);
/// Frequent words that compete with the tags.
const ORDINARY: usize = 3000;
/// Readings asked for with tags alone, and among ordinary words.
const READINGS: (u16, u16) = (10, 15);
/// A stretch this soon after a tag and this much softer is the tag's own echo or breath.
const ECHO: usize = 25;
const ECHO_DB: f32 = 15.0;

/// Listens to 16 kHz frames for the words of a plan.
pub struct Ears {
    model: SpeechModel,
    grammar: Grammar,
    past: Past,
    /// The room's noise before the latest stretch that had enough of it.
    room: Vec<i16>,
    wiener: Wiener,
    gate: Gate,
    /// Sample number of the gate's step 0.
    origin: u64,
    tags: Reader,
    open: Reader,
    commands: Reader,
    /// The stretch that is going on is too long for a tag.
    talk: bool,
    /// Step after the last stretch; how many tags it gave.
    last_end: Option<usize>,
    /// Step at which the latest stretch began.
    read_from: usize,
    last_was_talk: bool,
    last_gave_tags: bool,
    saying: Saying,
    /// How loud the latest tags were, where the plan says that others are near.
    others: Option<Levels>,
    /// Loudest part of the latest tags or command.
    spoke_db: f32,
    /// The attention word was heard alone: until this step, and with this onset.
    called: Option<(usize, At)>,
    /// The word for a change was heard alone: details until this step belong to it.
    changing: Option<usize>,
    /// The stretch that begins here goes on from a long breath of tags.
    went_on: Option<usize>,
    /// A command waits until it is sure that no talk follows.
    waiting: Option<(usize, HeardTag)>,
    dictation: Dictation,
    /// Kept only for measurements that asked for them.
    looks: Option<Vec<Look>>,
    learnt: Matcher,
    clicks: Clicks,
    /// The latest sound that marked, and the latest words.
    marked: Option<marks::Placed>,
    spoken: Option<marks::Placed>,
}

/// One stretch: its steps, the samples that were read, and what the recogniser read.
struct Stretch<'a> {
    began: usize,
    end: usize,
    first: u64,
    last: u64,
    /// The same without its noise, where there is much.
    ways: &'a [Vec<i16>],
    tags: &'a [Alternative],
    open: &'a [Alternative],
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
    /// know is no error when every phrase with it was learnt.
    ///
    /// # Errors
    /// As for [`Ears::new`].
    pub fn taught(
        mut model: SpeechModel,
        words: &Words,
        learnt: &Learnt,
    ) -> Result<Self, HearError> {
        let grammar = Grammar::new(words);
        let vocabulary = grammar.vocabulary();
        let mut unknown = model.unknown(&vocabulary);
        let learnt = learnt.matcher(|phrase| taught::is_one_thing(&grammar, phrase));
        let is_in = |word: &str, phrase: &str| phrase.split(' ').any(|part| part == word);
        let needed = |word: &str| {
            let mut phrases = words.iter().map(|(_, phrase)| phrase);
            phrases.any(|phrase| is_in(word, phrase) && !learnt.knows(phrase))
        };
        let silent: Vec<String> = unknown.iter().map(|unknown| unknown.word.clone()).collect();
        unknown.retain(|unknown| needed(&unknown.word));
        if !unknown.is_empty() {
            return Err(HearError::UnknownWords(unknown));
        }
        let sayable = |mut lines: Vec<String>| {
            lines.retain(|line| !silent.iter().any(|word| is_in(word, line)));
            lines
        };
        let frequent = Frequent::english();
        let tag_words = grammar.tags();
        let taken: Vec<&str> = tag_words.iter().flat_map(|tag| tag.split(' ')).collect();
        let ordinary = model.known(&frequent.others(ORDINARY, &taken));
        let called = grammar.called_commands();
        let taken: Vec<&str> = called.iter().flat_map(|line| line.split(' ')).collect();
        let beside = model.known(&frequent.others(ORDINARY, &taken));
        let reader =
            |lines, readings| Recogniser::new(&model, Some(lines), readings).map(Reader::new);
        Ok(Ears {
            tags: reader(sayable(lines::tags(&grammar)), READINGS.0)?,
            open: reader(sayable(lines::open(&grammar, &ordinary)), READINGS.1)?,
            commands: reader(sayable(lines::commands(&grammar, &beside)), READINGS.1)?,
            past: Past::new((LONGEST + 100) * STEP),
            room: Vec::new(),
            wiener: Wiener::new(),
            gate: Gate::new(),
            origin: 0,
            talk: false,
            last_end: None,
            read_from: 0,
            last_was_talk: false,
            last_gave_tags: false,
            saying: Saying::default(),
            others: words.others_near().then(Levels::default),
            spoke_db: f32::MIN,
            called: None,
            changing: None,
            went_on: None,
            waiting: None,
            dictation: Dictation::default(),
            looks: None,
            learnt,
            clicks: Clicks::new(words.marker_sounds().clone()),
            marked: None,
            spoken: None,
            model,
            grammar,
        })
    }

    /// Takes a frame; gives what was decided with it.
    pub fn hear(&mut self, frame: &Frame) -> Vec<Heard> {
        let mut heard = Vec::new();
        if frame.first_sample != self.past.end() {
            heard.extend(self.finish());
            self.origin += frame.first_sample - self.past.end().min(frame.first_sample);
            self.past.start_at(frame.first_sample);
            self.clicks.start_at(frame.first_sample);
        }
        for sample in &frame.samples {
            self.past.push(*sample);
            if let Some(click) = self.clicks.hear(*sample) {
                heard.push(self.clicked(click));
            }
            match self.gate.hear(*sample) {
                Some(Change::Closed(_, to)) if self.dictation.is_on() => self.last_end = Some(to),
                Some(Change::Closed(from, to)) => heard.extend(self.closed(from, to)),
                Some(Change::Rose) => self.begin_anew(),
                Some(Change::Opened) | None => {}
            }
        }
        if self.dictation.is_on() {
            heard.extend(self.take_down(frame));
        } else {
            heard.extend(self.go_on());
        }
        heard.extend(self.lost());
        heard
    }

    /// Takes what is said from now on as it is, without looking for tags, until a silence; then it comes as
    /// [`Heard::Note`].
    ///
    /// # Errors
    /// [`HearError::Recogniser`] when the free recogniser does not start.
    pub fn dictate(&mut self) -> Result<(), HearError> {
        self.stop_reading();
        self.dictation.end();
        let now = self.now();
        self.dictation.begin(&self.model, now, self.gate.steps());
        if self.dictation.is_on() { Ok(()) } else { Err(HearError::Recogniser) }
    }

    /// Forgets the sound so far: what comes next is another recording, from its first sample on.
    pub fn start_anew(&mut self) {
        for reader in [&mut self.tags, &mut self.open, &mut self.commands] {
            reader.give_up();
        }
        self.past.start_at(0);
        self.clicks.start_at(0);
        self.marked = None;
        self.spoken = None;
        self.room.clear();
        self.gate = Gate::new();
        self.origin = 0;
        self.talk = false;
        self.last_end = None;
        self.read_from = 0;
        self.last_was_talk = false;
        self.last_gave_tags = false;
        self.saying = Saying::default();
        self.others = self.others.is_some().then(Levels::default);
        self.spoke_db = f32::MIN;
        self.called = None;
        self.changing = None;
        self.went_on = None;
        self.waiting = None;
        self.dictation.end();
        self.looks.iter_mut().for_each(Vec::clear);
    }

    /// Up to here everything is decided: no tag with an earlier onset can still come.
    pub fn settled(&self) -> At {
        let now = self.now();
        let open = self.gate.began().filter(|_| !self.talk).map(|step| self.at_step(step));
        let waiting = self.waiting.as_ref().map(|(_, tag)| tag.at);
        let click = self.clicks.pending().map(|sample| At::of_sample(sample, RATE));
        open.unwrap_or(now).back(LOOK_BACK).min(waiting.unwrap_or(now)).min(click.unwrap_or(now))
    }

    /// The sound has ended: decides what is left.
    pub fn finish(&mut self) -> Vec<Heard> {
        let mut heard: Vec<Heard> = match self.gate.finish() {
            Some(Change::Closed(from, to)) if !self.dictation.is_on() => self.closed(from, to),
            _ => Vec::new(),
        };
        heard.extend(self.no_longer_waiting());
        if let Some((at, text)) = self.dictation.end() {
            heard.push(Heard::Note { at, to: self.now(), text });
        }
        heard.extend(self.lost());
        heard
    }

    fn now(&self) -> At {
        At::of_sample(self.past.end(), RATE)
    }

    fn at_step(&self, step: usize) -> At {
        At::of_sample(self.sample_of(step), RATE)
    }

    fn sample_of(&self, step: usize) -> u64 {
        self.origin + (step * STEP) as u64
    }

    /// After each frame: reads ahead in a stretch that may be over, lets a command go that waited enough.
    fn go_on(&mut self) -> Vec<Heard> {
        if let Some(began) = self.gate.began() {
            if self.gate.steps() - began > LONGEST && !self.talk {
                return self.long_breath(began);
            }
            if self.gate.quiet() >= MAYBE_OVER && !self.talk {
                let (from, to) = (self.lead(began), self.past.end());
                self.open.ahead(&self.past, from, to);
                self.tags.ahead(&self.past, from, to);
            }
        }
        self.command_due()
    }

    /// What was read of the stretch so far was only the sound around.
    fn begin_anew(&mut self) {
        self.talk = false;
        self.stop_reading();
    }

    fn stop_reading(&mut self) {
        self.tags.give_up();
        self.open.give_up();
    }

    fn take_down(&mut self, frame: &Frame) -> Option<Heard> {
        let spoken_to = match self.gate.began() {
            Some(_) => None,
            None => Some(self.last_end.unwrap_or(0)),
        };
        let step = self.gate.steps();
        let (at, text) = self.dictation.hear(frame, step, spoken_to)?;
        self.last_was_talk = true;
        Some(Heard::Note { at, to: self.now(), text })
    }

    fn lead(&self, began: usize) -> u64 {
        // What was said before is not read again.
        let free = self.last_end.map_or(0, |end| self.sample_of(end));
        self.sample_of(began).saturating_sub((LEAD * STEP) as u64).max(free)
    }

    /// Steps between the last stretch and the one that began here.
    fn quiet_before(&self, began: usize) -> usize {
        self.last_end.map_or(began, |last| began.saturating_sub(last))
    }

    /// Decides over a stretch that has ended.
    fn closed(&mut self, began: usize, end: usize) -> Vec<Heard> {
        let quiet_before = self.quiet_before(began);
        let first = self.lead(began);
        self.last_end = Some(end);
        self.read_from = began;
        let after_tags = std::mem::take(&mut self.last_gave_tags) && quiet_before <= ECHO;
        let echo = after_tags && self.gate.loudest() < self.spoke_db - ECHO_DB;
        let (from, to) = (self.at_step(began), self.at_step(end));
        let other = Heard::Other { from, to };
        if std::mem::take(&mut self.talk) {
            self.last_was_talk = true;
            return vec![other];
        }
        let last = self.past.end();
        let mut open = self.open.finish(&self.past, first, last);
        let mut tags = self.tags.finish(&self.past, first, last);
        if self.model.process().has_lost() {
            // Half of the readings would be no ground for anything.
            return Vec::new();
        }
        let fits = (SHORTEST..=LONGEST).contains(&(end - began))
            && (quiet_before >= QUIET_BEFORE || !self.last_was_talk || self.gate.rose())
            && !echo;
        let (mut candidate, mut gaps) = self.compare(&tags, &open);
        self.learn_room(quiet_before, first);
        let ways = if fits && is_unclear(gaps) { self.ways(first, last) } else { Vec::new() };
        if !ways.is_empty() {
            open = with_ways(open, &mut self.open, &ways);
            tags = with_ways(tags, &mut self.tags, &ways);
            (candidate, gaps) = self.compare(&tags, &open);
        }
        let height_db = self.gate.height();
        if let Some(looks) = &mut self.looks {
            looks.push(Look {
                from,
                to,
                tags: tags.iter().map(|a| (a.score, a.text())).collect(),
                open: open.iter().map(|a| (a.score, a.text())).collect(),
                gap_words: gaps.words,
                gap_nothing: gaps.nothing,
                quiet_before: quiet_before as f64 / 100.0,
                height_db,
            });
        }
        self.last_was_talk = judge::is_talk(&open, &self.grammar);
        let bounds = TagBounds::of(self.model.is_taught());
        let bounds = if self.in_noise() { bounds.noise } else { bounds.quiet };
        let verdict = match candidate {
            Some(candidate) if fits => judge::judge(candidate, gaps, bounds, &open, &self.grammar),
            _ => Verdict::Other,
        };
        let learnt = if fits { self.by_learnt(began, end) } else { None };
        let stretch = Stretch { began, end, first, last, tags: &tags, open: &open, ways: &ways };
        if let Some(heard) = self.weigh(&stretch, learnt, &verdict) {
            return heard;
        }
        if fits && let Some(heard) = self.command(&stretch) {
            return heard;
        }
        match verdict {
            Verdict::Tags(candidate) => self.give(began, end, first, &candidate),
            Verdict::Doubt(candidate, other) => {
                let mut heard = self.talk_after(began, &open);
                heard.push(Heard::Doubt(self.doubt(began, first, &candidate.words, other)));
                heard
            }
            Verdict::Other => {
                let mut heard = vec![other];
                heard.extend(self.talk_after(began, &open));
                heard
            }
        }
    }

    /// Takes back what was said just before, if this stretch is talk.
    fn talk_after(&mut self, began: usize, open: &[Alternative]) -> Vec<Heard> {
        if !judge::is_talk(open, &self.grammar) {
            return Vec::new();
        }
        let best = spoken(open).map(Alternative::text).unwrap_or_default();
        self.talk_goes_on(began, &best)
    }

    /// The best tags, and how far they are behind everything else.
    fn compare(&self, tags: &[Alternative], open: &[Alternative]) -> (Option<Candidate>, Gaps) {
        let candidate = judge::candidate(tags, &self.grammar);
        let gaps = candidate
            .as_ref()
            .map_or(Gaps::HOPELESS, |candidate| judge::gaps(candidate, open, &self.grammar));
        (candidate, gaps)
    }
}
