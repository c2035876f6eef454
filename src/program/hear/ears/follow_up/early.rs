//! Tags that were told before their segment had ended: what more of it adds to them. Pure.

use crate::hear::recogniser::{Placed, texts};
use crate::hear::verdict::Candidate;
use crate::interpret::{Details, Reading, Said};

/// Tags that were told, and the step at which their segment began.
#[derive(Debug)]
pub(super) struct Early {
    pub(super) began: usize,
    pub(super) tags: Candidate,
}

impl Early {
    /// Their words, as text.
    pub(super) fn text(&self) -> String {
        texts(&self.tags.words).join(" ")
    }

    /// The words of the whole segment that were not told.
    pub(super) fn beyond(&self, all: &Candidate) -> Vec<Placed> {
        all.words.iter().skip(self.tags.words.len()).cloned().collect()
    }

    /// What `all`, read of the whole segment, has after these tags: a detail of the last of them stands by itself then.
    /// None when it does not begin with them.
    pub(super) fn rest(&self, all: &Candidate) -> Option<Candidate> {
        let told = self.tags.words.len();
        if !texts(&all.words).starts_with(&texts(&self.tags.words)) {
            return None;
        }
        let new = |reading: &Reading| match reading {
            Reading { end, .. } if *end <= told => None,
            Reading { first, .. } if *first >= told => Some(Some(reading.clone())),
            Reading { end, said, .. } => {
                let last = self.tags.readings.last().and_then(|it| details(&it.said));
                let more = details(said).zip(last).map(|(all, last)| all.beyond(last));
                Some(more.map(|more| Reading { said: Said::Detail(more), first: told, end: *end }))
            }
        };
        let readings = all.readings.iter().filter_map(new).collect::<Option<Vec<_>>>()?;
        Some(Candidate { words: all.words.clone(), readings })
    }
}

fn details(said: &Said) -> Option<Details> {
    match said {
        Said::Rep(details)
        | Said::Miss(details)
        | Said::Change(details)
        | Said::Detail(details) => Some(*details),
        _ => None,
    }
}
