use super::*;
use crate::hear::fixture::{readings, segment};
use crate::hear::model::Scores;
use crate::hear::personal::Learnt;
use crate::hear::verdict::FAR;
use crate::plan::{Role, Words};

type List<'a> = &'a [(f32, &'a str)];

/// What the readers would answer; what is not there is not asked for.
#[derive(Default)]
struct Table<'a> {
    tags: List<'a>,
    open: List<'a>,
    /// With less noise, in place of both; none well over the noise.
    denoised: Option<List<'a>>,
    commands: List<'a>,
    learnt: Option<Match>,
    /// What was asked for besides the first readings.
    asked: Vec<&'static str>,
}

impl Evidence for Table<'_> {
    fn open(&mut self) -> Option<Vec<Alternative>> {
        Some(readings(self.open))
    }

    fn tags(&mut self) -> Option<Vec<Alternative>> {
        (!self.tags.is_empty()).then(|| readings(self.tags))
    }

    fn denoised(&mut self, read: Readings) -> Readings {
        self.asked.push("denoised");
        let other = |list| Readings { tags: readings(list), open: readings(list) };
        self.denoised.map_or(read, other)
    }

    fn commands(&mut self) -> Vec<Alternative> {
        self.asked.push("commands");
        readings(self.commands)
    }

    fn learnt(&mut self, _: &Matcher) -> Option<Match> {
        self.learnt.clone()
    }
}

fn rules() -> Rules {
    let grammar = Grammar::new(&Words::english());
    Rules {
        grammar,
        bounds: TagBounds::of(Scores::Published),
        behind: Scores::Published.behind(),
        learnt: Learnt::default().matcher(|_| true),
    }
}

/// What it is, in short.
fn shown(judged: &Judged) -> String {
    let text = |words: &[Placed]| {
        words.iter().map(|word| word.text.as_str()).collect::<Vec<_>>().join(" ")
    };
    match judged {
        Judged::Tags(tags) => format!("tags: {}", text(&tags.words)),
        Judged::Command(tag) => format!("command: {:?} at {:.2}", tag.said, tag.at.as_secs_f64()),
        Judged::Called => "called".to_owned(),
        Judged::Uncertain { words, other, talk } => {
            format!(
                "uncertain: {} or {other}{}",
                text(words),
                if talk.is_some() { ", talk" } else { "" }
            )
        }
        Judged::Nothing { talk: Some(words) } => format!("talk: {words}"),
        Judged::Nothing { talk: None } => "nothing".to_owned(),
    }
}

/// What a judge says about one segment after the other.
fn judged(segments: &[(&Segment, Table)]) -> Vec<String> {
    let (mut judge, rules) = (Judge::default(), rules());
    let mut tell = |(segment, table): &(&Segment, Table)| {
        let Table { tags, open, denoised, commands, learnt, .. } = table;
        let mut evidence = Table {
            tags,
            open,
            denoised: *denoised,
            commands,
            learnt: learnt.clone(),
            asked: vec![],
        };
        let judgement = judge.judge(segment, false, &rules, &mut evidence);
        judgement.map_or("lost".to_owned(), |judgement| shown(&judgement.judged))
    };
    segments.iter().map(&mut tell).collect()
}

fn read<'a>(tags: List<'a>, open: List<'a>) -> Table<'a> {
    Table { tags, open, ..Table::default() }
}

const YES: List = &[(9.0, "yes")];
const TALK: List = &[(9.0, "i think two"), (2.0, "yes")];

#[test]
fn readings_become_what_a_segment_is() {
    let word = segment(200, 240);
    let table: [(Table, &str); 8] = [
        (read(YES, &[(9.0, "yes"), (5.0, "yet")]), "tags: yes"),
        (read(&[(9.0, "yes two")], &[(9.0, "yes two")]), "tags: yes two"),
        (read(YES, &[(9.0, "yet"), (6.5, "yes")]), "uncertain: yes or yet, talk"),
        (read(YES, &[(9.0, ""), (7.5, "yes")]), "uncertain: yes or "),
        (read(YES, TALK), "talk: i think two"),
        (read(YES, &[(9.0, ""), (2.0, "yes")]), "nothing"),
        (read(YES, &[(9.0, "[unk]"), (8.0, "we")]), "talk: [unk]"),
        (read(&[], YES), "lost"),
    ];
    for (evidence, expected) in table {
        assert_eq!(judged(&[(&word, evidence)]), [expected]);
    }
}

