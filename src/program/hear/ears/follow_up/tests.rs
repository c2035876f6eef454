use super::*;
use crate::hear::fixture::{readings, segment};
use crate::interpret::Grammar;
use crate::plan::{MarkerSound, Words};

/// What happens to a follow-up.
enum Event {
    /// Words of these steps that the plan reads as tags or a command.
    Said(usize, usize, &'static str),
    /// The same, told before its segment has ended.
    Early(usize, usize, &'static str),
    /// The same, this loud.
    Loud(usize, usize, &'static str, f32),
    /// An uncertain tag, and whether it is talk.
    Uncertain(usize, usize, &'static str, bool),
    /// Talk between these steps.
    Talk(usize, usize),
    /// The same, this loud.
    Around(usize, usize, f32),
    /// A click between these steps.
    Click(usize, usize),
    /// Time passes up to this step; the segment that has gone on for this many steps, this loud.
    Until(usize, Option<(usize, f32)>),
}
use Event::{Around, Click, Early, Loud, Said as Says, Talk, Uncertain, Until};

fn judged(segment: &Segment, words: &str) -> Judged {
    let grammar = Grammar::new(&Words::english());
    let words = readings(&[(9.0, words)]).remove(0).words;
    let texts: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
    let readings = grammar.parse(&texts).expect("the plan knows these words");
    let Said::Command { command } = readings[0].said else {
        return Judged::Tags(Candidate { words, readings });
    };
    Judged::Command(HeardTag {
        at: segment.onset,
        end: At::of_sample(segment.to, RATE),
        said: Said::Command { command },
        words: texts.join(" "),
        decided: segment.decided(),
    })
}

/// What is heard, in short: after which event, and what.
fn heard(others_near: bool, events: &[Event]) -> Vec<(usize, String)> {
    let mut follow_up = FollowUp::new(others_near);
    let mut all = Vec::new();
    for (number, event) in events.iter().enumerate() {
        let mut take = |segment: Segment, judged: Judged| {
            follow_up.is_echo(&segment);
            follow_up.take(&segment, judged).heard
        };
        let heard = match *event {
            Says(from, to, words) => {
                let segment = segment(from, to);
                let judged = judged(&segment, words);
                take(segment, judged)
            }
            Early(from, to, words) => {
                let segment = segment(from, to);
                let judged = judged(&segment, words);
                follow_up.take_early(&segment, judged)
            }
            Loud(from, to, words, loudest_db) => {
                let segment = Segment { loudest_db, ..segment(from, to) };
                let judged = judged(&segment, words);
                take(segment, judged)
            }
            Uncertain(from, to, words, is_talk) => {
                let words = readings(&[(9.0, words)]).remove(0).words;
                let talk = is_talk.then(|| "i think".to_owned());
                take(segment(from, to), Judged::Uncertain { words, other: "yet".to_owned(), talk })
            }
            Talk(from, to) => {
                take(segment(from, to), Judged::Nothing { talk: Some("i think".to_owned()) })
            }
            Around(from, to, loudest_db) => take(
                Segment { loudest_db, ..segment(from, to) },
                Judged::Nothing { talk: Some("i think".to_owned()) },
            ),
            Click(from, to) => {
                let sample = |step: usize| step as u64 * 160;
                let (onset, end) = (sample(from), sample(to));
                let click = crate::hear::clicks::Click { sound: MarkerSound::Clicker, onset, end };
                vec![follow_up.clicked(click, At::of_sample(end, RATE))]
            }
            Until(step, ongoing) => {
                let ongoing = ongoing.map(|(steps, loudest_db)| Ongoing { steps, loudest_db });
                follow_up.pass(step, ongoing)
            }
        };
        all.extend(heard.iter().map(|heard| (number, shown(heard))));
    }
    all
}

fn shown(heard: &Heard) -> String {
    match heard {
        Heard::Tags(tags) => {
            let said = |tag: &HeardTag| match &tag.said {
                Said::Change(_) => format!("change {}", tag.words),
                _ => tag.words.clone(),
            };
            tags.iter().map(said).collect::<Vec<_>>().join(", ")
        }
        Heard::Doubt(doubt) => format!("uncertain {} or {}", doubt.words, doubt.other),
        Heard::Withdrawn(doubt) => format!("withdrawn {} for {}", doubt.words, doubt.other),
        Heard::Other { .. } => "other".to_owned(),
        other => format!("{other:?}"),
    }
}

/// A case: what it shows, what happens, and what is heard after which of it.
type Case<'a> = (&'a str, &'a [Event], &'a [(usize, &'a str)]);

fn check(others_near: bool, table: &[Case]) {
    for (what, events, expected) in table {
        let expected: Vec<_> =
            expected.iter().map(|(number, text)| (*number, (*text).to_owned())).collect();
        assert_eq!(heard(others_near, events), expected, "{what}");
    }
}

#[test]
fn tags_come_at_once_and_talk_close_behind_withdraws_them() {
    check(
        false,
        &[
            ("a tag", &[Says(0, 40, "yes two"), Until(400, None)], &[(0, "yes two")]),
            (
                "talk goes on",
                &[Says(0, 40, "yes"), Talk(70, 170)],
                &[(0, "yes"), (1, "other"), (1, "withdrawn yes for i think")],
            ),
            ("later talk", &[Says(0, 40, "yes"), Talk(71, 170)], &[(0, "yes"), (1, "other")]),
            (
                "somebody else far away",
                &[Says(0, 40, "yes"), Around(60, 170, -32.1)],
                &[(0, "yes"), (1, "other")],
            ),
            (
                "an uncertain tag that is talk",
                &[Says(0, 40, "yes"), Uncertain(60, 90, "yes", true)],
                &[(0, "yes"), (1, "withdrawn yes for i think"), (1, "uncertain yes or yet")],
            ),
            (
                "an uncertain tag alone",
                &[Says(0, 40, "yes"), Uncertain(60, 90, "yes", false)],
                &[(0, "yes"), (1, "uncertain yes or yet")],
            ),
        ],
    );
}

#[test]
fn a_command_waits_until_no_talk_can_follow() {
    let finish = || Says(0, 40, "juniper finish");
    check(
        false,
        &[
            ("not yet", &[finish(), Until(69, None)], &[]),
            ("now", &[finish(), Until(70, None)], &[(1, "juniper finish")]),
            (
                "something has begun, which may be talk",
                &[finish(), Until(70, Some((9, -20.0))), Until(80, Some((19, -20.0)))],
                &[],
            ),
            (
                "it is only the sound around",
                &[finish(), Until(70, Some((9, -40.0))), Until(71, Some((10, -40.0)))],
                &[(2, "juniper finish")],
            ),
            (
                "talk goes on",
                &[finish(), Talk(60, 160), Until(200, None)],
                &[(1, "other"), (1, "uncertain juniper finish or i think")],
            ),
            (
                "a tag follows",
                &[finish(), Says(60, 90, "yes")],
                &[(1, "juniper finish"), (1, "yes")],
            ),
            (
                "a tag before it stands",
                &[
                    Says(0, 40, "yes"),
                    Says(60, 90, "juniper finish"),
                    Until(120, None),
                    Talk(119, 200),
                ],
                &[(0, "yes"), (2, "juniper finish"), (3, "other")],
            ),
        ],
    );
}

#[test]
fn a_note_begins_at_once() {
    let mut follow_up = FollowUp::new(false);
    let segment = segment(100, 140);
    let judged = judged(&segment, "juniper note");
    let outcome = follow_up.take(&segment, judged);
    assert_eq!(outcome.note, Some(segment.onset));
    assert!(matches!(&outcome.heard[..], [Heard::Tags(_)]));
    assert_eq!(follow_up.waits_since(), None);
}

#[test]
fn a_change_said_alone_waits_for_its_details() {
    check(
        false,
        &[
            (
                "in time",
                &[Says(0, 40, "correction"), Says(340, 370, "two")],
                &[(0, "change correction"), (1, "change two")],
            ),
            (
                "too late",
                &[Says(0, 40, "correction"), Says(341, 370, "two")],
                &[(0, "change correction"), (1, "two")],
            ),
            (
                "another tag",
                &[Says(0, 40, "correction"), Says(100, 140, "yes"), Says(200, 240, "two")],
                &[(0, "change correction"), (1, "yes"), (2, "two")],
            ),
        ],
    );
}

#[test]
fn clicks_and_words_in_one_moment() {
    check(
        false,
        &[
            (
                "the click first",
                &[Click(10, 12), Says(0, 40, "yes")],
                &[(0, "click"), (1, "uncertain yes or click")],
            ),
            (
                "the word first",
                &[Says(0, 40, "yes"), Click(10, 12)],
                &[(0, "yes"), (1, "uncertain click or yes")],
            ),
            (
                "apart; and talk takes no click along",
                &[Says(0, 40, "yes"), Click(60, 62), Talk(65, 165)],
                &[(0, "yes"), (1, "click"), (2, "other")],
            ),
        ],
    );
}

#[test]
fn where_others_are_near_the_softer_is_uncertain_also_as_a_command() {
    let loud = |n: usize| Loud(n * 100, n * 100 + 40, "yes", -20.0);
    let soft = |words| [loud(0), loud(1), loud(2), Loud(300, 340, words, -31.0), Until(500, None)];
    let yes = [(0, "yes"), (1, "yes"), (2, "yes")];
    let told = format!("uncertain yes or {}", NotCounted::SaidByAnother.name());
    let command = format!("uncertain juniper finish or {}", NotCounted::SaidByAnother.name());
    check(
        true,
        &[
            ("a tag", &soft("yes"), &[&yes[..], &[(3, told.as_str())]].concat()),
            ("a command", &soft("juniper finish"), &[&yes[..], &[(3, command.as_str())]].concat()),
        ],
    );
    check(false, &[("nobody is near", &soft("yes"), &[&yes[..], &[(3, "yes")]].concat())]);
}

#[test]
fn only_what_is_close_behind_a_tag_and_much_softer_is_its_echo() {
    let echo = |quiet_before, loudest_db, row: bool| {
        let mut follow_up = FollowUp::new(false);
        let said = segment(0, 40);
        let Judged::Tags(tags) = judged(&said, "yes") else { unreachable!() };
        if row {
            follow_up.take_row(&said, &tags);
        } else {
            follow_up.take(&said, Judged::Tags(tags));
        }
        let after = Segment { quiet_before, loudest_db, ..segment(60, 80) };
        (follow_up.is_echo(&after), follow_up.is_echo(&after))
    };
    assert_eq!(echo(25, -35.1, false), (true, false), "only the first segment after it");
    assert_eq!(echo(26, -35.1, false), (false, false));
    assert_eq!(echo(25, -34.9, false), (false, false));
    assert_eq!(echo(25, -35.1, true), (false, false), "the breath of the row still goes on");
}

#[test]
fn long_talk_withdraws_too_and_ends_as_talk() {
    let mut follow_up = FollowUp::new(false);
    let said = segment(0, 40);
    follow_up.take(&said, judged(&said, "yes"));
    let talk = segment(60, 311);
    let withdrawn = follow_up.talk_goes_on(&talk, String::new());
    assert!(matches!(&withdrawn[..], [Heard::Withdrawn(_)]), "{withdrawn:?}");
    assert_eq!(follow_up.talk_goes_on(&talk, String::new()), []);
    let at = At::from_secs_f64;
    let ended = follow_up.talk_ended(at(0.6), at(4.0));
    assert_eq!(ended, Heard::Other { from: at(0.6), to: at(4.0) });
}

#[test]
fn what_was_told_early_is_not_told_again() {
    check(
        false,
        &[
            ("the same, read whole", &[Early(0, 40, "yes"), Says(0, 50, "yes")], &[(0, "yes")]),
            (
                "a detail more",
                &[Early(0, 40, "yes"), Says(0, 90, "yes two")],
                &[(0, "yes"), (1, "two")],
            ),
            (
                "details of a change",
                &[Early(0, 40, "correction"), Says(0, 90, "correction two")],
                &[(0, "change correction"), (1, "change two")],
            ),
            (
                "tags more",
                &[Early(0, 40, "yes two"), Says(0, 120, "yes two left miss")],
                &[(0, "yes two"), (1, "left, miss")],
            ),
            (
                "another word",
                &[Early(0, 40, "six"), Says(0, 60, "signal")],
                &[(0, "six"), (1, "withdrawn signal for six")],
            ),
            (
                "an uncertain one",
                &[Early(0, 40, "yes"), Uncertain(0, 60, "yes", false)],
                &[(0, "yes"), (1, "withdrawn yes for yet")],
            ),
            (
                "talk, which takes along what was said just before",
                &[Says(0, 40, "miss"), Early(60, 90, "yes"), Talk(60, 200)],
                &[(0, "miss"), (1, "yes"), (2, "other"), (2, "withdrawn miss yes for i think")],
            ),
            (
                "another segment",
                &[Early(0, 40, "yes"), Says(70, 110, "yes two")],
                &[(0, "yes"), (1, "yes two")],
            ),
        ],
    );
    let mut follow_up = FollowUp::new(false);
    let segment = segment(0, 40);
    follow_up.take_early(&segment, judged(&segment, "yes"));
    let nothing = follow_up.take(&segment, Judged::Nothing { talk: None }).heard;
    assert_eq!(nothing.iter().map(shown).collect::<Vec<_>>(), ["withdrawn yes for "]);
}

/// The words of all tags that stand in the end.
fn standing(events: &[Event]) -> String {
    let told = heard(false, events).into_iter().map(|(_, text)| text);
    told.map(|text| text.replace("change ", "").replace(", ", " ")).collect::<Vec<_>>().join(" ")
}

#[test]
fn wherever_a_breath_is_told_early_no_word_is_told_twice_or_lost() {
    for words in [
        "yes two left bonus",
        "yes yes yes yes",
        "miss two left yes",
        "correction left two",
        "left yes miss anxious",
        "two bonus yes",
    ] {
        let whole = standing(&[Says(0, 200, words)]);
        assert_eq!(whole, words);
        for (place, _) in words.match_indices(' ') {
            let early = standing(&[Early(0, 40, &words[..place]), Says(0, 200, words)]);
            assert_eq!(early, whole, "told after \"{}\"", &words[..place]);
        }
    }
}

#[test]
fn what_is_softer_than_the_trainer_waits_for_its_end_where_others_are_near() {
    let mut follow_up = FollowUp::new(true);
    for n in 0..3 {
        let said = segment(n * 100, n * 100 + 40);
        follow_up.take(&said, judged(&said, "yes"));
    }
    let softer = |loudest_db| Segment { loudest_db, ..segment(400, 440) };
    assert!(follow_up.waits_for_end(&softer(-31.0)));
    assert!(!follow_up.waits_for_end(&softer(-29.0)));
}
