//! Sentences, and what they ask for.

use super::*;

fn split(step: u8) -> Option<PlanChange> {
    Some(PlanChange::Split { step, into: Vec::new() })
}

#[test]
fn sentences_that_name_one_step_and_one_change() {
    for sentence in [
        "step four is too big, split it",
        "Split step 4.",
        "please break step four up",
        "the fourth step should be smaller",
    ] {
        assert_eq!(asked(sentence, 2), split(4), "{sentence}");
    }
    assert_eq!(asked("this step is too big", 2), split(2));
    assert_eq!(asked("split step twenty one", 2), split(21));
    for sentence in ["merge steps three and four", "join step 4 with step 3", "merge step three"] {
        assert_eq!(asked(sentence, 2), Some(PlanChange::Merge { step: 3 }), "{sentence}");
    }
    let into = vec!["looks".to_owned(), "leans over".to_owned(), "touches".to_owned()];
    let said = asked("split step two into looks, leans over and touches.", 1);
    assert_eq!(said, Some(PlanChange::Split { step: 2, into }));
}

#[test]
fn anything_else_changes_nothing() {
    for sentence in [
        "",
        "split it",
        "step four went well",
        "do not split step four",
        "don't split step four",
        "split step two and merge step three",
        "merge steps one and five",
        "split steps one and two",
        "that was a big day, four treats left",
        "split step zero",
    ] {
        assert_eq!(asked(sentence, 2), None, "{sentence}");
    }
}

#[test]
fn steps_are_added_called_otherwise_moved_and_taken_out() {
    let add = |after, name: &str| Some(PlanChange::Add { after, name: name.into() });
    for (sentence, expected) in [
        ("add a step after two touches the target", add(2, "touches the target")),
        ("Please add a step after step 2, touches the target.", add(2, "touches the target")),
        ("insert a new step before step two called leans", add(1, "leans")),
        ("add a step at the end, stays for two seconds", add(u8::MAX, "stays for two seconds")),
        ("add a step at the front named looks", add(0, "looks")),
        ("add another step rests a foot", add(u8::MAX, "rests a foot")),
    ] {
        assert_eq!(asked(sentence, 1), expected, "{sentence}");
    }
    let renamed = Some(PlanChange::Rename { step: 2, name: "does not flinch".into() });
    for sentence in [
        "rename step two to does not flinch",
        "call step two does not flinch",
        "step two is called does not flinch",
        "call the second step does not flinch",
    ] {
        assert_eq!(asked(sentence, 1), renamed, "{sentence}");
    }
    for (sentence, step, to) in [
        ("move step three before step two", 3, 2),
        ("move step two after step four", 2, 4),
        ("put step one before step three", 1, 2),
        ("move step four behind step one", 4, 2),
        ("move step two to the end", 2, u8::MAX),
        ("move step four to the front", 4, 1),
        ("swap steps two and three", 2, 3),
    ] {
        assert_eq!(asked(sentence, 1), Some(PlanChange::Move { step, to }), "{sentence}");
    }
    for sentence in ["remove step two", "delete the second step", "drop this step"] {
        assert_eq!(asked(sentence, 2), Some(PlanChange::Remove { step: 2 }), "{sentence}");
    }
}

#[test]
fn criteria_lengths_tries_and_treats_are_set() {
    let criterion = |step, dimension, goal| Some(PlanChange::Criterion { step, dimension, goal });
    for (sentence, expected) in [
        ("step three is a hold of two seconds", criterion(3, Dimension::Duration, 2.0)),
        ("step three lasts two and a half seconds", criterion(3, Dimension::Duration, 2.5)),
        ("step three is held for half a minute", criterion(3, Dimension::Duration, 30.0)),
        ("step two is within one point five seconds", criterion(2, Dimension::Latency, 1.5)),
        ("step four is from three meters away", criterion(4, Dimension::Distance, 3.0)),
        ("step four is at 2.5 metres", criterion(4, Dimension::Distance, 2.5)),
    ] {
        assert_eq!(asked(sentence, 1), expected, "{sentence}");
    }
    for (sentence, minutes) in [
        ("sessions last two minutes", 2.0),
        ("make the session two and a half minutes long", 2.5),
        ("the session is ninety seconds", 1.5),
        ("a session is 90 seconds long", 1.5),
    ] {
        let expected = Some(PlanChange::Length { minutes });
        assert_eq!(asked(sentence, 1), expected, "{sentence}");
    }
    assert_eq!(asked("plan twenty tries", 1), Some(PlanChange::Tries { tries: 20 }));
    let treat =
        |value, what: &str, pieces| Some(PlanChange::Treat { value, what: what.into(), pieces });
    for (sentence, expected) in [
        ("the everyday treat is a millet grain", treat(RewardValue::Low, "a millet grain", 1)),
        ("the better treat is now half a nut", treat(RewardValue::High, "half a nut", 1)),
        (
            "the jackpot is three sunflower hearts",
            treat(RewardValue::Jackpot, "sunflower hearts", 3),
        ),
        ("change the better treat to cheese", treat(RewardValue::High, "cheese", 1)),
    ] {
        assert_eq!(asked(sentence, 1), expected, "{sentence}");
    }
    for sentence in [
        "do not remove step two",
        "remove steps two and three",
        "step two is not a hold of two seconds",
        "two minutes",
        "step two and three are held for two seconds",
        "swap steps one and three",
        "the treat is cheese",
        "the better jackpot treat is cheese",
        "add a step",
        "rename step two",
        "move step two",
        "step three is zero seconds",
        "sessions last two minutes or three minutes",
    ] {
        assert_eq!(asked(sentence, 1), None, "{sentence}");
    }
}
