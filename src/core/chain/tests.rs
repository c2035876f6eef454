use proptest::prelude::*;

use super::*;
use crate::interpret::{LinkMark, LinkMarks};
use crate::plan::{Chain, Link, Training};

fn chain(training: Training, links: u8) -> Chain {
    let link = |number: u8| Link { name: format!("link {number}"), id: None };
    Chain { training, links: (1..=links).map(link).collect(), prompts: None }
}

fn scored(training: Training, working: u8, said: LinkMarks, missed: bool) -> (String, u8) {
    let chain = chain(training, 4);
    let scores = LinkScores::of(&chain, working, said, missed);
    (scores.to_string(), scores.reached(&chain, working))
}

#[test]
fn the_marker_alone_is_every_link_that_is_trained_by_itself() {
    let alone = |training, working| scored(training, working, LinkMarks::NONE, false);
    let text = |text: &str, reached| (text.to_owned(), reached);
    assert_eq!(
        alone(Training::Forwards, 2),
        text("independent independent untrained untrained", 2)
    );
    assert_eq!(alone(Training::Backwards, 1), text("untrained untrained untrained independent", 1));
    assert_eq!(
        alone(Training::Whole, 1),
        text("independent independent independent independent", 1)
    );
}

#[test]
fn a_number_after_the_marker_needed_help_and_after_a_miss_it_broke() {
    let two_four = LinkMarks::link(2, Some(3)).with(LinkMarks::link(4, None));
    let of = |missed| scored(Training::Whole, 1, two_four, missed);
    assert_eq!(of(false), ("independent prompted:3 independent prompted".to_owned(), 0));
    assert_eq!(of(true), ("independent prompted:3 independent failed".to_owned(), 0));
    let two = LinkMarks::link(2, None);
    let forwards = scored(Training::Forwards, 3, two, true);
    assert_eq!(forwards, ("independent failed not_reached untrained".to_owned(), 1));
    let three = LinkMarks::link(3, None);
    let backwards = scored(Training::Backwards, 3, three, false);
    assert_eq!(backwards, ("untrained independent prompted independent".to_owned(), 1));
}

#[test]
fn a_miss_alone_does_not_say_how_far_it_came() {
    let (scores, reached) = scored(Training::Forwards, 3, LinkMarks::NONE, true);
    assert_eq!(scores, "not_reached not_reached not_reached untrained");
    assert_eq!(reached, 0);
}

#[test]
fn help_that_was_said_of_no_link_is_of_the_one_that_is_taught() {
    let help = LinkMarks::prompt(2);
    let of = |training, missed| scored(training, 2, help, missed).0;
    assert_eq!(of(Training::Forwards, false), "independent prompted:2 untrained untrained");
    assert_eq!(of(Training::Backwards, false), "untrained untrained prompted:2 independent");
    assert_eq!(of(Training::Backwards, true), "untrained untrained failed:2 not_reached");
    assert_eq!(of(Training::Whole, false), "prompted:2 prompted:2 prompted:2 prompted:2");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn scores_are_written_down_and_said_once_more_the_same(
        links in 2..=20_u8,
        working in 1..=20_u8,
        training in prop::sample::select(vec![Training::Forwards, Training::Backwards, Training::Whole]),
        said in prop::collection::vec((prop::option::of(1..=20_u8), prop::option::of(1..=8_u8)), 0..5),
        missed in any::<bool>(),
    ) {
        let chain = chain(training, links);
        let said: Vec<LinkMark> = said.into_iter().map(|(link, prompt)| LinkMark { link, prompt }).collect();
        let scores = LinkScores::of(&chain, working, LinkMarks::from(said), missed);
        prop_assert_eq!(scores.to_string().parse::<LinkScores>().unwrap(), scores);
        let json = serde_json::to_string(&scores).unwrap();
        prop_assert_eq!(serde_json::from_str::<LinkScores>(&json).unwrap(), scores);
        prop_assert_eq!(LinkScores::of(&chain, working, scores.as_said(), missed), scores);
        let (by_itself, all) = scores.independent();
        prop_assert!(by_itself <= all && all <= u32::from(links));
        // The criterion is met exactly when every link that is trained went by itself.
        let met = chain.trained(working).all(|link| scores.link(link) == Some(LinkScore::Independent));
        let step = match training { Training::Whole => 1, _ => working.min(links) };
        prop_assert_eq!(scores.reached(&chain, working) >= step, met);
    }
}