#[test]
fn before_its_end_only_what_is_ahead_of_all_else_is_told() {
    let word = segment(200, 240);
    let surely = |segment: &Segment, tags: List, open: List, judge: &mut Judge| {
        let told = judge.surely(segment, &rules(), &mut read(tags, open));
        told.map(|judgement| shown(&judgement.judged))
    };
    let yes = Some("tags: yes".to_owned());
    type Row<'a> = (&'a str, List<'a>, List<'a>, Option<&'a str>);
    let table: [Row; 6] = [
        ("ahead", YES, &[(9.0, "yes"), (8.9, "yet")], Some("tags: yes")),
        ("behind a word, within bounds", YES, &[(9.0, "yet"), (8.5, "yes")], None),
        ("behind nothing, within bounds", YES, &[(9.0, ""), (8.9, "yes")], None),
        ("talk", YES, TALK, None),
        ("the attention word", &[(9.0, "juniper")], &[(9.0, "juniper")], None),
        ("a command", &[(9.0, "juniper finish")], &[(9.0, "juniper finish")], None),
    ];
    for (what, tags, open, expected) in table {
        let told = surely(&word, tags, open, &mut Judge::default());
        assert_eq!(told.as_deref(), expected, "{what}");
    }
    let mut after_talk = Judge::default();
    after_talk.talk_ended();
    let close = Segment { quiet_before: 10, ..segment(200, 240) };
    assert_eq!(surely(&close, YES, YES, &mut after_talk), None);
    assert_eq!(surely(&word, YES, YES, &mut after_talk), yes);
    let called = Call { until: 300, at: word.onset };
    let mut judge = Judge { called: Some(called), ..Judge::default() };
    assert_eq!(surely(&word, YES, YES, &mut judge), None, "it may be a command");
    let later = segment(301, 340);
    assert_eq!(surely(&later, YES, YES, &mut judge), yes);
}

#[test]
fn the_beginning_of_a_longer_phrase_waits_for_its_end() {
    let mut words = Words::english();
    words.set(Role::Own("go on".to_owned()), vec!["go on".to_owned()]);
    words.set(Role::Own("go".to_owned()), vec!["go".to_owned()]);
    let grammar = Grammar::new(&words);
    assert!(may_go_on(&["go"], &grammar) && may_go_on(&["yes", "go"], &grammar));
    assert!(!may_go_on(&["go", "on"], &grammar) && !may_go_on(&["yes"], &grammar));
}

#[test]
fn what_is_too_short_or_too_long_or_an_echo_is_not_a_tag() {
    let (mut judge, rules) = (Judge::default(), rules());
    for (segment, echo, expected) in [
        (segment(200, 206), false, "tags: yes"),
        (segment(200, 205), false, "nothing"),
        (segment(200, 450), false, "tags: yes"),
        (segment(200, 451), false, "nothing"),
        (segment(200, 240), true, "nothing"),
    ] {
        let judgement = judge.judge(&segment, echo, &rules, &mut read(YES, YES)).unwrap();
        assert_eq!(shown(&judgement.judged), expected, "{} to {}", segment.began, segment.end);
    }
}

#[test]
fn close_behind_talk_is_not_a_tag_unless_it_rises_out_of_it() {
    let talk = segment(100, 180);
    let at = |quiet_before, rose| Segment { quiet_before, rose, ..segment(200, 240) };
    let after_talk =
        |word: &Segment| judged(&[(&talk, read(YES, TALK)), (word, read(YES, YES))]).pop().unwrap();
    assert_eq!(after_talk(&at(19, false)), "nothing");
    assert_eq!(after_talk(&at(20, false)), "tags: yes");
    assert_eq!(after_talk(&at(5, true)), "tags: yes");
    let after_tag = judged(&[(&talk, read(YES, YES)), (&at(5, false), read(YES, YES))]);
    assert_eq!(after_tag, ["tags: yes", "tags: yes"]);
    let mut judge = Judge::default();
    judge.talk_ended();
    let told = judge.judge(&at(5, false), false, &rules(), &mut read(YES, YES)).unwrap();
    assert_eq!(shown(&told.judged), "nothing", "a long breath of talk, or a note");
}

