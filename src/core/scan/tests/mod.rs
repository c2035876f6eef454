//! The scanner by tables, and random walks over every machine.

mod walk;

use std::time::Duration;

use super::*;
use crate::interpret::switch::{Press, Pressed};
use crate::machine::{Choices, Label, Leads, Offer};

const PACE: u64 = 2000;

fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

fn offer(line: &'static str, input: u8) -> Offer<u8> {
    Offer::to(Label::of(line), input)
}

/// Two answers and a group.
fn fruit() -> Choices<u8> {
    let citrus = vec![offer("lemon", 3), offer("lime", 4)];
    Choices::one_of(vec![
        offer("apple", 1),
        offer("pear", 2),
        Offer::group(Label::of("citrus"), citrus),
    ])
}

/// What happens at a moment: a press, or our own voice falls silent.
#[derive(Debug, Clone, Copy)]
enum Turn {
    Press(Press),
    Menu(Press),
    Quiet,
    Look,
}

/// What comes of it, in short: an item's name, or "= " and what was taken, or "> " and the press handed on.
fn short(effect: ScanEffect<u8>) -> String {
    match effect {
        ScanEffect::Read(label) => label.line.to_owned(),
        ScanEffect::Take(inputs) => format!("= {inputs:?}"),
        ScanEffect::Bring(Pressed { press, .. }) => format!("> {press:?}"),
    }
}

/// Goes through these turns at these milliseconds; time passes before each. What it says comes with its time.
fn told(choices: &Choices<u8>, turns: &[(u64, Turn)]) -> Vec<(u64, String)> {
    let mut scanner = Scanner::new(ms(PACE));
    let mut out = Vec::new();
    for (at, turn) in turns {
        while let Some(due) = scanner.wake_at().filter(|due| *due <= ms(*at)) {
            let effects = scanner.pass(due);
            out.extend(effects.into_iter().map(|e| (due.as_millis() as u64, short(e))));
        }
        let press = |press, menu| {
            let pressed = Pressed { press, at: ms(*at) };
            ScanInput::Pressed { pressed, menu, choices: choices.clone() }
        };
        let effects = match turn {
            Turn::Press(how) => scanner.handle(ms(*at), press(*how, false)),
            Turn::Menu(how) => scanner.handle(ms(*at), press(*how, true)),
            Turn::Quiet => scanner.handle(ms(*at), ScanInput::Quiet(choices.clone())),
            Turn::Look => scanner.handle(ms(*at), ScanInput::Now(choices.clone())),
        };
        out.extend(effects.into_iter().map(|effect| (*at, short(effect))));
    }
    out
}

fn check(choices: &Choices<u8>, turns: &[(u64, Turn)], expected: &[(u64, &str)]) {
    let told = told(choices, turns);
    let told: Vec<(u64, &str)> = told.iter().map(|(at, what)| (*at, what.as_str())).collect();
    assert_eq!(told, expected, "{turns:?}");
}

use Turn::{Look, Menu, Quiet};
const SHORT: Turn = Turn::Press(Press::Short);
const LONG: Turn = Turn::Press(Press::Long);
const DOUBLE: Turn = Turn::Press(Press::Double);

#[test]
fn a_press_has_them_read_and_a_press_takes_what_was_read() {
    // An item stands from the end of its reading on for the pace.
    check(
        &fruit(),
        &[(100, SHORT), (900, Quiet), (3500, Quiet), (4000, SHORT)],
        &[(100, "apple"), (2900, "pear"), (4000, "= [2]")],
    );
    // While it is still being read, too.
    check(&fruit(), &[(100, SHORT), (500, SHORT)], &[(100, "apple"), (500, "= [1]")]);
}

#[test]
fn a_press_too_soon_to_be_about_an_item_is_about_the_one_before() {
    let turns = |press| [(100, SHORT), (900, Quiet), (press, SHORT)];
    check(&fruit(), &turns(3050), &[(100, "apple"), (2900, "pear"), (3050, "= [1]")]);
    check(&fruit(), &turns(3150), &[(100, "apple"), (2900, "pear"), (3150, "= [2]")]);
}

#[test]
fn a_group_opens_and_holding_goes_back_level_by_level() {
    let turns = [
        (100, SHORT),
        (200, Quiet),
        (2300, Quiet),
        (4400, Quiet),
        (5000, SHORT),
        (5100, Quiet),
        (5500, LONG),
        (5600, Quiet),
        (6000, LONG),
    ];
    let expected = [
        (100, "apple"),
        (2200, "pear"),
        (4300, "citrus"),
        (5000, "lemon"),
        (5500, "citrus"),
        (6000, "left"),
    ];
    check(&fruit(), &turns, &expected);
}

