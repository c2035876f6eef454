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

    /// Takes what was heard; `None` for a stretch that cannot be a tag.
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
            self.takes = vec![features];
            return Became::Anew;
        }
        self.unlike = 0;
        self.takes.push(features);
        if self.takes.len() == self.times {
            self.learnt.learn(phrase.clone(), std::mem::take(&mut self.takes));
            self.place += 1;
        }
        Became::Kept
    }

    /// Nothing was heard for a while. The word is left out, or the talk ends; true when nobody seems to be
    /// there any more, and what was learnt so far is all.
    pub fn silence(&mut self) -> bool {
        self.silences += 1;
        self.takes.clear();
        self.unlike = 0;
        if self.place < self.phrases.len() {
            self.place += 1;
        } else {
            self.talk = Some(0);
        }
        self.silences >= GONE
    }

    /// What was learnt.
    pub fn end(self) -> Learnt {
        self.learnt
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
