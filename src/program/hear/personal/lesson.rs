//! Learning by voice, step by step: which word comes next, and whether a take may stay. Pure.

use super::features::Features;
use super::matcher::Learnt;
use super::warp::distance;

/// A take this much further from the others than they are from each other was something else.
const UNLIKE: f32 = 1.7;
/// A first pair is told apart only when it is further apart than this, in the units of a byte.
const UNLIKE_FIRST: f32 = 16.0;
/// So many unlike takes in a row are how the word is said: begin it anew.
const ANEW: usize = 3;
/// So many silences in a row: nobody is there.
const GONE: usize = 3;
/// Stretches of ordinary talk that are enough.
const TALK: usize = 12;

/// What the learner is to do now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ask {
    /// Say this; take `take` of `of`.
    Say {
        /// The words.
        phrase: String,
        /// Counted from 1.
        take: usize,
        /// How many.
        of: usize,
    },
    /// Talk about anything.
    Talk,
    /// All is learnt.
    Done,
}

/// What became of a take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Became {
    /// It stays.
    Kept,
    /// Too short, too long, or too loud.
    Unfit,
    /// It was unlike the others: once more.
    Unlike,
    /// Unlike the others again and again: the word begins anew.
    Anew,
}

/// A lesson that is going on.
#[derive(Debug, Clone)]
pub struct Lesson {
    phrases: Vec<String>,
    times: usize,
    place: usize,
    takes: Vec<Features>,
    /// What the recogniser was sure of in the takes of this phrase.
    recognised: Vec<String>,
    unlike: usize,
    silences: usize,
    talk: Option<usize>,
    learnt: Learnt,
}

impl Lesson {
    /// Teaches these phrases, each so many times; what `learnt` knew of them is learnt anew.
    pub fn new(phrases: Vec<String>, times: usize, learnt: Learnt) -> Self {
        Lesson {
            phrases,
            times: times.max(2),
            place: 0,
            takes: Vec::new(),
            recognised: Vec::new(),
            unlike: 0,
            silences: 0,
            talk: None,
            learnt,
        }
    }

    /// What is to be done now.
    pub fn ask(&self) -> Ask {
        match self.phrases.get(self.place) {
            Some(phrase) => {
                Ask::Say { phrase: phrase.clone(), take: self.takes.len() + 1, of: self.times }
            }
            None if self.talk.is_some_and(|left| left == 0) => Ask::Done,
            None => Ask::Talk,
        }
    }

    /// How many phrases are left.
    pub fn left(&self) -> usize {
        self.phrases.len().saturating_sub(self.place)
    }

    /// Tells what the recogniser is sure of in the take that comes next.
    pub fn recognised(&mut self, words: String) {
        self.recognised.push(words);
    }

    /// Takes what was heard; `None` for a segment that cannot be a tag.
    pub fn take(&mut self, features: Option<Features>) -> Became {
        self.silences = 0;
        let Some(features) = features else { return Became::Unfit };
        let Some(phrase) = self.phrases.get(self.place) else {
            self.learnt.add_talk(features);
            let left = self.talk.get_or_insert(TALK);
            *left = left.saturating_sub(1);
            return Became::Kept;
        };
        if self.is_unlike(&features) {
            self.unlike += 1;
            if self.unlike < ANEW {
                return Became::Unlike;
            }
            self.unlike = 0;
            self.recognised.clear();
            self.takes = vec![features];
            return Became::Anew;
        }
        self.unlike = 0;
        self.takes.push(features);
        if self.takes.len() == self.times {
            self.learnt.learn(phrase.clone(), std::mem::take(&mut self.takes));
            for words in std::mem::take(&mut self.recognised) {
                self.learnt.mistaken_for(phrase, words);
            }
            self.place += 1;
        }
        Became::Kept
    }

    /// Nothing was heard for a while. The word is left out, or the talk ends; true when nobody seems to be
    /// there any more, and what was learnt so far is all.
    pub fn silence(&mut self) -> bool {
        self.silences += 1;
        self.takes.clear();
        self.recognised.clear();
        self.unlike = 0;
        if self.place < self.phrases.len() {
            self.place += 1;
        } else {
            self.talk = Some(0);
        }
        self.silences >= GONE
    }

