//! The third stage of the ears: a segment and its readings go in; what it is comes out. Pure: readings are asked for,
//! since each costs computing and few segments need all of them.

mod command;
mod learnt;
mod row;
mod word_by_word;

use super::readers::is_in_noise;
use crate::at::At;
use crate::hear::HeardTag;
use crate::hear::personal::{Match, Matcher};
use crate::hear::recogniser::{Alternative, Placed, spoken};
use crate::hear::segmenter::Segment;
use crate::hear::verdict::{self, Bounds, Candidate, Gaps, TagBounds, Verdict};
use crate::interpret::{Grammar, NotCounted, Reading, Said};
pub(super) use learnt::is_one_thing;
use word_by_word::{Was, WordByWord};

/// Steps of quiet that a tag has between it and talk before it.
const QUIET_BEFORE: usize = 20;
/// A tag that is ahead by this much of everything else is right in noise too.
const AHEAD: f32 = 3.0;

/// What a segment was read as, best first.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Readings {
    /// With tags alone.
    pub(super) tags: Vec<Alternative>,
    /// With tags among ordinary words.
    pub(super) open: Vec<Alternative>,
}

/// What the judge may ask about a segment.
pub(super) trait Evidence {
    /// Readings among ordinary words; none when the recogniser ended over it.
    fn open(&mut self) -> Option<Vec<Alternative>>;

    /// Readings with tags alone; none when the recogniser ended over it.
    fn tags(&mut self) -> Option<Vec<Alternative>>;

    /// These together with further readings of a segment in noise, by a model that knows noise or with less of it; as they
    /// are where there is little.
    fn denoised(&mut self, read: Readings) -> Readings;

    /// Readings as a command.
    fn commands(&mut self) -> Vec<Alternative>;

    /// What it is by what was learnt.
    fn learnt(&mut self, learnt: &Matcher) -> Option<Match>;
}

/// By what all segments are judged.
pub(super) struct Rules {
    pub(super) grammar: Grammar,
    pub(super) bounds: TagBounds,
    /// What is at most so far behind ordinary words or nothing may become a tag when it is read again.
    pub(super) behind: f32,
    pub(super) learnt: Matcher,
}

impl Rules {
    /// The bounds for this segment.
    fn bounds(&self, segment: &Segment) -> Bounds {
        let TagBounds { quiet, noise } = self.bounds;
        if is_in_noise(segment) { noise } else { quiet }
    }
}

/// What a segment is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Judged {
    /// Tags.
    Tags(Candidate),
    /// A command.
    Command(HeardTag),
    /// The attention word alone: what follows may be a command.
    Called,
    /// An uncertain tag.
    Uncertain {
        /// The likelier reading.
        words: Vec<Placed>,
        /// The other.
        other: String,
        /// It is talk, and these are its words.
        talk: Option<String>,
    },
    /// No tag.
    Nothing {
        /// It is talk, and these are its words.
        talk: Option<String>,
    },
}

/// What a segment is, and from what that was judged.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judgement {
    pub(super) judged: Judged,
    pub(super) read: Readings,
    pub(super) gaps: Gaps,
}

/// The attention word was heard alone.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Call {
    /// A command begins at this step at the latest.
    until: usize,
    /// When it was said.
    at: At,
}

/// Judges segments, one after the other.
#[derive(Debug, Default)]
pub(super) struct Judge {
    /// The latest segment was talk.
    after_talk: bool,
    called: Option<Call>,
    word_by_word: WordByWord,
}

impl Judge {
    /// What a segment is. `echo`: it is softer than a tag just before, its echo or a breath. None when the recogniser
    /// ended over it: half of the readings proves nothing.
    pub(super) fn judge(
        &mut self,
        segment: &Segment,
        echo: bool,
        rules: &Rules,
        evidence: &mut impl Evidence,
    ) -> Option<Judgement> {
        let (open, tags) = (evidence.open(), evidence.tags());
        let mut read = Readings { tags: tags?, open: open? };
        let may_be_tag = segment.is_as_long_as_a_tag() && self.is_apart(segment) && !echo;
        let (mut candidate, mut gaps) = compare(&read, &rules.grammar);
        if may_be_tag && is_unclear(gaps, rules) {
            read = evidence.denoised(read);
            (candidate, gaps) = compare(&read, &rules.grammar);
        }
        self.after_talk = verdict::is_talk(&read.open, &rules.grammar);
        let verdict = match candidate {
            Some(candidate) if may_be_tag => {
                verdict::judge(candidate, gaps, rules.bounds(segment), &read.open, &rules.grammar)
            }
            _ => Verdict::Other,
        };
        let verdict = self.unless_word_by_word(segment, verdict, &read.open, &rules.grammar);
        let judged = if may_be_tag {
            self.otherwise(segment, &read, &verdict, rules, evidence)
        } else {
            None
        };
        if matches!(judged, Some(Judged::Command(_) | Judged::Called)) {
            // Who says the attention word is the trainer.
            self.word_by_word = WordByWord::default();
        }
        let judged = judged.unwrap_or_else(|| {
            let words = || spoken(&read.open).map(Alternative::text).unwrap_or_default();
            let talk = self.after_talk.then(words);
            match verdict {
                Verdict::Tags(candidate) => Judged::Tags(candidate),
                Verdict::Doubt(Candidate { words, .. }, other) => {
                    Judged::Uncertain { words, other, talk }
                }
                Verdict::Other => Judged::Nothing { talk },
            }
        });
        Some(Judgement { judged, read, gaps })
    }

