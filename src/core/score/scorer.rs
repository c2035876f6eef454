//! Adds up files.

use std::collections::BTreeMap;
use std::time::Duration;

use super::align::{Fate, align};
use super::figures::{Confusion, Figures, Spread, WordFigures};
use super::{HeardLive, TruthSegment};
use crate::at::At;
use crate::heard::{Heard, HeardTag};
use crate::interpret::Said;

/// An utterance belongs to a segment that it overlaps when both are widened by this.
const NEAR_S: f64 = 0.3;

/// Figures so far.
#[derive(Debug, Clone, Default)]
pub struct Scorer {
    right: usize,
    wrong: usize,
    missed: usize,
    unsure: usize,
    unsure_right: usize,
    extra: usize,
    words: BTreeMap<String, (usize, usize)>,
    confusions: BTreeMap<(String, String), usize>,
    nothing_s: f64,
    false_tags: usize,
    lone_details: usize,
    doubts: usize,
    commands: usize,
    onsets_ms: Vec<f64>,
    delays_ms: Vec<f64>,
    sound_s: f64,
    computing_s: f64,
}

/// One thing that was heard, as far as scoring cares.
struct Utterance {
    from: f64,
    to: f64,
    answered: f64,
    words: Vec<String>,
    /// Empty for a doubt.
    tags: Vec<HeardTag>,
}

impl Utterance {
    fn is_doubt(&self) -> bool {
        self.tags.is_empty()
    }

    fn is_command(&self) -> bool {
        self.tags.iter().any(|tag| matches!(tag.said, Said::Command { .. }))
    }
}

impl Scorer {
    /// Nothing measured yet.
    pub fn new() -> Self {
        Scorer::default()
    }

    /// Adds a file: its truth, what was heard in it, how long it is and how long it took to compute.
    /// `detail_window` is how long after a marker its details may follow.
    pub fn add(
        &mut self,
        truth: &[TruthSegment],
        heard: &[HeardLive],
        sound: Duration,
        computing: Duration,
        detail_window: Duration,
    ) {
        self.sound_s += sound.as_secs_f64();
        self.computing_s += computing.as_secs_f64();
        let heard = utterances(heard);
        let mut of_segment: Vec<Vec<&Utterance>> = vec![Vec::new(); truth.len()];
        for utterance in &heard {
            let overlap = |segment: &TruthSegment| {
                utterance.to.min(segment.end_s + NEAR_S)
                    - utterance.from.max(segment.start_s - NEAR_S)
            };
            // A segment with words has the first claim: what is near them was meant by them.
            let best = truth
                .iter()
                .enumerate()
                .map(|(index, segment)| (!segment.words.is_empty(), overlap(segment), index))
                .filter(|(_, overlap, _)| *overlap > 0.0)
                .max_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            if let Some((_, _, index)) = best {
                of_segment[index].push(utterance);
            }
        }
        let mut marked: Option<At> = None;
        for (segment, utterances) in truth.iter().zip(of_segment) {
            if segment.words.is_empty() {
                self.nothing_s += segment.end_s - segment.start_s;
                self.nothing(&utterances, &mut marked, detail_window);
            } else {
                self.said(segment, &utterances);
            }
        }
    }

    fn nothing(
        &mut self,
        utterances: &[&Utterance],
        marked: &mut Option<At>,
        detail_window: Duration,
    ) {
        for utterance in utterances {
            if utterance.is_doubt() {
                self.doubts += 1;
            }
            for tag in &utterance.tags {
                match tag.said {
                    Said::Command { .. } => self.commands += 1,
                    Said::Detail(_) if marked.is_none_or(|at| tag.at.since(at) > detail_window) => {
                        self.lone_details += 1;
                        continue;
                    }
                    Said::Rep(_) => *marked = Some(tag.at),
                    _ => {}
                }
                self.false_tags += 1;
                self.confuse("(other sound)", &tag.words);
            }
        }
    }