    /// What was learnt so far.
    pub fn learnt(&self) -> &Learnt {
        &self.learnt
    }

    fn is_unlike(&self, features: &Features) -> bool {
        let far = |a: &Features, b: &Features| distance(a, b).unwrap_or(f32::INFINITY);
        let nearest = |from: &Features, skip: Option<usize>| {
            let others = self.takes.iter().enumerate().filter(|(i, _)| Some(*i) != skip);
            others.map(|(_, take)| far(take, from)).fold(f32::INFINITY, f32::min)
        };
        match self.takes.len() {
            0 => false,
            1 => nearest(features, None) > UNLIKE_FIRST,
            count => {
                let among = (0..count).map(|i| nearest(&self.takes[i], Some(i)));
                let widest = among.fold(0.0, f32::max);
                nearest(features, None) > UNLIKE * widest.max(UNLIKE_FIRST / 2.0)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tone that rises from `hz`, for so long.
    fn sound(hz: f32, seconds: f32) -> Option<Features> {
        let count = (seconds * 16_000.0) as usize;
        let mut phase = 0.0f32;
        let samples: Vec<i16> = (0..count)
            .map(|i| {
                let hz = hz * (1.0 + i as f32 / count as f32);
                phase += std::f32::consts::TAU * hz / 16_000.0;
                (8_000.0 * phase.sin()) as i16
            })
            .collect();
        Some(Features::of(&samples, &[]))
    }

    fn say(lesson: &Lesson) -> (String, usize) {
        match lesson.ask() {
            Ask::Say { phrase, take, .. } => (phrase, take),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn each_phrase_its_times_then_talk_then_done() {
        let phrases = vec!["yes".to_owned(), "brr".to_owned()];
        let mut lesson = Lesson::new(phrases, 3, Learnt::default());
        for (hz, seconds) in [(400.0, 0.4), (410.0, 0.45), (405.0, 0.42)] {
            assert_eq!(lesson.take(sound(hz, seconds)), Became::Kept);
        }
        assert_eq!(say(&lesson), ("brr".to_owned(), 1));
        assert_eq!(lesson.take(None), Became::Unfit);
        for _ in 0..3 {
            assert_eq!(lesson.take(sound(900.0, 0.6)), Became::Kept);
        }
        for _ in 0..TALK {
            assert_eq!(lesson.ask(), Ask::Talk);
            lesson.take(sound(1_500.0, 0.5));
        }
        assert_eq!(lesson.ask(), Ask::Done);
        let learnt: Vec<(&str, usize)> = lesson.learnt().phrases().collect();
        assert_eq!((learnt, lesson.learnt().talk()), (vec![("brr", 3), ("yes", 3)], TALK));
    }

    #[test]
    fn a_cough_is_asked_again_and_another_way_of_saying_it_begins_anew() {
        let mut lesson = Lesson::new(vec!["yes".to_owned()], 3, Learnt::default());
        lesson.take(sound(400.0, 0.4));
        lesson.take(sound(405.0, 0.4));
        assert_eq!(lesson.take(sound(2_500.0, 0.4)), Became::Unlike);
        assert_eq!(say(&lesson), ("yes".to_owned(), 3));
        assert_eq!(lesson.take(sound(2_500.0, 0.4)), Became::Unlike);
        assert_eq!(lesson.take(sound(2_500.0, 0.4)), Became::Anew);
        assert_eq!(say(&lesson), ("yes".to_owned(), 2));
    }

    #[test]
    fn silence_leaves_a_word_out_and_long_silence_ends() {
        let phrases = ["a", "b", "c", "d"].map(str::to_owned).to_vec();
        let mut lesson = Lesson::new(phrases, 2, Learnt::default());
        assert!(!lesson.silence());
        assert_eq!(say(&lesson).0, "b");
        lesson.take(sound(400.0, 0.4));
        assert!(!lesson.silence() && !lesson.silence());
        assert!(lesson.silence());
        assert_eq!(lesson.learnt().phrases().count(), 0);
    }
}
