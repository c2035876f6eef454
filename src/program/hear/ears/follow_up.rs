//! The last stage of the ears: what a segment is goes in; what is heard comes out, when nothing that may still follow can
//! change it. Pure.

mod early;
mod marks;
mod others;
mod saying;

use super::FOLLOWS;
use super::judge::Judged;
use super::moments;
use crate::at::At;
use crate::audio::RATE;
use crate::hear::clicks::Click;
use crate::hear::recogniser::Placed;
use crate::hear::segmenter::{Ongoing, Segment};
use crate::hear::verdict::Candidate;
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::{Details, NotCounted, OtherReading, Said};
use crate::plan::Command;
use early::Early;
use marks::Marks;
use others::Levels;
use saying::{Given, RESUMES, Saying, soon};

/// Nobody goes on talking this much softer than the tag before.
const AROUND_DB: f32 = 12.0;
/// After this many steps the level of what has begun shows which it is.
const SHOWS: usize = 10;
/// A segment at most this many steps after a tag and this much softer is the tag's own echo or breath.
const ECHO: usize = 25;
const ECHO_DB: f32 = 15.0;

/// What comes of a segment.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Outcome {
    /// What is heard now.
    pub(super) heard: Vec<Heard>,
    /// A note was asked for at this moment; its words come next.
    pub(super) note: Option<At>,
}

impl Outcome {
    fn heard(heard: Vec<Heard>) -> Self {
        Outcome { heard, note: None }
    }
}

/// A command that waits until it is sure that no talk follows.
#[derive(Debug)]
struct Waiting {
    /// The step after its segment.
    end: usize,
    tag: HeardTag,
}

impl Waiting {
    fn is_due(&self, step: usize) -> bool {
        step >= self.end + RESUMES
    }
}

/// Follows up what was heard.
#[derive(Debug)]
pub(super) struct FollowUp {
    saying: Saying,
    waiting: Option<Waiting>,
    /// The word for a change was heard alone: details that begin up to this step belong to it.
    changing: Option<usize>,
    /// Loudest part of the latest tags or command.
    spoke_db: f32,
    /// The latest segment gave tags.
    gave_tags: bool,
    /// What was told of the segment that has not ended.
    early: Option<Early>,
    /// How loud the latest tags were, where the plan says that others are near.
    others: Option<Levels>,
    marks: Marks,
}

impl FollowUp {
    /// `others_near`: others may say the words too.
    pub(super) fn new(others_near: bool) -> Self {
        FollowUp {
            saying: Saying::default(),
            waiting: None,
            changing: None,
            spoke_db: f32::MIN,
            gave_tags: false,
            early: None,
            others: others_near.then(Levels::default),
            marks: Marks::default(),
        }
    }

    /// Whether a segment that has ended is the echo or the breath of a tag just before.
    pub(super) fn is_echo(&mut self, segment: &Segment) -> bool {
        let is_echo = self.may_be_echo(segment);
        self.gave_tags = false;
        is_echo
    }

    /// Whether nothing is told of a segment before it has ended: it may be an echo, or said by another.
    pub(super) fn waits_for_end(&self, segment: &Segment) -> bool {
        let level_db = segment.loudest_db;
        let by_another = self.others.as_ref().is_some_and(|levels| levels.is_softer(level_db));
        by_another || self.may_be_echo(segment)
    }

    fn may_be_echo(&self, segment: &Segment) -> bool {
        let after_tags = self.gave_tags && segment.quiet_before <= ECHO;
        after_tags && segment.loudest_db < self.spoke_db - ECHO_DB
    }

    /// Takes what a segment is.
    pub(super) fn take(&mut self, segment: &Segment, judged: Judged) -> Outcome {
        let told = self.early.take().filter(|told| told.began == segment.began);
        let Some(told) = told else { return self.take_whole(segment, judged) };
        if let Judged::Tags(all) = &judged
            && let Some(rest) = told.rest(all)
        {
            return Outcome::heard(self.give_rest(segment, &told, &rest));
        }
        match judged {
            // Two readings of the same sound: neither is sure.
            Judged::Tags(Candidate { words, .. }) => {
                Outcome::heard(self.take_back(segment, &words, told.text()))
            }
            Judged::Uncertain { words, other, talk: None } => {
                Outcome::heard(self.take_back(segment, &words, other))
            }
            Judged::Nothing { talk: None } => {
                Outcome::heard(self.take_back(segment, &told.tags.words, String::new()))
            }
            // Talk withdraws it with all that was said just before, and a command ends it.
            other => self.take_whole(segment, other),
        }
    }