    fn said(&mut self, segment: &TruthSegment, utterances: &[&Utterance]) {
        let sure: Vec<&Utterance> =
            utterances.iter().filter(|utterance| !utterance.is_doubt()).copied().collect();
        let heard: Vec<&str> =
            sure.iter().flat_map(|utterance| &utterance.words).map(String::as_str).collect();
        let mut doubted: Vec<&str> = utterances
            .iter()
            .filter(|utterance| utterance.is_doubt())
            .flat_map(|utterance| &utterance.words)
            .map(String::as_str)
            .collect();
        let mut all_right = true;
        let mut first_right = false;
        for fate in align(&segment.words, &heard) {
            if let Fate::Right(said, _) | Fate::Wrong(said, _) | Fate::Missed(said) = fate {
                self.words.entry(segment.words[said].clone()).or_default().0 += 1;
            }
            all_right &= matches!(fate, Fate::Right(..));
            match fate {
                Fate::Right(said, place) => {
                    self.right += 1;
                    self.words.entry(segment.words[said].clone()).or_default().1 += 1;
                    first_right |= said == 0 && place == 0;
                }
                Fate::Wrong(said, place) => {
                    self.wrong += 1;
                    self.confuse(&segment.words[said], heard[place]);
                }
                Fate::Missed(said) if !doubted.is_empty() => {
                    let word = &segment.words[said];
                    let place = doubted.iter().position(|doubted| doubted == word);
                    self.unsure += 1;
                    self.unsure_right += usize::from(place.is_some());
                    let doubt = doubted.remove(place.unwrap_or(0));
                    self.confuse(word, &format!("{doubt}?"));
                }
                Fate::Missed(said) => {
                    self.missed += 1;
                    self.confuse(&segment.words[said], "");
                }
                Fate::Extra(place) => {
                    self.extra += 1;
                    self.confuse("(nothing)", heard[place]);
                }
            }
        }
        if let Some(tag) = sure.first().and_then(|utterance| utterance.tags.first())
            && first_right
        {
            self.onsets_ms.push(1_000.0 * (tag.at.as_secs_f64() - segment.start_s));
        }
        if let [only] = sure[..]
            && all_right
            && !only.is_command()
        {
            self.delays_ms.push(1_000.0 * (only.answered - segment.end_s));
        }
    }

    fn confuse(&mut self, said: &str, heard: &str) {
        *self.confusions.entry((said.to_owned(), heard.to_owned())).or_default() += 1;
    }

    /// The figures.
    pub fn figures(&self) -> Figures {
        let mut per_word: Vec<WordFigures> = self
            .words
            .iter()
            .map(|(word, (expected, right))| WordFigures {
                word: word.clone(),
                expected: *expected,
                right: *right,
                recall: *right as f64 / *expected as f64,
            })
            .collect();
        per_word.sort_by(|a, b| a.recall.total_cmp(&b.recall).then(a.word.cmp(&b.word)));
        let mut confusions: Vec<Confusion> = self
            .confusions
            .iter()
            .map(|((said, heard), times)| Confusion {
                said: said.clone(),
                heard: heard.clone(),
                times: *times,
            })
            .collect();
        confusions.sort_by(|a, b| b.times.cmp(&a.times).then(a.said.cmp(&b.said)));
        let expected = per_word.iter().map(|word| word.expected).sum::<usize>();
        let share = |part: f64, whole: f64| (whole > 0.0).then(|| part / whole);
        Figures {
            tags_expected: expected,
            right: self.right,
            wrong: self.wrong,
            missed: self.missed,
            unsure: self.unsure,
            unsure_right: self.unsure_right,
            extra: self.extra,
            recall: share(self.right as f64, expected as f64),
            worst_word: per_word.first().map(|word| (word.word.clone(), word.recall)),
            per_word,
            nothing_s: self.nothing_s,
            false_tags: self.false_tags,
            false_tags_per_hour: share(self.false_tags as f64, self.nothing_s / 3_600.0),
            lone_details: self.lone_details,
            doubts: self.doubts,
            accidental_commands: self.commands,
            onset_error_ms: Spread::of(&self.onsets_ms),
            delay_ms: Spread::of(&self.delays_ms),
            real_time_factor: share(self.computing_s, self.sound_s),
            sound_s: self.sound_s,
            confusions,
        }
    }
}

