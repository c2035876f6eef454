//! How each link of one try went, and what follows for the try as a whole.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::interpret::LinkMarks;
use crate::plan::{Chain, MOST_LINKS, Training};

/// How one link of one try went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LinkScore {
    /// It is not trained yet: somebody else did it, or nobody.
    #[default]
    Untrained,
    /// The animal did it by itself.
    Independent,
    /// It needed help, of this level of the plan's list, where that was said.
    Prompted(Option<u8>),
    /// The chain broke at it, after help of this level, where that was said.
    Failed(Option<u8>),
    /// The chain broke before it, or it was not said where.
    NotReached,
}

impl LinkScore {
    /// Its name in the record and in JSON lines.
    pub fn name(self) -> &'static str {
        match self {
            LinkScore::Untrained => "untrained",
            LinkScore::Independent => "independent",
            LinkScore::Prompted(_) => "prompted",
            LinkScore::Failed(_) => "failed",
            LinkScore::NotReached => "not_reached",
        }
    }

    /// The level of help.
    pub fn prompt(self) -> Option<u8> {
        match self {
            LinkScore::Prompted(prompt) | LinkScore::Failed(prompt) => prompt,
            _ => None,
        }
    }

    fn of(name: &str, prompt: Option<u8>) -> Option<Self> {
        Some(match name {
            "untrained" => LinkScore::Untrained,
            "independent" => LinkScore::Independent,
            "prompted" => LinkScore::Prompted(prompt),
            "failed" => LinkScore::Failed(prompt),
            "not_reached" => LinkScore::NotReached,
            _ => return None,
        })
    }
}

/// How the links of one try went, in their order; none for a behaviour that is not a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(try_from = "Vec<LinkLine>", into = "Vec<LinkLine>")]
pub struct LinkScores {
    links: u8,
    scores: [LinkScore; MOST_LINKS],
}

/// One link as JSON has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinkLine {
    /// Its number, from 1.
    pub link: u8,
    /// How it went: a [`LinkScore::name`].
    pub score: String,
    /// The level of help, where that was said.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub prompt: Option<u8>,
}

impl LinkScores {
    /// Scores the links of a try at step `working` by what was said of them.
    ///
    /// With a marker every link that is trained was done by itself, but for those named: they needed help. With a miss
    /// the last of the links named is the one that broke, those named before it needed help, and those after it were not
    /// reached; where none is named nobody said how far it came, and none counts as reached. Help that was said of no link
    /// is of the link that is taught, and of every one where all of them are.
    pub fn of(chain: &Chain, working: u8, said: LinkMarks, missed: bool) -> Self {
        let trained = chain.trained(working);
        let named = |link: u8| {
            let taught = chain.taught(working).is_none_or(|taught| taught == link);
            let alone = said.alone().filter(|_| taught && trained.contains(&link));
            said.of(link).map(|prompt| prompt.or(alone)).or(alone.map(Some))
        };
        let taught = chain.taught(working).filter(|_| said.alone().is_some());
        let is_named = |link: &u8| said.of(*link).is_some() || taught == Some(*link);
        let broke = (1..=chain.len()).rev().find(is_named).filter(|_| missed);
        let score = |link: u8| match (named(link), broke) {
            (None, _) if !trained.contains(&link) => LinkScore::Untrained,
            (prompt, Some(broke)) if link == broke => LinkScore::Failed(prompt.flatten()),
            (_, Some(broke)) if link > broke => LinkScore::NotReached,
            (_, None) if missed => LinkScore::NotReached,
            (Some(prompt), _) => LinkScore::Prompted(prompt),
            (None, _) => LinkScore::Independent,
        };
        (1..=chain.len()).map(score).collect()
    }

    /// Whether the behaviour is not a chain.
    pub fn is_empty(&self) -> bool {
        self.links == 0
    }