    fn take_whole(&mut self, segment: &Segment, judged: Judged) -> Outcome {
        match judged {
            Judged::Tags(tags) => Outcome::heard(self.give(segment, &tags)),
            Judged::Command(tag) => self.command(segment, tag),
            Judged::Called => Outcome::default(),
            Judged::Uncertain { words, other, talk } => {
                let mut heard =
                    talk.map(|talk| self.talk_goes_on(segment, talk)).unwrap_or_default();
                heard.push(Heard::Doubt(moments::uncertain(segment, &words, other)));
                Outcome::heard(heard)
            }
            Judged::Nothing { talk } => {
                let (from, to) =
                    (At::of_sample(segment.from, RATE), At::of_sample(segment.to, RATE));
                let mut heard = vec![Heard::Other { from, to }];
                heard.extend(talk.into_iter().flat_map(|talk| self.talk_goes_on(segment, talk)));
                Outcome::heard(heard)
            }
        }
    }

    /// Takes tags of a segment that has not ended.
    pub(super) fn take_early(&mut self, segment: &Segment, judged: Judged) -> Vec<Heard> {
        let Judged::Tags(tags) = judged else { return Vec::new() };
        let heard = self.give(segment, &tags);
        self.early = Some(Early { began: segment.began, tags });
        heard
    }

    /// Nothing more came of tags that were told before their segment ended; it ended at this step.
    pub(super) fn told_ended(&mut self, step: usize) {
        self.early = None;
        self.saying.goes_on_until(step);
    }

    /// Gives what the whole segment has after what was told of it.
    fn give_rest(&mut self, segment: &Segment, told: &Early, rest: &Candidate) -> Vec<Heard> {
        self.saying.goes_on_until(segment.end);
        self.spoke_db = segment.loudest_db;
        self.gave_tags = true;
        if rest.readings.is_empty() {
            return Vec::new();
        }
        let tags = moments::tags(segment, rest);
        let doubt = moments::uncertain(segment, &told.beyond(rest), String::new());
        let at = tags.first().map_or(doubt.at, |tag| tag.at);
        self.give_tags(segment, tags, Doubt { at, ..doubt })
    }

    /// The whole segment is something else than what was told of it, which is kept as a doubt.
    fn take_back(&mut self, segment: &Segment, words: &[Placed], other: String) -> Vec<Heard> {
        let doubt = moments::uncertain(segment, words, other);
        let told = self.saying.take_last().into_iter();
        told.map(|told| Heard::Withdrawn(Doubt { at: told.doubt.at, ..doubt.clone() })).collect()
    }

    /// Takes tags of a breath that still goes on.
    pub(super) fn take_row(&mut self, segment: &Segment, tags: &Candidate) -> Vec<Heard> {
        let Outcome { heard, .. } = self.take(segment, Judged::Tags(tags.clone()));
        self.gave_tags = false;
        heard
    }

    /// Talk as long as no tag goes on: it withdraws what was said just before; what waited longer comes now.
    pub(super) fn talk_goes_on(&mut self, segment: &Segment, other: String) -> Vec<Heard> {
        if self.is_around(segment.loudest_db) {
            return Vec::new();
        }
        self.early = None;
        let (began, decided) = (segment.began, segment.decided());
        if let Some(Waiting { tag, .. }) = self.waiting.take_if(|waiting| soon(waiting.end, began))
        {
            let HeardTag { at, end, words, .. } = tag;
            return vec![Heard::Doubt(Doubt { at, end, words, other: other.into(), decided })];
        }
        let mut heard = self.no_longer_waiting();
        let withdrawn = self.saying.before(began);
        heard.extend(
            withdrawn.map(|given| {
                Heard::Withdrawn(Doubt { other: other.into(), decided, ..given.doubt })
            }),
        );
        heard
    }

    /// Such talk has ended.
    pub(super) fn talk_ended(&mut self, from: At, to: At) -> Heard {
        self.gave_tags = false;
        Heard::Other { from, to }
    }

