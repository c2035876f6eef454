//! The links of a chain over sessions: how often each went by itself. Plain data for a table.

use minijinja::context;
use serde::Serialize;

use crate::chain::{LinkScore, LinkScores};
use crate::plan::Plan;
use crate::store::{RepRow, SessionRow};
use crate::wording::filled;

/// So many of the latest sessions are shown.
const LATEST: usize = 12;

/// Links over sessions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinksView {
    /// The days of the sessions, oldest first.
    pub days: Vec<String>,
    /// A row for each link, in the order of the chain, and one for all of them together at the end.
    pub rows: Vec<LinkRow>,
}

/// A link in the table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkRow {
    /// Its number, from 1; `None` for all of them.
    pub number: Option<usize>,
    /// Its name; empty for all of them.
    pub name: String,
    /// A cell for each session.
    pub cells: Vec<LinkCell>,
}

/// A link in one session.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct LinkCell {
    /// How often it went by itself of how often it was to be done, in words; empty where it was not trained.
    pub text: String,
    /// Its shade: `most`, `some` or `few`; empty where it was not trained.
    pub shade: &'static str,
}

impl LinkCell {
    fn of(by_itself: u32, all: u32, raise_at: f64) -> Self {
        if all == 0 {
            return LinkCell::default();
        }
        let share = f64::from(by_itself) / f64::from(all);
        LinkCell {
            text: filled("page.link_cell", context! { by_itself, all }),
            shade: match share {
                share if share >= raise_at => "most",
                share if share > 0.0 => "some",
                _ => "few",
            },
        }
    }
}

/// The latest of these sessions that trained a chain of as many links as the plan's; `None` where there is none.
pub fn links(plan: &Plan, sessions: &[SessionRow], reps: &[RepRow]) -> Option<LinksView> {
    let chain = plan.chain.as_ref()?;
    let of_chain = |links: &LinkScores| links.iter().count() == chain.links.len();
    let mut trained: Vec<(&SessionRow, Vec<LinkScores>)> = Vec::new();
    for row in sessions.iter().rev() {
        let tries = reps.iter().filter(|rep| rep.session == row.id).map(|rep| rep.rep.links);
        let tries: Vec<LinkScores> = tries.filter(of_chain).collect();
        if !tries.is_empty() && trained.len() < LATEST {
            trained.push((row, tries));
        }
    }
    if trained.is_empty() {
        return None;
    }
    trained.reverse();
    let raise_at = plan.advice.raise_at;
    let cell = |tries: &[LinkScores], link: u8| {
        let scores = tries.iter().filter_map(|scores| scores.link(link));
        let (by_itself, all) = scores.fold((0, 0), |(by_itself, all), score| match score {
            LinkScore::Untrained => (by_itself, all),
            score => (by_itself + u32::from(score == LinkScore::Independent), all + 1),
        });
        LinkCell::of(by_itself, all, raise_at)
    };
    let of_link = |(number, link): (u8, &crate::plan::Link)| LinkRow {
        number: Some(usize::from(number)),
        name: link.name.clone(),
        cells: trained.iter().map(|(_, tries)| cell(tries, number)).collect(),
    };
    let mut rows: Vec<LinkRow> = (1..).zip(&chain.links).map(of_link).collect();
    let together = |tries: &[LinkScores]| {
        let (by_itself, all) = LinkScores::independent_of(tries);
        let percent = (100.0 * f64::from(by_itself) / f64::from(all.max(1))).round();
        let text = filled("page.links_percent", context! { percent });
        LinkCell { text, ..LinkCell::of(by_itself, all, raise_at) }
    };
    let cells = trained.iter().map(|(_, tries)| together(tries)).collect();
    rows.push(LinkRow { number: None, name: String::new(), cells });
    let days = trained.iter().map(|(row, _)| row.day.strftime("%-d %b").to_string()).collect();
    Some(LinksView { days, rows })
}