    /// In the order of the links.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = LinkScore> + use<'_> {
        self.scores.iter().copied().take(usize::from(self.links))
    }

    /// Of the link of this number, counted from 1.
    pub fn link(&self, number: u8) -> Option<LinkScore> {
        self.iter().nth(usize::from(number).checked_sub(1)?)
    }

    /// Links done by themselves, and links that were trained, of this try: the usual figure of a data sheet is their share.
    pub fn independent(&self) -> (u32, u32) {
        let trained = self.iter().filter(|score| *score != LinkScore::Untrained);
        trained.fold((0, 0), |(by_itself, all), score| {
            (by_itself + u32::from(score == LinkScore::Independent), all + 1)
        })
    }

    /// The same of several tries together.
    pub fn independent_of(tries: &[LinkScores]) -> (u32, u32) {
        tries.iter().fold((0, 0), |(by_itself, all), scores| {
            let (more, of) = scores.independent();
            (by_itself + more, all + of)
        })
    }

    /// The highest step of the plan that this try did without help: with links joining from one end, as many as it did
    /// by itself from there; of a whole chain 1 if all of it. 0 when it is none.
    pub fn reached(&self, chain: &Chain, working: u8) -> u8 {
        let by_itself = |score: &LinkScore| *score == LinkScore::Independent;
        let trained = chain.trained(working).count();
        let run = match chain.training {
            Training::Forwards => self.iter().take_while(by_itself).count(),
            Training::Backwards => self.iter().rev().take_while(by_itself).count(),
            Training::Whole => return u8::from(self.iter().all(|score| by_itself(&score))),
        };
        u8::try_from(run.min(trained)).unwrap_or(u8::MAX)
    }

    /// What would have to be said for these scores.
    pub fn as_said(&self) -> LinkMarks {
        let named = (1..).zip(self.iter()).filter_map(|(link, score)| match score {
            LinkScore::Prompted(prompt) | LinkScore::Failed(prompt) => {
                Some(LinkMarks::link(link, prompt))
            }
            _ => None,
        });
        named.fold(LinkMarks::NONE, LinkMarks::with)
    }
}

impl FromIterator<LinkScore> for LinkScores {
    /// What is past the most that a chain may have is left out.
    fn from_iter<I: IntoIterator<Item = LinkScore>>(all: I) -> Self {
        let mut scores = LinkScores::default();
        for (place, score) in scores.scores.iter_mut().zip(all) {
            *place = score;
            scores.links += 1;
        }
        scores
    }
}

/// As a row of the record has them: `independent prompted:2 failed not_reached`.
impl fmt::Display for LinkScores {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, score) in self.iter().enumerate() {
            f.write_str(if index > 0 { " " } else { "" })?;
            f.write_str(score.name())?;
            if let Some(prompt) = score.prompt() {
                write!(f, ":{prompt}")?;
            }
        }
        Ok(())
    }
}

/// This is how no link goes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0:?} tells of no link of a chain")]
pub struct NoScore(pub String);

impl FromStr for LinkScores {
    type Err = NoScore;

    fn from_str(text: &str) -> Result<Self, NoScore> {
        let score = |word: &str| {
            let (name, prompt) = match word.split_once(':') {
                Some((name, prompt)) => (name, Some(prompt.parse().ok()?)),
                None => (word, None),
            };
            LinkScore::of(name, prompt)
        };
        let words = text.split(' ').filter(|word| !word.is_empty());
        words.map(|word| score(word).ok_or_else(|| NoScore(word.to_owned()))).collect()
    }
}

impl From<LinkScores> for Vec<LinkLine> {
    fn from(scores: LinkScores) -> Self {
        let line = |(link, score): (u8, LinkScore)| LinkLine {
            link,
            score: score.name().to_owned(),
            prompt: score.prompt(),
        };
        (1..).zip(scores.iter()).map(line).collect()
    }
}

impl TryFrom<Vec<LinkLine>> for LinkScores {
    type Error = NoScore;

    fn try_from(lines: Vec<LinkLine>) -> Result<Self, NoScore> {
        let score =
            |line: LinkLine| LinkScore::of(&line.score, line.prompt).ok_or(NoScore(line.score));
        lines.into_iter().map(score).collect()
    }
}