/// What was heard as utterances; what was withdrawn becomes a doubt.
fn utterances(heard: &[HeardLive]) -> Vec<Utterance> {
    let mut list: Vec<Utterance> = Vec::new();
    let texts = |words: &str| words.split_whitespace().map(str::to_owned).collect();
    for HeardLive { heard, answered } in heard {
        let answered = answered.as_secs_f64();
        match heard {
            Heard::Tags(tags) => {
                let (Some(first), Some(last)) = (tags.first(), tags.last()) else { continue };
                list.push(Utterance {
                    from: first.at.as_secs_f64(),
                    to: last.end.as_secs_f64(),
                    answered,
                    words: tags.iter().flat_map(|tag| texts(&tag.words)).collect::<Vec<_>>(),
                    tags: tags.clone(),
                });
            }
            Heard::Doubt(doubt) => list.push(Utterance {
                from: doubt.at.as_secs_f64(),
                to: doubt.end.as_secs_f64(),
                answered,
                words: texts(&doubt.words),
                tags: Vec::new(),
            }),
            Heard::Withdrawn(doubt) => {
                let since = doubt.at;
                list.iter_mut().for_each(|said| said.tags.retain(|tag| tag.at < since));
            }
            Heard::Note { .. } | Heard::Lost { .. } | Heard::Other { .. } => {}
        }
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::heard::Doubt;
    use crate::interpret::{Details, OtherReading};

    fn at(seconds: f64) -> At {
        At::from_secs_f64(seconds)
    }

    fn tag(from: f64, words: &str, said: Said) -> HeardLive {
        let words = words.to_owned();
        let tag =
            HeardTag { at: at(from), end: at(from + 0.4), said, words, decided: at(from + 0.6) };
        HeardLive { heard: Heard::Tags(vec![tag]), answered: Duration::from_secs_f64(from + 0.61) }
    }

    fn doubt(from: f64, words: &str) -> HeardLive {
        let (words, other) = (words.to_owned(), OtherReading::Nothing);
        let doubt =
            Doubt { at: at(from), end: at(from + 0.4), words, other, decided: at(from + 0.6) };
        HeardLive { heard: Heard::Doubt(doubt), answered: Duration::from_secs_f64(from + 0.61) }
    }

    fn score(truth: &str, heard: &[HeardLive]) -> Figures {
        let truth =
            super::super::truth_segments(&format!("file,start_s,end_s,words\n{truth}")).unwrap();
        let mut scorer = Scorer::new();
        let (sound, computing) = (Duration::from_secs(100), Duration::from_secs(5));
        scorer.add(&truth["a"], heard, sound, computing, Duration::from_secs(4));
        scorer.figures()
    }

    fn rep() -> Said {
        Said::Rep(Details::default())
    }

    #[test]
    fn every_word_has_one_fate() {
        let truth = "a,1,1.4,yes\na,3,3.4,yes\na,5,5.4,miss\na,7,7.4,miss\na,9,9.4,yes";
        let heard = [
            tag(1.01, "yes", rep()),
            tag(5.0, "yes", rep()),
            doubt(7.0, "miss"),
            doubt(9.0, "miss"),
        ];
        let figures = score(truth, &heard);
        let counts = (figures.right, figures.wrong, figures.missed, figures.unsure, figures.extra);
        assert_eq!(counts, (1, 1, 1, 2, 0));
        assert_eq!((figures.tags_expected, figures.unsure_right), (5, 1));
        assert_eq!(figures.recall, Some(0.2));
        let onset = figures.onset_error_ms.unwrap();
        assert!((onset.bias - 10.0).abs() < 0.01 && onset.n == 1);
        let delay = figures.delay_ms.unwrap();
        assert!((delay.median - 220.0).abs() < 0.01 && delay.n == 1);
        assert_eq!(figures.real_time_factor, Some(0.05));
    }

    #[test]
    fn what_would_be_written_during_talk_is_false() {
        let detail = || Said::Detail(Details { step: Some(2), ..Details::default() });
        let heard = [
            tag(10.0, "two", detail()),
            tag(20.0, "yes", rep()),
            tag(21.0, "two", detail()),
            doubt(30.0, "yes"),
        ];
        let figures = score("a,0,36,", &heard);
        assert_eq!((figures.false_tags, figures.lone_details, figures.doubts), (2, 1, 1));
        assert_eq!(figures.false_tags_per_hour, Some(200.0));
        assert_eq!(figures.recall, None);
    }

    #[test]
    fn a_withdrawn_tag_is_a_doubt() {
        let HeardLive { heard: Heard::Doubt(doubt), answered } = doubt(1.0, "yes") else {
            panic!()
        };
        let withdrawn = HeardLive { heard: Heard::Withdrawn(doubt), answered };
        let figures = score("a,0,36,", &[tag(1.0, "yes", rep()), withdrawn]);
        assert_eq!((figures.false_tags, figures.doubts), (0, 1));
    }

    #[test]
    fn all_that_was_said_since_is_withdrawn() {
        let heard = |since: f64| {
            let HeardLive { heard: Heard::Doubt(doubt), answered } = doubt(since, "yes yes") else {
                panic!()
            };
            let talk = HeardLive { heard: Heard::Withdrawn(doubt), answered };
            score("a,0,36,", &[tag(1.0, "yes", rep()), tag(2.0, "yes", rep()), talk])
        };
        assert_eq!((heard(2.0).false_tags, heard(2.0).doubts), (1, 1));
        assert_eq!((heard(1.0).false_tags, heard(1.0).doubts), (0, 2));
    }

    #[test]
    fn one_utterance_is_counted_once() {
        let figures = score("a,1,1.4,yes\na,1.5,1.9,yes", &[tag(1.0, "yes", rep())]);
        assert_eq!((figures.right, figures.missed, figures.extra), (1, 1, 0));
    }
}
