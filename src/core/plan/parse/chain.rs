//! The `[[links]]` of a plan, how they are trained, and the `[prompts]`.

use std::collections::BTreeSet;
use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use super::check::Checker;
use crate::plan::{
    Chain, Link, MOST_LINKS, MOST_PROMPTS, PromptOrder, Prompts, Role, Training, Words,
};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawLink {
    name: Spanned<String>,
    id: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPrompts {
    order: PromptOrder,
    pub(super) levels: Vec<Spanned<String>>,
}

const TRAINING: &str = "training = \"forwards\", \"backwards\" or \"whole\" above the first table, and a [[links]] \
                        table for each link";

/// The chain, where the plan says that it is one; `beside` tells whether there are steps as well.
pub(super) fn check_chain(
    check: &mut Checker,
    beside: bool,
    training: Option<Spanned<Training>>,
    links: Option<Spanned<Vec<RawLink>>>,
    prompts: Option<Spanned<RawPrompts>>,
) -> Option<Chain> {
    let Some(links) = links else {
        if let Some(training) = training {
            check.complain(&training.span(), "training without [[links]]", TRAINING);
        }
        if let Some(prompts) = prompts {
            check.complain(&prompts.span(), "[prompts] without [[links]]", TRAINING);
        }
        return None;
    };
    let span = links.span();
    if beside {
        let expected = "one of them: the steps of a chain follow from its links";
        check.complain(&span, "[[links]] beside [[step]]", expected);
    }
    let training = training.map(Spanned::into_inner);
    if training.is_none() {
        check.complain(&span, "[[links]] without training", TRAINING);
    }
    let links = links.into_inner();
    if !(2..=MOST_LINKS).contains(&links.len()) {
        let found = format!("{} [[links]]", links.len());
        check.complain(&span, found, &format!("2 to {MOST_LINKS} links"));
    }
    let mut called = BTreeSet::new();
    let links = links.into_iter().map(|raw| {
        let place = raw.name.span();
        let name = check.filled(raw.name, "what the animal does at this link");
        let link = Link { name, id: raw.id };
        if !called.insert(link.key().to_lowercase()) {
            let found = format!("a second link called {:?}", link.key());
            check.complain(&place, found, "another name, or an id of its own");
        }
        link
    });
    let links: Vec<Link> = links.collect();
    Some(Chain {
        training: training.unwrap_or(Training::Whole),
        links,
        prompts: prompts.map(|prompts| check_prompts(check, prompts)),
    })
}

fn check_prompts(check: &mut Checker, raw: Spanned<RawPrompts>) -> Prompts {
    let span = raw.span();
    let RawPrompts { order, levels } = raw.into_inner();
    if !(1..=MOST_PROMPTS).contains(&levels.len()) {
        let found = format!("{} levels of prompts", levels.len());
        check.complain(&span, found, &format!("1 to {MOST_PROMPTS} levels, each by its word"));
    }
    let mut word =
        |word: Spanned<String>| Words::tidy(&check.filled(word, "the word of this level"));
    Prompts { order, levels: levels.into_iter().map(&mut word).collect() }
}

/// A number can be said for every link; `place` is where the plan names the numbers, if it does.
pub(super) fn check_numbers(
    check: &mut Checker,
    chain: &Chain,
    words: &Words,
    place: &Range<usize>,
) {
    let said = (1..=chain.len()).filter(|link| !words.of(&Role::Step(*link)).is_empty()).count();
    if said < chain.links.len() {
        let found = format!("{} links, and words for {said} numbers", chain.links.len());
        let expected = "steps = [\"one\", \"two\", …] under [words], with a word for each link";
        check.complain(place, found, expected);
    }
}
