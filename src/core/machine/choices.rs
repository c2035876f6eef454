//! What can be taken at a moment, as it is read to somebody with one switch.

use serde::Serialize;

/// So many are read one after the other; longer lists come in groups. With the way back that is one more than fits a mind
/// at once, and each is gone by when the next is read (common practice, no source).
const AT_MOST: usize = 7;

/// How a choice is called; a template of `[choice]` in `prompts/` makes words of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Label {
    /// The template's name.
    pub line: &'static str,
    /// A name in it.
    pub text: String,
    /// What belongs to the name, or the last name of a group.
    pub with: String,
    /// A number in it.
    pub number: usize,
}

impl Label {
    /// One that is called the same everywhere.
    pub fn of(line: &'static str) -> Self {
        Label { line, text: String::new(), with: String::new(), number: 0 }
    }

    /// One with a name in it.
    pub fn named(line: &'static str, text: impl Into<String>) -> Self {
        Label { text: text.into(), ..Label::of(line) }
    }
}

/// Where a choice leads.
#[derive(Debug, Clone, PartialEq)]
pub enum Leads<I> {
    /// These happen, in order.
    To(Vec<I>),
    /// Further choices.
    Into(Vec<Offer<I>>),
    /// There is more, or less, time to press.
    Pace {
        /// More.
        longer: bool,
    },
}

/// Something that can be taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer<I> {
    /// How it is called.
    pub label: Label,
    /// What it does.
    pub leads: Leads<I>,
}

impl<I> Offer<I> {
    /// This is what happens.
    pub fn to(label: Label, input: I) -> Self {
        Offer { label, leads: Leads::To(vec![input]) }
    }

    /// A group; a long one is read in parts, each called by its first and last.
    pub fn group(label: Label, offers: Vec<Offer<I>>) -> Self {
        Offer { label, leads: Leads::Into(in_parts(offers)) }
    }
}

/// What can be taken at a moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices<I> {
    /// Whether an answer is waited for; then any press is about these. Otherwise they are a menu, which is asked for.
    pub asks: bool,
    /// In the order in which they are read.
    pub offers: Vec<Offer<I>>,
    /// What a short press takes at once, while nothing is read. Without it, the press has them read.
    pub short: Option<I>,
    /// The same for a long press.
    pub long: Option<I>,
    /// Says the question again.
    pub again: Option<I>,
}

impl<I> Choices<I> {
    /// Nothing.
    pub fn none() -> Self {
        Choices::menu(Vec::new())
    }

    /// A menu; nothing is asked.
    pub fn menu(offers: Vec<Offer<I>>) -> Self {
        Choices { asks: false, offers, short: None, long: None, again: None }
    }

    /// One of these is asked for.
    pub fn one_of(offers: Vec<Offer<I>>) -> Self {
        Choices { asks: true, ..Choices::menu(offers) }
    }
}

/// A list too long to be heard in one go, in parts; one that is not stays as it is.
pub fn in_parts<I>(mut offers: Vec<Offer<I>>) -> Vec<Offer<I>> {
    if offers.len() <= AT_MOST {
        return offers;
    }
    // As few parts as one list holds, and all of about a size.
    let parts = offers.len().div_ceil(AT_MOST).min(AT_MOST);
    let size = offers.len().div_ceil(parts);
    let mut out = Vec::new();
    while !offers.is_empty() {
        let rest = offers.split_off(size.min(offers.len()));
        let part = std::mem::replace(&mut offers, rest);
        out.push(as_part(part));
    }
    out
}

fn as_part<I>(part: Vec<Offer<I>>) -> Offer<I> {
    let name = |offer: Option<&Offer<I>>| offer.map(|offer| offer.label.text.clone());
    let (first, last) = (name(part.first()), name(part.last()));
    let with = last.unwrap_or_default();
    let label = Label { with, ..Label::named("span", first.unwrap_or_default()) };
    Offer::group(label, part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(count: usize) -> Vec<Offer<usize>> {
        (0..count).map(|index| Offer::to(Label::named("name", index.to_string()), index)).collect()
    }

    /// How many lie below, the longest list on the way, and how deep it goes.
    fn shape(offers: &[Offer<usize>]) -> (usize, usize, usize) {
        offers.iter().fold((0, offers.len(), 1), |(count, widest, deepest), offer| {
            match &offer.leads {
                Leads::Into(below) => {
                    let (more, wide, deep) = shape(below);
                    (count + more, widest.max(wide), deepest.max(deep + 1))
                }
                _ => (count + 1, widest, deepest),
            }
        })
    }

    #[test]
    fn a_long_list_comes_in_parts_and_loses_nothing() {
        for count in 0..200 {
            let (all, widest, deepest) = shape(&in_parts(letters(count)));
            assert_eq!(all, count);
            assert!(widest <= AT_MOST, "{count}: {widest}");
            assert!(AT_MOST.pow(deepest as u32 - 1) < count.max(2), "{count}: {deepest} deep");
        }
        let parts = in_parts(letters(26));
        let first = &parts[0].label;
        assert_eq!((first.line, first.text.as_str(), first.with.as_str()), ("span", "0", "6"));
    }
}
