//! What was said of the links of a chain: which of them needed help or broke, and which help they got.

use serde::{Deserialize, Serialize};

use crate::plan::{MOST_LINKS, MOST_PROMPTS};

/// A link was named, without a level of help.
const NAMED: u8 = 1;

/// Links named in what was said of one try, each with the level of help that was said right after its number. A level said
/// before any number stands alone until it is known which link is taught.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(from = "Vec<LinkMark>", into = "Vec<LinkMark>")]
pub struct LinkMarks {
    /// By link, counted from 1; at 0 what was said of no link: 0 for nothing, [`NAMED`], or that and the level.
    levels: [u8; MOST_LINKS + 1],
    /// The link named last: a level said alone belongs to it.
    last: u8,
}

/// One link as it was named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LinkMark {
    /// Its number, from 1; `None` for help that was said of no link.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub link: Option<u8>,
    /// The level of help by its place in the plan's list, from 1, where it was said.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub prompt: Option<u8>,
}

impl LinkMarks {
    /// Nothing said.
    pub const NONE: LinkMarks = LinkMarks { levels: [0; MOST_LINKS + 1], last: 0 };

    /// One link, with or without a level of help; nothing where there can be no such link.
    pub fn link(number: u8, prompt: Option<u8>) -> Self {
        LinkMarks::default().and(LinkMark { link: Some(number), prompt })
    }

    /// Help that was said of no link.
    pub fn prompt(level: u8) -> Self {
        LinkMarks::default().and(LinkMark { link: None, prompt: Some(level) })
    }

    /// Whether nothing was said.
    pub fn is_empty(&self) -> bool {
        self.levels.iter().all(|level| *level == 0)
    }

    /// What was said of this link: `None` when it was not named, and then the level of help, where that was said.
    pub fn of(&self, link: u8) -> Option<Option<u8>> {
        let level = *self.levels.get(usize::from(link)).filter(|_| link > 0)?;
        (level > 0).then(|| (level > NAMED).then(|| level - NAMED))
    }

    /// The level of help that was said of no link.
    pub fn alone(&self) -> Option<u8> {
        (self.levels[0] > NAMED).then(|| self.levels[0] - NAMED)
    }

    /// Links that were named, by number.
    pub fn named(&self) -> impl Iterator<Item = u8> + use<'_> {
        (1..=MOST_LINKS as u8).filter(|link| self.of(*link).is_some())
    }

    /// With what was said after it. A level alone belongs to the link named last.
    #[must_use]
    pub fn with(self, later: LinkMarks) -> Self {
        Vec::from(later).into_iter().fold(self, LinkMarks::and)
    }

    /// Without links past this one.
    #[must_use]
    pub fn up_to(self, last: u8) -> Self {
        let marks = Vec::from(self).into_iter();
        let there = |mark: &LinkMark| mark.link.is_none_or(|link| link <= last);
        marks.filter(there).collect::<Vec<_>>().into()
    }

    /// Whether the same link is named twice, or two levels are said of one: in one breath that is a contradiction.
    pub fn contradicts(&self, later: LinkMarks) -> bool {
        let twice = later.named().any(|link| self.of(link).is_some());
        let helped = match self.last {
            0 => self.alone().is_some(),
            last => self.of(last).flatten().is_some(),
        };
        twice || (later.alone().is_some() && helped)
    }

    fn and(mut self, mark: LinkMark) -> Self {
        let level = match mark.prompt {
            Some(level) if (1..=MOST_PROMPTS as u8).contains(&level) => NAMED + level,
            Some(_) => return self,
            None => NAMED,
        };
        match mark.link {
            None if level == NAMED => {}
            None => self.levels[usize::from(self.last)] = level,
            Some(link) if (1..=MOST_LINKS as u8).contains(&link) => {
                let held = &mut self.levels[usize::from(link)];
                // Named once more, it keeps the help that was said of it.
                *held = (*held).max(NAMED);
                if level > NAMED {
                    *held = level;
                }
                self.last = link;
            }
            Some(_) => {}
        }
        self
    }
}

impl From<Vec<LinkMark>> for LinkMarks {
    fn from(marks: Vec<LinkMark>) -> Self {
        marks.into_iter().fold(LinkMarks::default(), LinkMarks::and)
    }
}

/// In an order that gives the same once more: what was said of no link first, the link named last at the end.
impl From<LinkMarks> for Vec<LinkMark> {
    fn from(marks: LinkMarks) -> Self {
        let alone = marks.alone().map(|level| LinkMark { link: None, prompt: Some(level) });
        let others = marks.named().filter(|link| *link != marks.last);
        let last = Some(marks.last).filter(|last| *last > 0);
        let named = others
            .chain(last)
            .filter_map(|link| Some(LinkMark { link: Some(link), prompt: marks.of(link)? }));
        alone.into_iter().chain(named).collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_level_belongs_to_the_number_before_it() {
        let said =
            LinkMarks::link(2, None).with(LinkMarks::prompt(3)).with(LinkMarks::link(4, None));
        assert_eq!((said.of(2), said.of(4), said.of(3)), (Some(Some(3)), Some(None), None));
        assert_eq!(said.with(LinkMarks::prompt(1)).of(4), Some(Some(1)));
        let alone = LinkMarks::prompt(2).with(LinkMarks::link(1, None));
        assert_eq!((alone.alone(), alone.of(1)), (Some(2), Some(None)));
        assert_eq!(said.named().collect::<Vec<_>>(), [2, 4]);
    }

    #[test]
    fn one_link_twice_or_two_levels_of_one_contradict() {
        let two = LinkMarks::link(2, Some(1));
        assert!(two.contradicts(LinkMarks::link(2, None)));
        assert!(two.contradicts(LinkMarks::prompt(3)));
        assert!(!two.contradicts(LinkMarks::link(3, None)));
        assert!(!LinkMarks::link(2, None).contradicts(LinkMarks::prompt(3)));
        assert!(LinkMarks::prompt(1).contradicts(LinkMarks::prompt(2)));
    }

    #[test]
    fn what_no_plan_can_name_is_nothing() {
        for none in [
            LinkMarks::link(0, None),
            LinkMarks::link(21, None),
            LinkMarks::prompt(0),
            LinkMarks::prompt(9),
        ] {
            assert!(none.is_empty());
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn what_is_written_down_is_read_back_the_same(
            said in prop::collection::vec((prop::option::of(0..23_u8), prop::option::of(0..10_u8)), 0..8)
        ) {
            let said: Vec<LinkMark> = said.into_iter().map(|(link, prompt)| LinkMark { link, prompt }).collect();
            let marks = LinkMarks::from(said);
            let json = serde_json::to_string(&marks).unwrap();
            prop_assert_eq!(serde_json::from_str::<LinkMarks>(&json).unwrap(), marks);
            // Said once more, links that were named stay what they are.
            if marks.alone().is_none() {
                prop_assert_eq!(marks.with(marks), marks);
            }
        }
    }
}
