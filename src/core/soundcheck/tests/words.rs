//! Words that were not heard surely, and what is advised.

use super::*;

#[test]
fn a_word_taken_for_another_is_asked_for_twice_and_a_better_one_proposed() {
    let mut room = Room::with(Setup { ears: Vec::new(), ..setup() });
    room.heard_well();
    for _ in 0..2 {
        room.now += Duration::from_secs(1);
        room.send(SoundcheckInput::Quiet);
        let words = "tired".to_owned();
        room.send(SoundcheckInput::Answer(Answer::Said { said: Said::Cue, words, keyed: false }));
    }
    let rest: Vec<Prompt> = room.check.setup.words[1..].to_vec();
    for prompt in rest {
        room.hears(prompt.said);
    }
    let report = room.check.report();
    assert_eq!(report.heard(), (3, 4));
    let phrase = room.check.setup.words[0].phrase.clone();
    let missed = Missed { phrase, taken_for: Some("tired".into()) };
    let instead = vec!["meadow".into(), "willow".into()];
    let words = vec![NotSure { missed, instead }];
    assert_eq!(report.advice, [Advice::OtherWords { words }]);
}

#[test]
fn every_word_that_was_not_heard_surely_is_named_with_others_of_its_own() {
    let mut room = Room::with(Setup { ears: Vec::new(), ..setup() });
    room.heard_well();
    let miss = |room: &mut Room| {
        room.send(SoundcheckInput::Quiet);
        room.send(SoundcheckInput::Answer(Answer::Unsure { words: "mumble".into() }));
    };
    let words = room.check.setup.words.clone();
    // The first is missed, the second heard when it is said again, the third missed, the fourth heard at once.
    for (prompt, misses) in words.iter().zip([2, 1, 2, 0]) {
        (0..misses).for_each(|_| miss(&mut room));
        if misses < 2 {
            room.hears(prompt.said.clone());
        }
    }
    let report = room.check.report();
    let Some(Advice::OtherWords { words: named }) = report.advice.last() else {
        panic!("{:?}", report.advice)
    };
    let phrases: Vec<&str> = named.iter().map(|word| word.missed.phrase.as_str()).collect();
    let expected: Vec<&str> = words[..3].iter().map(|prompt| prompt.phrase.as_str()).collect();
    assert_eq!(phrases, expected);
    let mut offered: Vec<&String> = named.iter().flat_map(|word| &word.instead).collect();
    assert_eq!(offered.len(), 3, "one for each");
    offered.sort();
    offered.dedup();
    assert_eq!(offered.len(), 3, "none twice: {named:?}");
}

#[test]
fn many_missed_words_at_a_right_level_speak_against_the_microphone() {
    let mut room = Room::with(Setup { ears: Vec::new(), ..setup() });
    room.heard_well();
    for _ in 0..4 {
        room.send(SoundcheckInput::Quiet);
        room.send(SoundcheckInput::Answer(Answer::Unsure { words: "mumble".into() }));
    }
    let rest: Vec<Prompt> = room.check.setup.words[2..].to_vec();
    for prompt in rest {
        room.hears(prompt.said);
    }
    let advice = &room.check.report().advice;
    assert!(
        matches!(&advice[..], [Advice::OtherMicrophone, Advice::OtherWords { words }] if words.len() == 2)
    );
}
