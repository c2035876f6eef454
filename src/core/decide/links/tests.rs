use super::*;
use crate::decide::{Known, decide};

fn plan(training: &str, order: &str) -> Plan {
    let links: String = (1..=4).map(|n| format!("[[links]]\nname = \"link {n}\"\n")).collect();
    let text = format!(
        "animal = \"P\"\nspecies = \"s\"\nbehaviour = \"b\"\ntraining = \"{training}\"\n{links}\
         [prompts]\norder = \"{order}\"\nlevels = [\"hand\", \"touch\", \"point\"]\n"
    );
    Plan::parse("p.toml", &text).unwrap()
}

/// What is advised at this step after these tries: as the record has them, and whether each met the criterion.
fn advised(plan: &Plan, step: u8, tries: &[&str]) -> Option<LinkAdvice> {
    let scores: Vec<LinkScores> = tries.iter().map(|text| text.parse().unwrap()).collect();
    let met = scores.iter().map(|scores| {
        let (by_itself, all) = scores.independent();
        by_itself == all
    });
    let known = Known::of(step).with(met, false, &plan.advice);
    let decision = decide(plan, &known, false);
    decision.with_link(plan, scores.into_iter().map(|scores| (step, scores))).link
}

fn link_of(advice: &LinkAdvice) -> (u8, LinkDoes) {
    (advice.link, advice.does)
}

#[test]
fn the_next_link_joins_when_those_so_far_go_by_themselves() {
    let forwards = advised(
        &plan("forwards", "least_to_most"),
        2,
        &["independent independent untrained untrained"; 12],
    );
    let forwards = forwards.unwrap();
    assert_eq!(link_of(&forwards), (3, LinkDoes::Joins));
    assert_eq!(forwards.name, "link 3");
    let backwards = advised(
        &plan("backwards", "least_to_most"),
        2,
        &["untrained untrained independent independent"; 12],
    );
    assert_eq!(link_of(&backwards.unwrap()), (2, LinkDoes::Joins));
    // All of it goes by itself: there is no link to work on.
    let whole = plan("whole", "least_to_most");
    assert_eq!(advised(&whole, 1, &["independent independent independent independent"; 12]), None);
}

#[test]
fn otherwise_the_link_that_breaks_most_is_worked_on() {
    let whole = plan("whole", "least_to_most");
    let tries = [
        "independent prompted independent independent",
        "independent failed not_reached not_reached",
        "independent independent prompted independent",
        "independent prompted independent prompted",
    ];
    let advice = advised(&whole, 1, &tries).unwrap();
    assert_eq!(link_of(&advice), (2, LinkDoes::IsWorkedOn));
    let input =
        |name: &str| advice.reason.inputs.iter().find(|input| input.name == name).unwrap().value;
    // By hand: link 2 was reached in 4 of 4 tries and broke or needed help in 3; 9 of 16 links went by themselves.
    assert_eq!((input("of them reached it"), input("needed help or broke")), (4.0, 3.0));
    assert!((input("share of links by themselves") - 9.0 / 16.0).abs() < 1e-12);
    // Alike: the one that joined last; in a whole chain the first.
    let alike = ["prompted prompted untrained untrained"; 3];
    assert_eq!(advised(&plan("forwards", "least_to_most"), 2, &alike).unwrap().link, 2);
    let alike = ["independent prompted prompted independent"; 3];
    assert_eq!(advised(&whole, 1, &alike).unwrap().link, 2);
    // Nothing was tried, or nothing is known of where it broke: the one that is taught.
    assert_eq!(advised(&plan("backwards", "least_to_most"), 2, &[]).unwrap().link, 3);
    let nowhere = ["not_reached not_reached untrained untrained"; 6];
    assert_eq!(advised(&plan("forwards", "least_to_most"), 2, &nowhere).unwrap().link, 1);
}

#[test]
fn help_is_how_a_link_is_taught_and_only_a_chain_that_breaks_is_too_hard() {
    use crate::decide::Says;
    let forwards = plan("forwards", "least_to_most");
    let says = |tries: &[&str]| {
        let scores: Vec<LinkScores> = tries.iter().map(|text| text.parse().unwrap()).collect();
        let known = Known::of(3).with(tries.iter().map(|_| false), false, &forwards.advice);
        let tries = scores.into_iter().map(|scores| (3, scores));
        let decision = decide(&forwards, &known, false).with_link(&forwards, tries);
        (decision.says, decision.to, decision.link.map(|advice| advice.link))
    };
    let helped = "independent independent prompted:1 untrained";
    let broke = "independent failed not_reached untrained";
    assert_eq!(says(&[helped; 10]), (Says::Stay, 3, Some(3)));
    assert_eq!(says(&[broke; 10]), (Says::TooHard, 2, Some(2)));
    assert_eq!(says(&[helped, broke].repeat(5)), (Says::Stay, 3, Some(3)));
}

#[test]
fn help_fades_where_it_went_with_what_it_gets() {
    let most = plan("forwards", "most_to_least");
    let fade = |tries: &[&str]| advised(&most, 2, tries).unwrap().fade;
    let to = |from: &str, to: &str| Some(Fade { from: from.into(), to: to.into() });
    assert_eq!(fade(&["independent prompted:1 untrained untrained"; 6]), to("hand", "touch"));
    assert_eq!(fade(&["independent prompted:3 untrained untrained"; 6]), to("point", ""));
    // Four tries are too few, and help that was more than this is none that went with it.
    assert_eq!(fade(&["independent prompted:1 untrained untrained"; 4]), None);
    let mixed = [
        "independent prompted:1 untrained untrained",
        "independent prompted:2 untrained untrained",
    ];
    assert_eq!(fade(&mixed.repeat(3)), None);
    let least = plan("forwards", "least_to_most");
    assert_eq!(
        advised(&least, 2, &["independent prompted:1 untrained untrained"; 6]).unwrap().fade,
        None
    );
}
