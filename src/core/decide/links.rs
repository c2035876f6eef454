//! Which link of a chain to work on, and whether less help will do. That a link joins is decided by the step: see
//! [`decide`](super::decide).

use serde::Serialize;

use super::{Decision, LEAST_TRIES, Says};
use crate::chain::{LinkScore, LinkScores};
use crate::plan::{Advice, Chain, Plan, PromptOrder, Prompts};
use crate::reason::{Quantity, Reason};
use crate::sentences::because;

/// What to do about one link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkAdvice {
    /// Its number, from 1.
    pub link: u8,
    /// Its name.
    pub name: String,
    /// What.
    pub does: LinkDoes,
    /// Less help than it gets now, where that went well.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fade: Option<Fade>,
    /// Why.
    pub reason: Reason,
}

/// What a link does next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkDoes {
    /// It is trained with the others from the next session on.
    Joins,
    /// It is the one to work on.
    IsWorkedOn,
}

/// From one level of help to the next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fade {
    /// The help that it gets now.
    pub from: String,
    /// Less than that; empty for none at all.
    pub to: String,
}

/// How one link went in some tries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct OneLink {
    tries: u32,
    breaks: u32,
}

const SOURCE: &str = "Cooper, Heron & Heward 2007, Applied Behavior Analysis, 2nd edition, chapters on stimulus control and \
                      on behavior chains (from memory); number of tries: common practice, no source";

/// What to do about a link of the plan's chain, by what is decided of the step and by the links of earlier tries at it,
/// oldest first, each with the step that it worked on. `None` where the behaviour is not a chain, or all of it goes by itself.
pub(super) fn link(
    plan: &Plan,
    decision: &Decision,
    tries: impl DoubleEndedIterator<Item = (u8, LinkScores)>,
) -> Option<LinkAdvice> {
    let chain = plan.chain.as_ref()?;
    let name = |link: u8| chain.link(link).map(|link| link.name.clone()).unwrap_or_default();
    match decision.says {
        Says::Held | Says::TakeItEasy => return None,
        Says::Ready => {
            let joins = chain.taught(decision.to)?;
            let (does, reason) = (LinkDoes::Joins, decision.reason.clone());
            return Some(LinkAdvice { link: joins, name: name(joins), does, fade: None, reason });
        }
        _ => {}
    }
    let latest = latest(plan, decision.step, tries);
    let taught = chain.taught(decision.to);
    let trained = chain.trained(decision.to);
    let of = |link: u8| one_link(&latest, link);
    // Of links that broke as often the one that is taught, and else the first: those after it follow from it.
    let worst = trained.clone().rev().max_by_key(|link| (of(*link).breaks, Some(*link) == taught));
    let link = match worst.filter(|link| of(*link).breaks > 0) {
        Some(link) => link,
        None => taught.unwrap_or(*trained.start()),
    };
    let prompts = chain.prompts.as_ref();
    let fade = prompts.and_then(|prompts| fade(prompts, &latest, link, &plan.advice));
    Some(LinkAdvice {
        link,
        name: name(link),
        does: LinkDoes::IsWorkedOn,
        fade,
        reason: reason(&latest, link, chain),
    })
}

/// Whether the chain itself breaks so often that a step that is hardly met is too hard. Help is how a link is taught, so that
/// tries that were done with help say nothing against the step. True of a behaviour that is not a chain.
pub fn breaks(
    plan: &Plan,
    step: u8,
    tries: impl DoubleEndedIterator<Item = (u8, LinkScores)>,
) -> bool {
    if plan.chain.is_none() {
        return true;
    }
    let latest = latest(plan, step, tries);
    let broke = |scores: &&LinkScores| {
        scores.iter().any(|score| matches!(score, LinkScore::Failed(_) | LinkScore::NotReached))
    };
    let count = latest.iter().filter(broke).count() as f64;
    count > (1.0 - plan.advice.ease_below) * latest.len() as f64
}

/// The latest tries at this step, as many as the plan counts, oldest first.
fn latest(
    plan: &Plan,
    step: u8,
    tries: impl DoubleEndedIterator<Item = (u8, LinkScores)>,
) -> Vec<LinkScores> {
    let at_step = tries.rev().filter(|(working, scores)| *working == step && !scores.is_empty());
    let tries = at_step.take(plan.advice.tries.max(1) as usize);
    let mut latest: Vec<LinkScores> = tries.map(|(_, scores)| scores).collect();
    latest.reverse();
    latest
}

/// How often this link was reached in these tries, and how often it needed help or broke.
fn one_link(tries: &[LinkScores], link: u8) -> OneLink {
    let scores = tries.iter().filter_map(|scores| scores.link(link));
    scores.fold(OneLink::default(), |one, score| match score {
        LinkScore::Independent => OneLink { tries: one.tries + 1, ..one },
        LinkScore::Prompted(_) | LinkScore::Failed(_) => {
            OneLink { tries: one.tries + 1, breaks: one.breaks + 1 }
        }
        LinkScore::Untrained | LinkScore::NotReached => one,
    })
}

/// Help is faded from the most on when the link went with what it gets now, or with less, as often as the plan raises at.
/// Where the least help comes first, it fades by itself.
fn fade(prompts: &Prompts, tries: &[LinkScores], link: u8, advice: &Advice) -> Option<Fade> {
    if prompts.order != PromptOrder::MostToLeast {
        return None;
    }
    let reached = tries.iter().filter_map(|scores| scores.link(link));
    let reached: Vec<LinkScore> = reached
        .filter(|score| !matches!(score, LinkScore::Untrained | LinkScore::NotReached))
        .collect();
    let now = reached.iter().rev().find_map(|score| score.prompt())?;
    // Further down the list is less help.
    let went = |score: &&LinkScore| match score {
        LinkScore::Independent => true,
        LinkScore::Prompted(level) => level.is_some_and(|level| level >= now),
        _ => false,
    };
    let count = reached.iter().filter(went).count() as f64;
    let enough = reached.len() >= LEAST_TRIES.min(advice.tries.max(1)) as usize;
    (enough && count >= advice.raise_at * reached.len() as f64).then(|| Fade {
        from: prompts.name(now).unwrap_or_default().to_owned(),
        to: prompts
            .less_than(now)
            .and_then(|less| prompts.name(less))
            .unwrap_or_default()
            .to_owned(),
    })
}

fn reason(tries: &[LinkScores], link: u8, chain: &Chain) -> Reason {
    let one = one_link(tries, link);
    let (by_itself, all) = LinkScores::independent_of(tries);
    let mut inputs = vec![
        Quantity::new("link", f64::from(link), ""),
        Quantity::new("links of the chain", f64::from(chain.len()), ""),
        Quantity::new("latest tries", tries.len() as f64, "tries"),
        Quantity::new("of them reached it", f64::from(one.tries), "tries"),
        Quantity::new("needed help or broke", f64::from(one.breaks), "tries"),
    ];
    if all > 0 {
        let share = f64::from(by_itself) / f64::from(all);
        inputs.push(Quantity::new("share of links by themselves", share, ""));
    }
    Reason {
        detector: "links".into(),
        because: because("link", &inputs, &[]),
        inputs,
        probability: None,
        method: "the link that needed help or broke most often in the latest tries at the step; of links alike the one that \
                 joined last, else the first; less help where it went as often as the plan raises at"
            .into(),
        source: SOURCE.into(),
    }
}

#[cfg(test)]
mod tests;