#[test]
fn a_call_and_the_command_after_it_or_in_it() {
    let name: List = &[(9.0, "juniper")];
    let called = || Table { commands: name, ..read(name, name) };
    let command = |commands| Table { commands, ..read(&[(9.0, "")], &[(9.0, "")]) };
    let finish: List = &[(9.0, "finish")];
    let (first, soon, late) = (segment(200, 240), segment(540, 580), segment(541, 581));
    let at_once: List = &[(9.0, "juniper finish")];
    assert_eq!(
        judged(&[(&first, Table { commands: at_once, ..read(name, at_once) })]),
        ["command: Command { command: Finish } at 2.00"]
    );
    let both = judged(&[(&first, called()), (&soon, command(finish))]);
    assert_eq!(both, ["called", "command: Command { command: Finish } at 2.00"]);
    let too_late = judged(&[(&first, called()), (&late, command(finish))]);
    assert_eq!(too_late, ["called", "nothing"]);
    let between = judged(&[(&first, called()), (&first, read(YES, YES)), (&soon, command(finish))]);
    assert_eq!(between, ["called", "tags: yes", "nothing"], "a call is good for one segment");
    let unknown: List = &[(9.0, "juniper broccoli")];
    assert_eq!(
        judged(&[(&first, Table { commands: unknown, ..read(name, unknown) })]),
        ["uncertain: juniper broccoli or no command"]
    );
}

#[test]
fn only_what_is_needed_is_asked_for() {
    let asked = |mut table: Table| {
        Judge::default().judge(&segment(200, 240), false, &rules(), &mut table);
        table.asked
    };
    let none: [&str; 0] = [];
    assert_eq!(asked(read(YES, &[(9.0, "yes"), (5.0, "yet")])), none);
    assert_eq!(asked(read(YES, &[(9.0, "yes"), (7.0, "yet")])), ["denoised"]);
    assert_eq!(asked(read(&[(9.0, "juniper")], &[(9.0, "juniper")])), ["commands"]);
    let denoised =
        Table { denoised: Some(&[(9.0, "miss")]), ..read(YES, &[(9.0, "yes"), (7.0, "yet")]) };
    assert_eq!(judged(&[(&segment(200, 240), denoised)]), ["tags: miss"]);
}

#[test]
fn only_what_is_neither_sure_nor_hopeless_is_looked_at_again() {
    let rules = rules();
    let unclear = |words, nothing| is_unclear(Gaps { words, more: -FAR, nothing }, &rules);
    assert!(unclear(-2.9, -FAR) && unclear(-FAR, 2.0) && unclear(15.0, 0.0));
    assert!(!unclear(-3.0, -FAR), "sure");
    assert!(!unclear(15.1, -FAR) && !unclear(FAR, FAR), "hopeless");
    let by_both = Rules { behind: Scores::Both.behind(), ..self::rules() };
    assert!(
        is_unclear(Gaps::HOPELESS, &by_both),
        "a model that knows noise may read what was not read"
    );
}

#[test]
fn in_noise_other_bounds_hold() {
    let in_noise = Segment { height_db: 20.0, ..segment(200, 240) };
    let near = || read(YES, &[(9.0, ""), (8.0, "yes")]);
    assert_eq!(judged(&[(&segment(200, 240), near())]), ["uncertain: yes or "]);
    assert_eq!(judged(&[(&in_noise, near())]), ["tags: yes"]);
}