    /// Takes a click or whistle.
    pub(super) fn clicked(&mut self, click: Click, decided: At) -> Heard {
        let heard = self.marks.clicked(click, decided);
        if matches!(heard, Heard::Tags(_)) {
            // Talk that withdraws what was said before would take this along.
            self.saying = Saying::default();
        }
        heard
    }

    /// Time has passed up to `step`: the command that waited, once no talk followed it.
    pub(super) fn pass(&mut self, step: usize, ongoing: Option<Ongoing>) -> Vec<Heard> {
        let undecided = |it: Ongoing| it.steps < SHOWS || !self.is_around(it.loudest_db);
        let is_due = self.waiting.as_ref().is_some_and(|waiting| waiting.is_due(step));
        if !is_due || ongoing.is_some_and(undecided) {
            return Vec::new();
        }
        self.no_longer_waiting()
    }

    /// The command that waited, now: talk can no longer withdraw it, nor what came before it.
    pub(super) fn no_longer_waiting(&mut self) -> Vec<Heard> {
        let Some(Waiting { tag, .. }) = self.waiting.take() else { return Vec::new() };
        self.saying = Saying::default();
        vec![Heard::Tags(vec![tag])]
    }

    /// Onset of the command that waits.
    pub(super) fn waits_since(&self) -> Option<At> {
        self.waiting.as_ref().map(|waiting| waiting.tag.at)
    }

    /// Gives tags, after a command that still waited.
    fn give(&mut self, segment: &Segment, candidate: &Candidate) -> Vec<Heard> {
        let mut heard = self.no_longer_waiting();
        let doubt = moments::uncertain(segment, &candidate.words, String::new());
        if self.is_by_another(segment) {
            heard.push(by_another(doubt));
            return heard;
        }
        heard.extend(self.give_tags(segment, moments::tags(segment, candidate), doubt));
        heard
    }

    /// Gives tags of the trainer; as `doubt` they are withdrawn if they were the beginning of talk.
    fn give_tags(
        &mut self,
        segment: &Segment,
        mut tags: Vec<HeardTag>,
        doubt: Doubt,
    ) -> Vec<Heard> {
        if self.changing.take().is_some_and(|until| segment.began <= until)
            && let Some(tag) = tags.first_mut()
            && let Said::Detail(details) = tag.said
        {
            tag.said = Said::Change(details);
        }
        if matches!(tags.last(), Some(tag) if tag.said == Said::Change(Details::default())) {
            self.changing = Some(segment.end + FOLLOWS);
        }
        self.spoke_db = segment.loudest_db;
        self.gave_tags = true;
        self.saying.add(segment.began, Given { end_step: segment.end, doubt });
        vec![self.marks.said(tags, segment.decided())]
    }

    /// A command ends things, so it waits a moment: what it begins may be a sentence. But for a note, whose
    /// words may follow at once.
    fn command(&mut self, segment: &Segment, tag: HeardTag) -> Outcome {
        if self.is_by_another(segment) {
            let HeardTag { at, end, words, decided, .. } = tag;
            let doubt = Doubt { at, end, words, other: OtherReading::Nothing, decided };
            return Outcome::heard(vec![by_another(doubt)]);
        }
        if tag.said == (Said::Command { command: Command::Note }) {
            let note = Some(tag.at);
            return Outcome { heard: vec![Heard::Tags(vec![tag])], note };
        }
        let before = self.no_longer_waiting();
        self.spoke_db = segment.loudest_db;
        self.waiting = Some(Waiting { end: segment.end, tag });
        Outcome::heard(before)
    }

    /// Whether a segment is by another than the trainer; never, unless the plan says that others are near.
    fn is_by_another(&mut self, segment: &Segment) -> bool {
        self.others.as_mut().is_some_and(|levels| levels.is_another(segment.loudest_db))
    }

    /// Whether it is so much softer than what was said last that it is the sound around and not the trainer who goes on.
    fn is_around(&self, loudest_db: f32) -> bool {
        loudest_db < self.spoke_db - AROUND_DB
    }
}

/// This, said by another than the trainer.
fn by_another(doubt: Doubt) -> Heard {
    Heard::Doubt(Doubt { other: NotCounted::SaidByAnother.into(), ..doubt })
}

#[cfg(test)]
mod tests;
