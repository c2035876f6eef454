//! What programs and people read, word by word: JSON lines, plain lines and the recap of one session.

use std::time::Duration;

use anyhow::Result;
use hushtally::at::At;
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Command, Mood, Plan, RewardValue, Side};
use hushtally::run::{Conductor, Desk, HeardTimes, JsonLines, Plain, Printer};
use hushtally::session::Input;

use crate::typed::Page;

/// A session with one of everything, written down by this printer.
fn written(printer: impl Printer + 'static, page: &Page) -> Result<String> {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/pepino.toml"))?;
    let plan = Plan::parse("pepino.toml", &text)?;
    let (clock, _hands) = Clock::fake("2026-01-02T03:04:05Z".parse()?);
    let mut desk = Desk::new(Box::new(printer), clock);
    let mut conductor = Conductor::new(plan);
    let details = |step, side, value| Details { step, side, value, ..Details::default() };
    let tags = [
        (1.0, Said::Command { command: Command::Begin }, "juniper begin"),
        (3.0, Said::Rep(details(None, None, None)), "yes"),
        (6.0, Said::Cue, "signal"),
        (7.25, Said::Rep(details(Some(2), Some(Side::Left), None)), "yes two left"),
        (10.0, Said::Miss(Details::default()), "miss"),
        (12.0, Said::HoldStart, "steady"),
        (14.5, Said::Rep(details(Some(3), None, Some(RewardValue::Jackpot))), "yes three jackpot"),
        (17.0, Said::Change(details(None, None, Some(RewardValue::Low))), "correction ordinary"),
        (19.0, Said::State { mood: Mood::Tired }, "tired"),
        (21.0, Said::Rep(details(None, None, None)), "yes"),
        (23.0, Said::TakeBack, "cancel"),
        (25.0, Said::Command { command: Command::Count }, "juniper count"),
    ];
    for (at, said, words) in tags {
        let at = At::from_secs_f64(at);
        let times = HeardTimes {
            end: at + Duration::from_millis(400),
            decided: at + Duration::from_millis(600),
        };
        conductor.take(at, Input::said(said, words), Some(times), &mut desk);
    }
    let at = At::from_secs_f64(27.0);
    let doubt = Input::Doubted { words: "yes".to_owned(), other: "yet".into() };
    conductor.take(at, doubt, None, &mut desk);
    conductor.close(At::from_secs_f64(30.0), &mut desk);
    page.text()
}

#[test]
fn json_lines_stay_as_they_are() -> Result<()> {
    let page = Page::default();
    insta::assert_snapshot!("json_lines", written(JsonLines::new(page.clone()), &page)?);
    Ok(())
}

#[test]
fn plain_lines_and_the_recap_stay_as_they_are() -> Result<()> {
    let page = Page::default();
    insta::assert_snapshot!("plain_lines", written(Plain::new(page.clone()), &page)?);
    Ok(())
}