#[test]
fn whoever_cannot_hold_takes_the_way_back_and_twice_reads_the_one_before() {
    let turns = [
        (100, SHORT),
        (200, Quiet),
        (2300, DOUBLE),
        (2400, Quiet),
        (4500, Quiet),
        (6600, Quiet),
        (8700, Quiet),
        (9000, SHORT),
    ];
    let expected = [
        (100, "apple"),
        (2200, "pear"),
        (2300, "apple"),
        (4400, "pear"),
        (6500, "citrus"),
        (8600, "back"),
        (9000, "left"),
    ];
    check(&fruit(), &turns, &expected);
}

#[test]
fn without_a_press_it_is_read_twice_and_left() {
    let mut turns = vec![(0, SHORT)];
    turns.extend((0..10).map(|item| (item * 2500 + 500, Quiet)));
    let told = told(&fruit(), &turns);
    let items: Vec<&str> = told.iter().map(|(_, what)| what.as_str()).collect();
    let round = ["apple", "pear", "citrus", "back"];
    assert_eq!(items, [&round[..], &round, &["left"]].concat());
    assert!(Scanner::<u8>::new(ms(PACE)).wake_at().is_none());
}

#[test]
fn a_press_is_handed_on_at_once_where_nothing_is_asked() {
    let menu = Choices { asks: false, ..fruit() };
    check(
        &menu,
        &[(100, SHORT), (200, DOUBLE), (300, LONG)],
        &[(100, "> Short"), (200, "> Double"), (300, "> Long")],
    );
    check(&menu, &[(100, Menu(Press::Long))], &[(100, "apple")]);
    check(&Choices::none(), &[(100, Menu(Press::Long))], &[(100, "> Long")]);
    // Nor is anything read by itself.
    let turns = [(100, SHORT), (200, Quiet), (60_000, Look)];
    check(&menu, &turns, &[(100, "> Short")]);
}

#[test]
fn yes_and_no_are_a_press_away_and_the_rest_is_read_when_it_waits() {
    let asked = Choices { short: Some(1), long: Some(2), again: Some(9), ..fruit() };
    check(&asked, &[(100, SHORT)], &[(100, "= [1]")]);
    check(&asked, &[(100, LONG)], &[(100, "= [2]")]);
    check(&asked, &[(100, DOUBLE)], &[(100, "= [9]")]);
    // After the pressed answer the question is the same: later than where a press does nothing yet.
    let turns = [(100, DOUBLE), (1000, Quiet), (6999, Look), (7100, Look)];
    check(&asked, &turns, &[(100, "= [9]"), (7000, "apple")]);
    let turns = [(100, SHORT), (1000, SHORT), (1500, Quiet), (3600, Look)];
    check(&fruit(), &turns, &[(100, "apple"), (1000, "= [1]"), (3500, "apple")]);
}

#[test]
fn what_was_said_meanwhile_ends_it() {
    let mut scanner = Scanner::new(ms(PACE));
    let pressed = Pressed { press: Press::Short, at: ms(100) };
    let press = ScanInput::Pressed { pressed, menu: false, choices: fruit() };
    assert_eq!(scanner.handle(ms(100), press).len(), 1);
    let other = Choices::one_of(vec![offer("plum", 7)]);
    scanner.said();
    assert!(scanner.handle(ms(200), ScanInput::Now(other)).is_empty());
    assert!(scanner.scan.is_none() && !scanner.by_switch());
    assert_eq!(scanner.wake_at(), None);
}

#[test]
fn the_pace_is_set_while_it_reads() {
    let pace = |line, longer| Offer { label: Label::of(line), leads: Leads::Pace { longer } };
    let choices = Choices::one_of(vec![pace("more", true), pace("less", false)]);
    let mut scanner = Scanner::new(ms(PACE));
    let press = |scanner: &mut Scanner<u8>, at| {
        let pressed = Pressed { press: Press::Short, at: ms(at) };
        scanner
            .handle(ms(at), ScanInput::Pressed { pressed, menu: false, choices: choices.clone() })
    };
    let _opened = press(&mut scanner, 100);
    let _more = press(&mut scanner, 600);
    assert_eq!(scanner.pace(), ms(2500));
    for at in 1..60 {
        let _more = press(&mut scanner, 600 + at * 100);
    }
    assert_eq!(scanner.pace(), LONGEST);
}