    /// What a segment is that can be over but has not ended, when more of it would hardly change that: tags that are ahead
    /// of all else, and no part of a longer phrase. None when that is not sure.
    pub(super) fn surely(
        &mut self,
        segment: &Segment,
        rules: &Rules,
        evidence: &mut impl Evidence,
    ) -> Option<Judgement> {
        let is_called = self.called.is_some_and(|call| segment.began <= call.until);
        let is_clear = self.is_apart(segment) && !self.word_by_word.likely(segment);
        if !is_clear || is_called || !rules.learnt.is_empty() {
            return None;
        }
        let open = evidence.open()?;
        let words = open.first()?.texts();
        if rules.grammar.parse(&words).is_none() || may_go_on(&words, &rules.grammar) {
            return None;
        }
        let mut read = Readings { tags: evidence.tags()?, open };
        let (mut candidate, mut gaps) = compare(&read, &rules.grammar);
        if is_unclear(gaps, rules) {
            read = evidence.denoised(read);
            (candidate, gaps) = compare(&read, &rules.grammar);
        }
        if gaps.words.max(gaps.nothing) > 0.0 {
            return None;
        }
        let verdict =
            verdict::judge(candidate?, gaps, rules.bounds(segment), &read.open, &rules.grammar);
        let Verdict::Tags(tags) = verdict else { return None };
        let is_command = |it: &Reading| matches!(it.said, Said::Command { .. });
        if tags.readings.iter().any(is_command) {
            return None;
        }
        self.after_talk = false;
        self.word_by_word.take(segment, Was::Tags);
        Some(Judgement { judged: Judged::Tags(tags), read, gaps })
    }

    /// A verdict in the light of the words before: where they were other words, said one by one, tags are uncertain.
    fn unless_word_by_word(
        &mut self,
        segment: &Segment,
        verdict: Verdict,
        open: &[Alternative],
        grammar: &Grammar,
    ) -> Verdict {
        let likely = self.word_by_word.likely(segment);
        let was = match verdict {
            Verdict::Tags(_) => Was::Tags,
            _ if verdict::is_words(open, grammar) => Was::Talk,
            _ => Was::Sound,
        };
        self.word_by_word.take(segment, was);
        match verdict {
            Verdict::Tags(candidate) if likely => {
                Verdict::Doubt(candidate, NotCounted::WordByWord.name().to_owned())
            }
            verdict => verdict,
        }
    }

    /// Whether there is no talk close before a segment.
    fn is_apart(&self, segment: &Segment) -> bool {
        segment.quiet_before >= QUIET_BEFORE || !self.after_talk || segment.rose
    }

    /// What it is by what was learnt, or as a call or command; none when the verdict stands.
    fn otherwise(
        &mut self,
        segment: &Segment,
        read: &Readings,
        verdict: &Verdict,
        rules: &Rules,
        evidence: &mut impl Evidence,
    ) -> Option<Judged> {
        let learnt = evidence.learnt(&rules.learnt);
        learnt
            .and_then(|learnt| self.weigh(segment, read, learnt, verdict, rules))
            .or_else(|| self.command(segment, read, rules, evidence))
    }

    /// A segment was talk, or a note: what follows it closely is not a tag.
    pub(super) fn talk_ended(&mut self) {
        self.after_talk = true;
    }
}

/// The best tags, and how far they are behind everything else.
fn compare(read: &Readings, grammar: &Grammar) -> (Option<Candidate>, Gaps) {
    let candidate = verdict::candidate(&read.tags, grammar);
    let gaps = candidate
        .as_ref()
        .map_or(Gaps::HOPELESS, |candidate| verdict::gaps(candidate, &read.open, grammar));
    (candidate, gaps)
}

/// Whether words end as a longer phrase of the plan begins.
fn may_go_on(words: &[&str], grammar: &Grammar) -> bool {
    let tags = grammar.tags();
    (0..words.len()).any(|first| {
        let longer = format!("{} ", words[first..].join(" "));
        tags.iter().any(|tag| tag.starts_with(&longer))
    })
}

/// Whether a second look may change what a segment is.
fn is_unclear(gaps: Gaps, rules: &Rules) -> bool {
    let most = gaps.words.max(gaps.nothing);
    most > -AHEAD && most <= rules.behind
}

#[cfg(test)]
mod tests;