#[test]
fn what_was_learnt_counts_beside_what_was_read() {
    let learnt = |match_, tags, open| Table { learnt: Some(match_), ..read(tags, open) };
    let sure = |phrase: &str| Match::Sure(phrase.to_owned());
    let word = segment(200, 240);
    let table: [(Table, &str); 4] = [
        (learnt(sure("yes"), YES, YES), "tags: yes"),
        (learnt(sure("miss"), YES, YES), "uncertain: yes or miss"),
        (learnt(sure("miss"), YES, TALK), "tags: miss"),
        (
            learnt(sure("juniper finish"), YES, &[(9.0, "")]),
            "command: Command { command: Finish } at 2.00",
        ),
    ];
    for (evidence, expected) in table {
        assert_eq!(judged(&[(&word, evidence)]), [expected]);
    }
    // Its words lie over the whole segment.
    let mut evidence = learnt(sure("yes two"), YES, TALK);
    let told = Judge::default().judge(&word, false, &rules(), &mut evidence).unwrap();
    let Judged::Tags(tags) = told.judged else { panic!() };
    let places: Vec<_> =
        tags.words.iter().map(|w| [w.start, w.end].map(|s| (s * 100.0).round())).collect();
    assert_eq!(places, [[20.0, 40.0], [40.0, 60.0]]);
}

#[test]
fn a_long_breath_is_tag_after_tag_or_talk() {
    let breath = segment(200, 451);
    let row = |tags: List, open: List, judge: &mut Judge| {
        let row = judge.row(&breath, &rules(), &mut read(tags, open))?;
        Some((row.tags.readings.len(), row.tags.words.len(), (row.last_s * 10.0).round()))
    };
    let four: List = &[(9.0, "yes yes miss yes")];
    assert_eq!(row(four, four, &mut Judge::default()), Some((3, 3, 5.0)));
    let three: List = &[(9.0, "yes yes yes")];
    assert_eq!(row(three, three, &mut Judge::default()), None, "too few");
    let details: List = &[(9.0, "one two one two one")];
    assert_eq!(row(details, details, &mut Judge::default()), None, "none stands alone");
    assert_eq!(row(four, &[(9.0, "yes yes miss yes i said")], &mut Judge::default()), None);
    assert_eq!(row(&[(9.0, "yes yes yes yes")], four, &mut Judge::default()), None, "they differ");
    let five: List = &[(9.0, "yes yes miss yes yes")];
    for (tags, open) in [(four, five), (five, four)] {
        let three = row(tags, open, &mut Judge::default());
        assert_eq!(three, Some((3, 3, 5.0)), "one reading lacks what is cut in its middle");
    }
    let other_end: List = &[(9.0, "yes yes miss miss")];
    assert_eq!(row(four, other_end, &mut Judge::default()), Some((3, 3, 5.0)), "nor is it told");
    let six: List = &[(9.0, "yes yes miss yes yes yes")];
    assert_eq!(row(four, six, &mut Judge::default()), None, "they differ by too much");
    assert_eq!(row(&[], four, &mut Judge::default()), None, "lost");
    let close = Segment { quiet_before: 10, ..segment(200, 451) };
    let mut judge = Judge::default();
    judge.talk_ended();
    assert_eq!(judge.row(&close, &rules(), &mut read(four, four)), None, "talk goes on");
}

#[test]
fn a_tag_among_other_single_words_is_uncertain_unless_the_attention_word_was_said() {
    let word = |n: usize| segment(100 * n, 100 * n + 40);
    let segments = [word(1), word(2), word(3), word(4)];
    let tree: List = &[(9.0, "tree"), (2.0, "yes")];
    let told = |third: List| {
        let read = [read(YES, tree), read(YES, tree), read(third, third), read(YES, YES)];
        judged(&segments.iter().zip(read).collect::<Vec<_>>()).pop().unwrap()
    };
    assert_eq!(told(&[(9.0, "tree")]), "uncertain: yes or said among other single words");
    assert_eq!(told(&[(9.0, "juniper")]), "tags: yes");
    assert_eq!(told(YES), "tags: yes");
    // Nor is it told before its end.
    let (mut judge, rules) = (Judge::default(), rules());
    for segment in &segments[..3] {
        judge.judge(segment, false, &rules, &mut read(YES, tree)).unwrap();
    }
    assert_eq!(judge.surely(&segments[3], &rules, &mut read(YES, YES)), None);
}
